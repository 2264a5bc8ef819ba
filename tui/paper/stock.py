"""Label stock: what fits a size, and the page that prints it.

The size of letters is found by an estimate of the lines that the text takes. Should a font run wider, the
rest goes to a second page and is not cut off. Labels for supply have rules of their own on size (CLP Annex I,
1.2 and 1.5); these are for use inside the site.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from math import ceil

from store.errors import BadInput, OutOfRange
from store.queries import decimals
from tui.paper import inner
from tui.paper.label import NOT_STATED, LabelData
from tui.paper.pictograms import svg

MARGIN_MM = 0.8
GAP_MM = 0.8
SLACK_MM = 0.3
"""Left free below: what a printer rounds up must not push the label on to a second one."""
PT_MM = 25.4 / 72
LINE = 1.16
"""Height of a line, in heights of the type."""
LEVELS = ((9.0, 5.5, 8.0, 0.58), (8.0, 4.5, 5.5, 0.58), (7.0, 4.0, 3.2, 0.53))
"""With all wording, with codes alone, with the least: largest and smallest letters [pt], smallest pictogram
[mm], and the width of a letter in heights of the type: of a wide sans serif, on the smallest a narrow one."""
LEAST_CODE_MM = 8.0
NARROW = LEVELS[-1][-1]
INNER_PT = (7.0, 5.5, 4.5)
"""Letters of a reduced label [pt]: the largest, those that the square code gives way to, the smallest."""
SMALL_PT = 5.0
INNER_SYMBOLS_MM = (7.0, 6.0, 5.0)


def size_of(text: str) -> tuple[float, float]:
    """Read a size of label stock.

    Raises
    ------
    BadInput
        It is not two numbers of millimetres.

    Examples
    --------
    >>> size_of("70x37mm")
    (70.0, 37.0)
    """
    found = re.fullmatch(
        r"\s*(\d{1,3}(?:[.,]\d+)?)\s*[x×]\s*(\d{1,3}(?:[.,]\d+)?)\s*mm\s*", text, re.IGNORECASE
    )
    if found is None:
        raise BadInput(f"{text!r} is no size of label stock: write width, x, height, mm, such as 70x37mm.")
    wide, high = (float(part.replace(",", ".")) for part in found.groups())
    return wide, high


@dataclass(frozen=True, slots=True)
class _Side:
    """The column of pictograms above the square code."""

    symbol_mm: float
    columns: int
    code_mm: float

    beside: bool = False
    """The code stands beside the pictograms, on stock that is too low for one above the other."""

    @property
    def wide_mm(self) -> float:
        symbols_mm = self.symbol_mm * self.columns
        if self.beside:
            return symbols_mm + self.code_mm + (GAP_MM if symbols_mm and self.code_mm else 0.0)
        return max(self.code_mm, symbols_mm)


@dataclass(frozen=True, slots=True)
class Page:
    """A label as a page, and what it leaves for an outer label; empty where everything is on it."""

    html: str
    points: float
    """Letters of the plain text [pt]."""
    left: tuple[str, ...] = ()

    @property
    def small(self) -> bool:
        """Whether its letters are so small that somebody should try to read it before it is used."""
        return self.points < SMALL_PT


def page(data: LabelData, size_mm: tuple[float, float]) -> Page:
    """Give the label as one HTML page with print rules of its own size.

    Where the stock is too small for the whole label and the vessel takes no more than 10 mL, it is a reduced
    one, which says that the whole label is on the outer package.

    Raises
    ------
    OutOfRange
        The stock is too small for what a label must say.
    """
    wide, high = size_mm
    for level, (largest, smallest, least_symbol, letter) in enumerate(LEVELS):
        parts = list(_parts(data, level))
        for side in _sides(len(data.pictograms), wide, high, least_symbol):
            room_mm = wide - 2 * MARGIN_MM - GAP_MM - side.wide_mm
            for step in range(int(largest * 4), int(smallest * 4) - 1, -1):
                height_mm = _height_mm(parts, room_mm, step / 4, letter)
                if room_mm > 8 and height_mm <= high - 2 * MARGIN_MM:
                    html = _document(data, size_mm, parts, side, step / 4, data.pictograms)
                    return Page(html, step / 4)
    if inner.may_be_reduced(data) and (reduced := _reduced(data, size_mm)) is not None:
        return reduced
    raise OutOfRange(
        f"{wide:g}x{high:g}mm is too small for this label: take larger stock, such as "
        f"{max(wide * 1.3, 45):.0f}x{max(high * 1.3, 18):.0f}mm, or a tag on the vessel."
        + ("" if inner.may_be_reduced(data) else " A reduced label is for vessels of up to 10 mL.")
    )


def _reduced(data: LabelData, size_mm: tuple[float, float]) -> Page | None:
    """Give the label with what must stay on a small inner vessel; None where even that has no room."""
    wide, high = size_mm
    parts, symbols = inner.paragraphs(data), inner.symbols(data)
    largest, good, smallest = INNER_PT
    for most, least in ((largest, good), (good, smallest)):
        for side in _inner_sides(len(symbols), wide, high):
            room_mm = wide - 2 * MARGIN_MM - GAP_MM - side.wide_mm
            for step in range(int(most * 4), int(least * 4) - 1, -1):
                if room_mm > 8 and _height_mm(parts, room_mm, step / 4, NARROW) <= high - 2 * MARGIN_MM:
                    left = inner.left_off(data, code=bool(side.code_mm))
                    note = f"REDUCED LABEL ({inner.RULE}). Left for the outer label: {'; '.join(left)}."
                    html = _document(data, size_mm, parts, side, step / 4, symbols, note)
                    return Page(html, step / 4, left)
    return None


def _inner_sides(count: int, wide: float, high: float) -> Iterator[_Side]:
    """Ways to set few pictograms and the code beside them: with the code first, then larger pictograms."""
    free = high - 2 * MARGIN_MM
    for code_mm in (LEAST_CODE_MM, 0.0):
        if code_mm > free:
            continue
        if not count:
            yield _Side(0.0, 0, code_mm, beside=True)
        for size in INNER_SYMBOLS_MM:
            for columns in range(1, count + 1):
                if size * ceil(count / columns) <= free and size * columns <= 0.5 * wide:
                    yield _Side(size, columns, code_mm, beside=True)


def _sides(count: int, wide: float, high: float, least_symbol: float) -> list[_Side]:
    """Ways to set pictograms and code, the largest pictograms first."""
    inner = high - 2 * MARGIN_MM
    code_mm = min(14.0, max(LEAST_CODE_MM, 0.18 * wide), inner)
    if code_mm < LEAST_CODE_MM:
        return []
    if not count:
        return [_Side(0.0, 0, code_mm)]
    free = inner - code_mm - GAP_MM - SLACK_MM
    found = []
    for columns in range(1, count + 1):
        size = min(16.0, free / ceil(count / columns), 0.5 * wide / columns)
        if size >= least_symbol:
            found.append(_Side(size, columns, code_mm))
    return sorted(found, key=lambda side: side.symbol_mm, reverse=True)


def _parts(data: LabelData, level: int) -> list[tuple[str, str]]:
    """Class and text of each paragraph."""
    in_solvent = f"{data.strength_line} {data.carried}"
    if level == 2:
        return _least(data, in_solvent)
    parts = [("banner", data.banner), ("name", data.identity), ("strength", in_solvent)]
    parts.append(("signal", data.signal_line))
    if level == 0 and data.statements:
        said = ". ".join(f"{code} {text.rstrip('.')}" for code, text in data.statements) + "."
    else:
        said = data.codes + ("; wording: see the record" if data.statements else "")
    parts.append(("plain", said))
    if data.contains:
        parts.append(("plain", data.contains_line))
    made = f"{data.dates}, by {data.preparer}"
    parts.append(("plain", made))
    if data.kind == "final" and data.expiry_rests_on:
        parts.append(("plain", f"expiry rests on {data.expiry_rests_on}"))
    amount = data.amount or f"amount {NOT_STATED}"
    keep = f"{amount}; store: {data.storage or NOT_STATED}; waste: {data.waste_stream or NOT_STATED}"
    record = " ".join(part for part in (data.number, data.vessel, data.anchor) if part)
    return [*parts, ("plain", keep), ("plain", f"{record}; {data.edition}")]


def _least(data: LabelData, in_solvent: str) -> list[tuple[str, str]]:
    """What must be there on the smallest vial; entry and digest are in the square code."""
    parts = [("name", data.identity), ("strength", in_solvent)]
    if data.kind == "pre-label":
        parts.insert(0, ("banner", data.banner))
    joint = " " if data.signal_word else "; "
    parts.append(("least", f"{data.signal_line}{joint}{data.codes}"))
    if any(one.casefold() not in data.name.casefold() for one in data.contains):
        parts.append(("plain", data.contains_line))
    whose = (data.number, data.vessel, data.preparer, f"entry {data.entry}")
    record = " ".join(part for part in whose if part)
    return [*parts, ("plain", data.dates), ("plain", record)]


SCALE = {"banner": 0.8, "name": 1.12, "strength": 1.12, "signal": 1.25, "plain": 1.0, "least": 1.0}
"""Letters of a paragraph, in letters of the plain text."""


def _height_mm(parts: list[tuple[str, str]], room_mm: float, points: float, letter: float) -> float:
    total = 0.0
    for kind, text in parts:
        type_mm = points * PT_MM * SCALE[kind]
        wide = letter * (1.12 if kind != "plain" else 1.0)
        letters = max(int(room_mm / (type_mm * wide)), 1)
        total += _lines(text, letters) * type_mm * LINE
    return total


def _lines(text: str, letters: int) -> int:
    lines, used = 1, 0
    for word in text.split():
        length = len(word)
        if used and used + 1 + length <= letters:
            used += 1 + length
        else:
            lines += bool(used)
            lines += max(ceil(length / letters) - 1, 0)
            used = length % letters or min(length, letters)
    return lines


def _document(
    data: LabelData,
    size_mm: tuple[float, float],
    parts: list[tuple[str, str]],
    side: _Side,
    points: float,
    pictograms: tuple[str, ...],
    note: str = "",
) -> str:
    wide, high = size_mm
    room_mm = wide - 2 * MARGIN_MM - GAP_MM - side.wide_mm
    symbols = "".join(svg(code, size_mm=round(side.symbol_mm, 2)) for code in pictograms)
    code = _square_code(data.code) if side.code_mm else ""
    above_mm = GAP_MM if pictograms and not side.beside else 0
    beside = " beside" if side.beside else ""
    below = f'<p class="note">{escape(decimals.shown(note))}</p>' if note else ""
    text = "\n".join(f'<p class="{kind}">{escape(decimals.shown(said))}</p>' for kind, said in parts)
    sizes = "\n".join(
        f".{kind} {{ font-size: {points * scale:.2f}pt; {'font-weight: bold;' if kind != 'plain' else ''} }}"
        for kind, scale in SCALE.items()
    )
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{escape(data.prep)} {escape(data.kind)}</title>
<style>
@page {{ size: {wide:g}mm {high:g}mm; margin: 0; }}
* {{ box-sizing: border-box; margin: 0; padding: 0; }}
body {{ font-family: Arial, 'Liberation Sans', Helvetica, sans-serif; color: #000; background: #fff; }}
.label {{ padding: {MARGIN_MM}mm; width: {wide:g}mm; }}
.text {{ width: {room_mm:.2f}mm; line-height: {LINE}; overflow-wrap: break-word; }}
.side {{ float: right; width: {side.wide_mm:.2f}mm; text-align: right; line-height: 0; }}
.symbols {{ width: {side.symbol_mm * side.columns + 0.1:.2f}mm; margin-left: auto; }}
.code {{ width: {side.code_mm:.2f}mm; margin-left: auto; margin-top: {above_mm}mm; }}
.code svg {{ width: {side.code_mm:.2f}mm; height: {side.code_mm:.2f}mm; }}
.beside {{ display: flex; justify-content: space-between; }}
.beside .symbols, .beside .code {{ margin-left: 0; }}
{sizes}
@media print {{ .note {{ display: none; }} }}
@media screen {{ .note {{ font-size: 10pt; margin-top: 4mm; max-width: 150mm; }} }}
@media screen {{ body {{ padding: 4mm; }} .label {{ min-height: {high:g}mm; outline: 0.2mm dashed #888; }} }}
</style></head>
<body><div class="label {escape(data.kind)}">
<div class="side{beside}"><div class="symbols">{symbols}</div><div class="code">{code}</div></div>
<div class="text">
{text}
</div>
</div>{below}</body></html>
"""


def _square_code(text: str) -> str:
    import segno

    return str(segno.make(text, error="m", micro=False).svg_inline(omitsize=True, border=1))
