"""Register rows as CSV: a header of column names, comma between cells, lists parted by semicolons."""

import csv
import io
import re
from collections.abc import Iterable, Iterator
from itertools import chain

from store.exchange.cells import guarded
from store.exchange.raw import MAX_CELL, MAX_ROWS, Cell, Faults, RawRow, shown, too_long, unknown_column
from store.model.registers import LIST_KINDS, Row, columns, required

_GUARDED = re.compile(r"'+ *[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")


def spared(text: str) -> str:
    """Give a cell fit for a spreadsheet: what it would run stands behind an apostrophe.

    Text that already looks so gets one more, so that `taken_back` always gives what was there.

    >>> spared("=1+1"), spared("'=1+1"), spared("-120"), spared("'s")
    ("'=1+1", "''=1+1", '-120', "'s")
    """
    return f"'{text}" if _GUARDED.match(text) else str(guarded(text))


def taken_back(text: str) -> str:
    """Give what stood there before `spared`.

    >>> taken_back("'=1+1"), taken_back("''=1+1"), taken_back("'s")
    ('=1+1', "'=1+1", "'s")
    """
    return text[1:] if _GUARDED.match(text) else text


def parse(text: str, register: str, faults: Faults) -> tuple[RawRow, ...]:
    """Read rows; what is wrong goes to `faults`."""
    lines = io.StringIO(text, newline="")
    skipped, first = _head(lines)
    if not first:
        faults.add(1, "column 1", "the file is empty: its first line names the columns.")
        return ()
    reader = csv.reader(chain((first,), lines), strict=True)
    names: list[str] = []
    rows: list[RawRow] = []
    while True:
        start = skipped + reader.line_num + 1
        try:
            cells = next(reader, None)
        except csv.Error as error:
            line, column, what = _broken(text, start, str(error))
            faults.add(line, _name(names, column), what)
            return tuple(rows)
        if cells is None:
            return tuple(rows)
        if not names:
            names = [cell.strip() for cell in cells]
            if not _header(names, start, register, faults):
                return ()
        elif any(cell.strip() for cell in cells):
            if len(rows) == MAX_ROWS:
                faults.add(start, _name(names, 1), f"more than {MAX_ROWS} rows: make two files of it.")
                return tuple(rows)
            rows.append(_row(names, cells, start, register, faults))


def _head(lines: io.StringIO) -> tuple[int, str]:
    """Pass over empty lines and comments above the header; below it a `#` is text like any other."""
    skipped = 0
    for line in lines:
        bare = line.strip().strip(",").lstrip('"')
        if bare and not bare.startswith("#"):
            return skipped, line
        skipped += 1
    return skipped, ""


def _header(names: list[str], line: int, register: str, faults: Faults) -> bool:
    known = {f.name for f in columns(register)}
    for sign, said in ((";", "semicolons"), ("\t", "tabs")):
        if len(names) == 1 and sign in names[0]:
            faults.add(line, "column 1", f"the cells are parted by {said}: save the file with commas.")
            return False
    sound = True
    for number, name in enumerate(names, 1):
        what = ""
        if not name:
            what = "this column has no name: name it or take it out."
        elif name not in known:
            what = unknown_column(register, name)
        elif name in names[: number - 1]:
            what = "this column stands twice: take one out."
        if what:
            faults.add(line, f"column {number}", what)
            sound = False
    for name in required(register):
        if name not in names:
            faults.add(line, name, f"this column is missing, and {register} needs it.")
            sound = False
    return sound


def _row(names: list[str], cells: list[str], line: int, register: str, faults: Faults) -> RawRow:
    lists = {f.name for f in columns(register) if f.metadata["kind"] in LIST_KINDS}
    if len(cells) != len(names):
        faults.add(
            line,
            _name(names, min(len(cells), len(names)) + 1),
            f"the row has {len(cells)} of {len(names)} cells: put text with a comma into quotes.",
        )
    found: dict[str, Cell] = {}
    for name, cell in zip(names, cells, strict=False):
        if len(cell) > MAX_CELL:
            faults.add(line, name, too_long(len(cell)))
            continue
        text = taken_back(cell.strip())
        value = tuple(part for p in text.split(";") if (part := p.strip())) if name in lists else text
        if value:
            found[name] = value
    return RawRow(line, found)


def _name(names: list[str], number: int) -> str:
    return names[number - 1] if 0 < number <= len(names) else f"column {number}"


def _broken(text: str, start: int, said: str) -> tuple[int, int, str]:
    """Find what the reader stumbled over in the row that begins at a line: line, number of the cell, why."""
    line, cell, length, opened, after = start, 1, 0, (0, 0), False
    for sign in _from_line(text, start):
        ends = sign in "\r\n"
        if opened[0]:
            if sign == '"':
                opened, after = (0, 0), True
                continue
            length += 1
        elif sign == "," or ends:
            cell, length, after = (1 if ends else cell + 1), 0, False
        elif sign == '"' and (after or not length):
            opened, after = (line, cell), False  # behind a closing quote: the pair stands for one quote
        elif after:
            return line, cell, f"{shown(sign)} follows a closing quote: write a quote in text twice."
        else:
            length += 1
        if length > MAX_CELL:
            where = opened if opened[0] else (line, cell)
            return *where, f"longer than {MAX_CELL} signs: perhaps a quote is not closed."
        line += sign == "\n"
    if opened[0]:
        return *opened, "this quote is not closed before the end of the file."
    return start, 1, f"the row cannot be read ({said})."


def _from_line(text: str, line: int) -> Iterator[str]:
    lines = io.StringIO(text, newline="")
    for _ in range(line - 1):
        lines.readline()
    return (sign for part in lines for sign in part)


def write(rows: Iterable[Row], register: str, above: Iterable[str] = ()) -> str:
    """Give rows as text, all columns in their order; `above` are comments above the header."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([f"# {line}"] for line in above)
    names = [f.name for f in columns(register)]
    writer.writerow(names)
    for row in rows:
        writer.writerow([spared(_cell(getattr(row, name))) for name in names])
    return out.getvalue()


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return "; ".join(value)
    return str(value)
