"""The nine hazard pictograms as SVG, drawn for this project after the symbols of the standard.

A square set on its point, red border, black symbol on white: UN GHS 1.4.10.4.1; CLP Annex V and Art. 31(2),
from memory. The drawings are our own and show the symbol that each code names.
"""

from store.errors import UnknownCode

NAMES = {
    "GHS01": "exploding bomb",
    "GHS02": "flame",
    "GHS03": "flame over circle",
    "GHS04": "gas cylinder",
    "GHS05": "corrosion",
    "GHS06": "skull and crossbones",
    "GHS07": "exclamation mark",
    "GHS08": "health hazard",
    "GHS09": "environment",
}
"""Code and symbol, as GHS names them."""

_FLAME = (
    "M50 {top} c3 9 13 13 12 25 c-.4 6 -5 10 -5 10 c2 -7 -1 -11 -4 -13 c1 6 -5 8 -4 14 "
    "c-7 -2 -12 -7 -12 -14 c0 -5 3 -8 4 -12 c2 2 3 4 3 6 c5 -4 7 -9 6 -16 z"
)

_SYMBOLS = {
    "GHS01": (
        '<circle cx="46" cy="58" r="12"/>'
        '<path d="M50 44 l2 -7 M54 46 l6 -9 M58 51 l10 -6 M60 57 l12 0 M36 48 l-8 -7 M34 55 l-10 -1 '
        'M35 64 l-8 5 M58 66 l9 6" stroke="#000" stroke-width="2.6" stroke-linecap="round"/>'
        '<path d="M45 33 l3 -8 l3 8 z M66 30 l6 -2 l-3 6 z M73 51 l7 1 l-6 4 z M30 33 l-5 -4 l6 0 z '
        'M70 72 l4 4 l-6 0 z M22 60 l-3 3 l5 1 z"/>'
    ),
    "GHS02": f'<path d="{_FLAME.format(top=22)}"/><rect x="34" y="68" width="32" height="4.5"/>',
    "GHS03": (
        f'<path transform="translate(14.5 8) scale(.71)" d="{_FLAME.format(top=20)}"/>'
        '<circle cx="50" cy="60" r="9.5" fill="none" stroke="#000" stroke-width="5"/>'
        '<rect x="36" y="75" width="28" height="4"/>'
    ),
    "GHS04": (
        '<g transform="rotate(-35 50 50) translate(-3 1)">'
        '<path d="M28 43 h36 q7 0 8 5 h6 v-3 h4 v10 h-4 v-3 h-6 q-1 5 -8 5 '
        'h-36 q-3 0 -3 -3 v-8 q0 -3 3 -3 z"/></g>'
    ),
    "GHS05": (
        '<g transform="rotate(20 38 32)"><rect x="30" y="26" width="20" height="5.5" rx="2.7"/></g>'
        '<g transform="rotate(-20 62 32)"><rect x="50" y="26" width="20" height="5.5" rx="2.7"/></g>'
        '<path d="M34 40 l2 4 a2 2 0 1 1 -4 0 z M34 48 l2 4 a2 2 0 1 1 -4 0 z '
        'M66 40 l2 4 a2 2 0 1 1 -4 0 z M66 48 l2 4 a2 2 0 1 1 -4 0 z"/>'
        '<path d="M16 66 q6 -6 12 -5 l4 1 q2 5 5 0 l9 2 q3 1 2 4 l-1 1 h-14 q-6 0 -9 3 h-8 z"/>'
        '<path d="M54 60 h7 q1 5 5 5 q4 0 5 -5 h11 v8 h-28 z"/>'
    ),
    "GHS06": (
        '<path fill-rule="evenodd" d="M50 22 c-11 0 -17 7 -17 15 c0 6 3 9 6 11 v5 q0 3 3 3 h16 q3 0 3 -3 v-5 '
        "c3 -2 6 -5 6 -11 c0 -8 -6 -15 -17 -15 z M42.5 35 a4.5 4.5 0 1 1 0 9 a4.5 4.5 0 1 1 0 -9 z "
        "M57.5 35 a4.5 4.5 0 1 1 0 9 a4.5 4.5 0 1 1 0 -9 z M50 44 l2.5 5 h-5 z "
        'M45 52 h1.6 v4 h-1.6 z M49.2 52 h1.6 v4 h-1.6 z M53.4 52 h1.6 v4 h-1.6 z"/>'
        '<path d="M29 60 L71 74 M71 60 L29 74" stroke="#000" stroke-width="4.5" stroke-linecap="round"/>'
        '<circle cx="27" cy="59" r="3.2"/><circle cx="29.5" cy="55.5" r="3.2"/>'
        '<circle cx="73" cy="59" r="3.2"/><circle cx="70.5" cy="55.5" r="3.2"/>'
        '<circle cx="27" cy="75" r="3.2"/><circle cx="29.5" cy="78.5" r="3.2"/>'
        '<circle cx="73" cy="75" r="3.2"/><circle cx="70.5" cy="78.5" r="3.2"/>'
    ),
    "GHS07": (
        '<path d="M50 20 q7 0 6.3 7 l-3.3 32 h-6 l-3.3 -32 q-.7 -7 6.3 -7 z"/>'
        '<circle cx="50" cy="70" r="5.5"/>'
    ),
    "GHS08": (
        '<circle cx="50" cy="29" r="8"/>'
        '<path fill-rule="evenodd" d="M33 76 v-17 q0 -18 17 -18 q17 0 17 18 v17 z '
        "M50 46 l2.6 8.2 l8 -4.4 l-4.6 8 l8 2.6 l-8 2.6 l4.6 8 l-8 -4.4 l-2.6 8.2 l-2.6 -8.2 l-8 4.4 l4.6 -8 "
        'l-8 -2.6 l8 -2.6 l-4.6 -8 l8 4.4 z"/>'
    ),
    "GHS09": (
        '<path d="M41 70 l2 -22 l-9 -8 l1.5 -1.5 l7.5 5 v-16 h3 v10 l6 -6 l2 2 l-7.6 9 l-.4 8 l6 -6 l2 2 '
        'l-6.6 8 l2.6 15.5 z"/><rect x="18" y="70" width="42" height="3"/>'
        '<path fill-rule="evenodd" d="M52 64 q9 -12 22 -6 l8 -5 l-2 9 l5 6 l-10 -2 q-13 6 -23 -2 z '
        'M58 60 a1.7 1.7 0 1 1 0 3.4 a1.7 1.7 0 1 1 0 -3.4 z"/>'
        '<path d="M26 76 q12 5 24 0 q8 -3 14 1 q-6 8 -14 9 q-14 -2 -24 -10 z"/>'
    ),
}


_SCALE = {"GHS01": 0.85, "GHS05": 0.86, "GHS06": 0.8, "GHS09": 0.8}
"""Symbols drawn wide are made smaller about the middle, so that they stay clear of the border."""


def svg(code: str, *, size_mm: float = 10.0) -> str:
    """Give one pictogram as an SVG element.

    Parameters
    ----------
    code
        `GHS01` to `GHS09`.
    size_mm
        Width and height from point to point [mm].

    Raises
    ------
    UnknownCode
        There is no such pictogram.

    Examples
    --------
    >>> svg("GHS07", size_mm=8).startswith('<svg xmlns="http://www.w3.org/2000/svg" width="8mm"')
    True
    """
    if code not in _SYMBOLS:
        raise UnknownCode(f"{code!r} is no pictogram: write one of {', '.join(NAMES)}.")
    scale = _SCALE.get(code, 1.0)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size_mm:g}mm" height="{size_mm:g}mm" '
        f'viewBox="0 0 100 100" role="img" aria-label="{code} {NAMES[code]}">'
        f"<title>{code} {NAMES[code]}</title>"
        '<polygon points="50,3 97,50 50,97 3,50" fill="#fff" stroke="#d00" stroke-width="4" '
        f'stroke-linejoin="miter"/><g transform="translate({50 * (1 - scale):g} {50 * (1 - scale):g}) '
        f'scale({scale:g})">{_SYMBOLS[code]}</g></svg>'
    )


def name(code: str) -> str:
    """Give the symbol's name.

    Raises
    ------
    UnknownCode
        There is no such pictogram.
    """
    if code not in NAMES:
        raise UnknownCode(f"{code!r} is no pictogram: write one of {', '.join(NAMES)}.")
    return NAMES[code]
