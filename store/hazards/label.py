"""Label elements by the rules of precedence, each with its reason.

Signal word: CLP Art. 20(3), GHS 1.4.10.5.3.2. Pictograms: CLP Art. 26, GHS 1.4.10.5.3.1. Hazard statements:
CLP Art. 27, GHS 1.4.10.5.3.3, where leaving out is a permission. What is left out of a label is never left
out of the record or of a question. The articles were not read in the original for this module; the rules
are as the reference tables give them, with their numbers.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from store.hazards.classification import Classification
from store.hazards.statements import statements

_SKIN_OR_EYE = frozenset({"H315", "H319"})
_MAY_OMIT = (("H314", "H318"), ("H410", "H400"), ("H411", "H401"), ("H412", "H402"))
_DEGREES = (
    ("H300", "H301", "H302"), ("H310", "H311", "H312"), ("H330", "H331", "H332"),
    ("H350", "H351"), ("H340", "H341"), ("H314", "H315"), ("H318", "H319"), ("H410", "H411", "H412", "H413"),
    ("H224", "H225", "H226"), ("H271", "H272"),
)  # fmt: skip
_ROUTES = (("H300", "H310", "H330"), ("H301", "H311", "H331"), ("H302", "H312", "H332"))
_ORDER = ("GHS01", "GHS02", "GHS03", "GHS06", "GHS05", "GHS08", "GHS07", "GHS04", "GHS09")
"""Most telling first; small labels may show fewer, never the first."""


@dataclass(frozen=True, slots=True)
class Omitted:
    """What a label leaves out, and by which rule."""

    code: str
    why: str


@dataclass(frozen=True, slots=True)
class LabelElements:
    """Signal word, pictograms and statements of a label, with what was left out and why."""

    signal_word: str | None
    pictograms: tuple[str, ...]
    statements: tuple[str, ...]
    omitted: tuple[Omitted, ...] = ()
    optional: tuple[Omitted, ...] = ()
    """Pictograms that stay here but may be left out under CLP."""


def elements(classifications: Sequence[Classification]) -> LabelElements:
    """Give the label elements of a substance or mixture.

    Parameters
    ----------
    classifications
        All that it is classified as.

    Examples
    --------
    >>> from store.hazards.classification import classifications
    >>> shown = elements(classifications(["Acute Tox. 3 H301", "Skin Irrit. 2 H315"]))
    >>> shown.signal_word, shown.pictograms, [o.code for o in shown.omitted]
    ('Danger', ('GHS06',), ['GHS07'])
    """
    signals = {entry.signal_word for one in classifications for entry in one.entries} - {""}
    signal = "Danger" if "Danger" in signals else "Warning" if signals else None
    pictograms, dropped, optional = _pictograms(_reasons(classifications))
    shown, left_out = _statements(classifications)
    return LabelElements(signal, pictograms, shown, (*dropped, *left_out), optional)


def _reasons(classifications: Sequence[Classification]) -> dict[str, set[str]]:
    """The codes that ask for each pictogram; a milder degree of the same hazard asks for nothing."""
    codes = {code for one in classifications for code in one.codes}
    milder = {
        code for degrees in _DEGREES for place, code in enumerate(degrees) if codes & set(degrees[:place])
    }
    reasons: dict[str, set[str]] = {}
    for one in classifications:
        own = [code for code in one.codes if code not in milder] or ([] if one.fits else list(one.codes))
        for entry in one.entries if own else ():
            for pictogram in entry.pictograms:
                reasons.setdefault(pictogram, set()).update(own)
    return reasons


def _pictograms(
    reasons: dict[str, set[str]],
) -> tuple[tuple[str, ...], list[Omitted], tuple[Omitted, ...]]:
    dropped, optional = [], []
    if "GHS07" in reasons and (why := _why_no_exclamation_mark(reasons)):
        dropped.append(Omitted("GHS07", why))
        del reasons["GHS07"]
    if "GHS01" in reasons and not reasons["GHS01"] & {"H241"}:
        optional += [
            Omitted(code, "GHS01 is shown; may be left out (CLP Art. 26(1)(a))")
            for code in ("GHS02", "GHS03")
            if code in reasons
        ]
    if "GHS04" in reasons and reasons.keys() & {"GHS02", "GHS06"}:
        optional.append(Omitted("GHS04", "GHS02 or GHS06 is shown; may be left out (CLP Art. 26(1)(e))"))
    return tuple(code for code in _ORDER if code in reasons), dropped, tuple(optional)


def _why_no_exclamation_mark(reasons: dict[str, set[str]]) -> str:
    """Why GHS07 is not shown; empty where any reason for it stands."""
    if "GHS06" in reasons:
        return "GHS06 is shown (CLP Art. 26(1)(b), GHS 1.4.10.5.3.1(a))"
    left, why = set(reasons["GHS07"]), []
    if "GHS05" in reasons and left & _SKIN_OR_EYE:
        left -= _SKIN_OR_EYE
        why.append("GHS05 is shown and stands for skin and eyes (CLP Art. 26(1)(c), GHS 1.4.10.5.3.1(b))")
    if "H334" in reasons.get("GHS08", ()) and left & (_SKIN_OR_EYE | {"H317"}):
        left -= _SKIN_OR_EYE | {"H317"}
        why.append(
            "GHS08 is shown for breathing allergy and stands for skin allergy and irritation "
            "(CLP Art. 26(1)(d), GHS 1.4.10.5.3.1(c))"
        )
    return "; ".join(why) if not left else ""


def _statements(classifications: Sequence[Classification]) -> tuple[tuple[str, ...], list[Omitted]]:
    shown = tuple(dict.fromkeys(one.code for one in classifications))
    codes = {code for one in classifications for code in one.codes}
    omitted = [
        Omitted(code, f"{kept} says more; may be left out (CLP Art. 27, GHS 1.4.10.5.3.3)")
        for kept, code in _MAY_OMIT
        if kept in codes and code in shown
    ]
    gone = {one.code for one in omitted}
    return tuple(code for code in shown if code not in gone), omitted


def combined(classifications: Sequence[Classification]) -> tuple[str, ...]:
    """Give the statements of a label, acute toxicity of one category joined over its routes to save space.

    GHS Annex 3, A3.1.2.5; CLP Annex III. All information stays.

    Examples
    --------
    >>> from store.hazards.classification import classifications
    >>> combined(classifications(["Acute Tox. 3 H301", "Carc. 2 H351", "Acute Tox. 3 H331"]))
    ('H301+H331', 'H351')
    """
    shown = list(elements(classifications).statements)
    for routes in _ROUTES:
        held = [code for code in routes if code in shown]
        categories = {one.category for one in classifications for code in one.codes if code in held}
        edition = classifications[0].edition if classifications else ""
        joined = "+".join(held)
        if len(held) > 1 and len(categories) == 1 and joined in statements(edition):
            shown[shown.index(min(held, key=shown.index))] = joined
            shown = [code for code in shown if code not in held]
    return tuple(shown)
