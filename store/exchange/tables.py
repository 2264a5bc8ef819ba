"""Register files in and out: CSV or TOML, by the end of the name. The form is judged here, not the meaning.

What comes in is bounded: so many bytes, rows, signs in a cell, and faults told.
"""

import re
import stat
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from store.errors import BadInput, FileRefused, UnknownCode
from store.exchange import csv_rows, toml_rows
from store.exchange.raw import MAX_BYTES, MAX_CELL, MAX_FAULTS, MAX_ROWS, Cell, Faults, RawRow
from store.model.registers import LIST_KINDS, REGISTERS, Row, columns, required
from store.model.settings import SETTINGS
from store.units import UNITS

__all__ = [
    "FORMATS",
    "MAX_BYTES",
    "MAX_CELL",
    "MAX_FAULTS",
    "MAX_ROWS",
    "Cell",
    "RawRow",
    "read_rows",
    "template",
    "write_rows",
]

FORMATS = ("csv", "toml")

_OTHER_MARKS = ((b"\xff\xfe\0\0", "UTF-32"), (b"\0\0\xfe\xff", "UTF-32"), (b"\xff\xfe", "UTF-16"),
                (b"\xfe\xff", "UTF-16"))  # fmt: skip


def read_rows(path: Path, register: str) -> tuple[RawRow, ...]:
    """Read the rows of a register file.

    Raises
    ------
    FileRefused
        It is not there, no plain file, too large, or its name ends neither in .csv nor in .toml.
    ImportRefused
        Every fault of its form, by line and column.
    UnknownCode
        There is no such register.
    """
    _known(register)
    form = path.suffix.lower().removeprefix(".")
    if form not in FORMATS:
        raise FileRefused(f"{path.name}: the name of a register file ends in .csv or .toml.")
    faults = Faults(path.name)
    text = _decoded(_bytes(path), faults)
    faults.settle()
    rows = (csv_rows.parse if form == "csv" else toml_rows.parse)(text, register, faults)
    faults.settle()
    return rows


_LONG_CSV = re.compile(rb'"[^"]{%d}|[^,"\s][^,"\n]{%d}' % (MAX_CELL + 1, MAX_CELL))
_LONG_TOML = re.compile(rb"[^\n]{%d}" % (MAX_CELL + 40))
"""A cell that no row has; in TOML with its key before it."""


def _known(register: str) -> None:
    if register not in REGISTERS:
        raise UnknownCode(f"There is no register {register!r}: write one of {', '.join(REGISTERS)}.")


def _bytes(path: Path) -> bytes:
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise FileRefused(f"{path} is no plain file: name a .csv or .toml file.")
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)  # not the size told before: a file may grow
    except FileNotFoundError:
        raise FileRefused(f"There is no file {path}: check the name.") from None
    except OSError as error:
        raise FileRefused(f"{path} cannot be read ({error.strerror}).") from None
    if len(data) > MAX_BYTES:
        _swollen(data, path)
        raise FileRefused(f"{path.name} has more than {MAX_BYTES / 1e6:g} MB: make several files of it.")
    return data


def _swollen(data: bytes, path: Path) -> None:
    """Say which cell makes a file too large, where it is one cell and not its rows."""
    found = (_LONG_TOML if path.suffix.lower() == ".toml" else _LONG_CSV).search(data)
    if not found:
        return
    begin = data.rfind(b"\n", 0, found.start()) + 1
    before = data[begin : found.start()].decode("utf-8", "replace")
    if path.suffix.lower() == ".toml":
        named = data[begin : begin + 80].decode("utf-8", "replace").partition("=")[0].strip()
    else:
        names = data.partition(b"\n")[0].decode("utf-8", "replace").strip().split(",")
        named = names[before.count(",")].strip() if before.count(",") < len(names) else ""
    faults = Faults(path.name)
    column = named if named.isidentifier() else f"column {len(before) + 1}"
    faults.add(
        data.count(b"\n", 0, begin) + 1,
        column,
        f"more than {MAX_CELL} signs stand in this cell: write at most so many.",
    )
    faults.settle()


def _decoded(data: bytes, faults: Faults) -> str:
    for mark, name in _OTHER_MARKS:
        if data.startswith(mark):
            faults.add(1, "column 1", f"the file is {name}: save it as UTF-8.")
            return ""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8", "replace")
        faults.add(
            *_place(before),
            f"byte {data[error.start]:#04x} is not UTF-8: save the file with the encoding UTF-8.",
        )
        return ""
    if "\0" in text:
        faults.add(*_place(text[: text.index("\0")]), "a NUL stands here: this is no text file.")
    return text


def _place(before: str) -> tuple[int, str]:
    lines = before.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return len(lines), f"column {len(lines[-1]) + 1}"


# ---- out ----


def write_rows(rows: Iterable[Row], register: str, format: str = "csv") -> str:
    """Give rows as the text of a file that `read_rows` reads back without a difference.

    Raises
    ------
    UnknownCode
        There is no such register.
    BadInput
        The format is neither csv nor toml.
    """
    _known(register)
    return _writer(format)(rows, register, ())


def template(register: str, format: str = "csv") -> str:
    """Give an empty register file: the columns, and above them what each means, as comments."""
    _known(register)
    need = required(register)
    above = [f"Register: {register}. A line that begins with # above the first row is a comment."]
    for f in columns(register):
        hint = _hint(f.metadata, f.default if f.name not in need else "")
        must = "; must be filled" if f.name in need else ""
        above.append(f"{f.name}: {f.metadata['what']}{f' ({hint})' if hint else ''}{must}")
    if register == "setting":
        above += [f"setting {s.id}: {s.what} (default: {s.default or 'none'})" for s in SETTINGS.values()]
    if format == "toml":
        names = [f.name for f in columns(register)]
        above += ["", f"[[{register}]]", *(f'{name} = ""' for name in names)]
    return _writer(format)((), register, above)


def _writer(format: str) -> Callable[[Iterable[Row], str, Iterable[str]], str]:
    if format not in FORMATS:
        raise BadInput(f"There is no format {format!r}: write {' or '.join(FORMATS)}.")
    return csv_rows.write if format == "csv" else toml_rows.write


_HINTS: Mapping[str, str] = {
    "yesno": "yes or no",
    "date": "such as 2026-03-02",
    "cas": "with its check digit",
    "formula": "such as CuSO4.5H2O",
    "statements": "parted by semicolons",
    "list": "parted by semicolons",
    "roles": "parted by semicolons",
    "percent": "number, without sign",
    "number": "number",
    "concentration": "number and unit, such as 1.000 mg/g",
}


def _hint(metadata: Mapping[str, object], default: object) -> str:
    kind = str(metadata["kind"])
    parts = []
    choices = metadata.get("choices")
    if isinstance(choices, tuple) and choices:
        parts.append("one of " + ", ".join(c for c in choices if c))
    if kind.startswith("ref:"):
        of = kind.removeprefix("ref:")
        parts.append(f"id of {'an' if of[0] in 'aeiou' else 'a'} {of}")
    elif kind in UNITS:
        parts.append(f"number and unit: {', '.join(UNITS[kind])}")
    elif kind in _HINTS:
        parts.append(_HINTS[kind])
    if default and kind not in LIST_KINDS:
        parts.append(f"empty: {default}")
    return "; ".join(parts)
