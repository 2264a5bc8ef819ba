"""Register rows as TOML: one `[[substance]]` a row, a key a column, lists as arrays."""

import json
import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from store.exchange.raw import MAX_CELL, MAX_ROWS, Cell, Faults, RawRow, too_long, unknown_column
from store.model.registers import LIST_KINDS, Row, columns

_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_LONG_NUMBER = re.compile(r"(?<![A-Za-z_])[0-9][0-9A-Fa-fox_]{100}")
_STRING_OR_COMMENT = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})' r"|'''.*?'''(?:'{0,2})" r'|"(?:\\.|[^"\\\n])*"' r"|'[^'\n]*'|#[^\n]*",
    re.DOTALL,
)
# A key of very many parts takes the parser a time that grows with their square.
_DEEP_KEY = re.compile(r"(?<![^\s=,{}\[\]])(?:[^\s.=,{}\[\]]+[ \t]*\.[ \t]*){40}")
_TOO_MUCH = {
    _DEEP_KEY: "this key has too many dots: a key is the name of a column.",
    _LONG_NUMBER: "this number is too long to be meant: check its digits.",
}
"""What would cost the parser time or memory out of proportion, and no row has."""
_KEY = re.compile(r"\s*([^=]+?)\s*=")


def parse(text: str, register: str, faults: Faults) -> tuple[RawRow, ...]:
    """Read rows; what is wrong goes to `faults`."""
    import tomllib

    text = text.replace("\r\n", "\n")
    bare = _bare(text)
    for pattern, what in _TOO_MUCH.items():
        if found := pattern.search(bare):
            faults.add(bare.count("\n", 0, found.start()) + 1, "column 1", what)
            return ()
    try:
        # Numbers stay text: a float would lose the last zeros of 1.000.
        data = tomllib.loads(text, parse_float=str)
    except tomllib.TOMLDecodeError as error:
        faults.add(*_place(str(error), bare), f"this is not TOML: {_PLACE.sub('', str(error)).lower()}.")
        return ()
    except RecursionError:
        faults.add(1, "column 1", "brackets stand in brackets too deeply: a row is flat.")
        return ()
    heads, keys = _layout(text, bare)
    for name in data:
        if name != register:
            line = next((at for at, head in heads if head == name), keys[0].get(name, 1))
            faults.add(line, name[:40], f"only rows stand here: write each under [[{register}]].")
    tables = data.get(register, [])
    places = [(line, own) for (line, head), own in zip(heads, keys[1:], strict=True) if head == register]
    if not isinstance(tables, list) or len(tables) != len(places):
        line = places[0][0] if places else keys[0].get(register, 1)
        faults.add(line, register, f"write each row under a [[{register}]] of its own.")
        return ()
    if len(tables) > MAX_ROWS:
        faults.add(places[MAX_ROWS][0], "id", f"more than {MAX_ROWS} rows: make two files of it.")
        return ()
    return tuple(
        _row(table, line, at, register, faults) for table, (line, at) in zip(tables, places, strict=True)
    )


def _place(said: str, bare: str) -> tuple[int, str]:
    """Give line and column of a fault; one that the parser met at the end began at a quote not closed."""
    found = _PLACE.search(said)
    if found and found[1]:
        return int(found[1]), f"column {found[2]}"
    opened = re.search("[\"']", bare)
    before = bare[: opened.start()] if opened else bare.rstrip("\n")
    return before.count("\n") + 1, f"column {len(before) - before.rfind(chr(10))}"


def _bare(text: str) -> str:
    """Give the text with the inside of strings and comments blotted out; lines and columns stay."""
    return _STRING_OR_COMMENT.sub(lambda m: re.sub(r"[^\n]", "s" if m[0][0] != "#" else " ", m[0]), text)


def _layout(text: str, bare: str) -> tuple[list[tuple[int, str]], list[dict[str, int]]]:
    """Give line and name of each `[[...]]`, and the lines of the keys: before the first, then under each."""
    heads: list[tuple[int, str]] = []
    keys: list[dict[str, int]] = [{}]
    depth = 0
    for number, (seen, real) in enumerate(zip(bare.split("\n"), text.split("\n"), strict=True), 1):
        if not depth:
            if seen.lstrip().startswith("["):
                start, end = seen.index("["), seen.rindex("]")
                head = real[start : end + 1].strip("[] \t").strip("\"'")
                row, dot, cell = head.partition(".")
                if dot:  # to TOML a table under a row is a cell of it, and no column takes one
                    above = next((n for n in range(len(heads), 0, -1) if heads[n - 1][1] == row), 0)
                    keys[above].setdefault(cell.strip().partition(".")[0], number)
                heads.append((number, head))
                keys.append({})
                continue
            if match := _KEY.match(seen):
                key = real[match.start(1) : match.end(1)]
                key = key.strip("\"'") if key[0] in "\"'" else key.split(".")[0].strip()
                keys[-1].setdefault(key, number)
        depth += sum(seen.count(c) for c in "[{") - sum(seen.count(c) for c in "]}")
    return heads, keys


def _row(table: Mapping[str, Any], line: int, at: Mapping[str, int], register: str, faults: Faults) -> RawRow:
    kinds = {f.name: str(f.metadata["kind"]) for f in columns(register)}
    found: dict[str, Cell] = {}
    for key, value in table.items():
        where = at.get(key, line)
        if key not in kinds:
            faults.add(where, key[:40], unknown_column(register, key))
            continue
        takes_list = kinds[key] in LIST_KINDS
        cell = _cell(value, takes_list)
        if cell is None:
            wants = "a list of texts" if takes_list else "a text in quotes"
            faults.add(where, key, f"this column takes {wants}.")
        elif (length := len(cell) if isinstance(cell, str) else sum(map(len, cell))) > MAX_CELL:
            faults.add(where, key, too_long(length))
        elif cell:
            found[key] = cell
    return RawRow(line, found, dict(at))


def _cell(value: Any, takes_list: bool) -> Cell | None:
    """Give the text of a value; None for one that no column takes."""
    if isinstance(value, list):
        parts = [_text(part) for part in value]
        if not takes_list or None in parts:
            return None
        return tuple(part for p in parts if p is not None and (part := p.strip()))
    text = _text(value)
    if text is None or not takes_list:
        return None if text is None else text.strip()
    return tuple(part for p in text.split(";") if (part := p.strip()))


def _text(value: Any) -> str | None:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if isinstance(value, int):
        return str(value)
    if isinstance(value, date) and not isinstance(value, datetime):
        return value.isoformat()
    return None


def write(rows: Iterable[Row], register: str, above: Iterable[str] = ()) -> str:
    """Give rows as text; empty columns are left out. `above` are comments above the first row."""
    parts = ["".join(f"# {line}".rstrip() + "\n" for line in above)]
    for row in rows:
        cells = "".join(f"{key} = {_value(value)}\n" for key, value in row.to_body().items())
        parts.append(f"[[{register}]]\n{cells}")
    return "\n".join(part for part in parts if part)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[" + ", ".join(_value(part) for part in value) + "]"
    # JSON's escapes are TOML's, but for DEL, which JSON lets stand.
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
