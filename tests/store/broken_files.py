"""Register files with one thing broken, drawn by a seed. What is broken is named, so that a test can tell."""

from collections.abc import Callable, Mapping
from random import Random

from store.exchange.raw import MAX_CELL
from store.exchange.tables import write_rows
from store.model.registers import LIST_KINDS, REGISTERS, Row, columns, required

WRONG: Mapping[str, tuple[str, ...]] = {
    "id": ("a b", "x" * 25, "é-1", "a/b", "a;b", ""),
    "yesno": ("maybe", "1", "true?", "ja"),
    "date": ("2026-02-30", "02.03.2026", "2026-3-2", "20260302", "tomorrow", "2026-W10-1", "0001-01-01"),
    "cas": ("7778-50-8", "7778509", "a-b-c", "7778-50-9x"),
    "formula": ("K2Cr2O7(", "Xx2", "h2o", "NaCl+", "H2O)", "2H2O", "Na Cl", ".H2O"),
    "statements": (
        "H999",
        "Carc. 1B",
        "Carc. 9 H350",
        "Carc. 1B H999",
        "not classified; Carc. 1B H350",
        "poison",
    ),
    "roles": ("boss", "operator; boss", "Operator"),
    "choice": ("something else", "POWDER!", "?"),
    "number": ("many", "1.000,5", "1 000", "nan", "inf", "1e999", "0x10"),
    "percent": ("101", "-1", "99.5.1", "a lot", "> 98 %%"),
    "mass": ("5", "5 mL", "-5 g", "0 g", "5 Mg", "five g", "1.000,5 g", "5 g g"),
    "volume": ("20", "20 g", "-1 mL", "0 mL", "20 cups"),
    "density": ("1.2", "1.2 g", "0 g/mL", "-1 g/mL", "heavy"),
    "concentration": ("5 %", "5 ppm", "5", "1 mg", "-1 mg/g", "0 mg/g"),
    "text": ("bell \x07", "esc \x1b[31m", "line\nbreak", "turn \u202e around", "zero\u200bwidth", "x" * 2001),
}
"""By kind of a column, what it never takes."""

Broken = tuple[str, bytes] | tuple[str, bytes, str]
"""What is broken, the file, and the column that must be named where it is one."""


def _with(rows: list[Row], register: str, end: str, line: int, name: str, text: str) -> bytes:
    """Give a file in which one cell says something else, whatever its column takes."""
    mark = "MARK-OF-THE-CELL"
    values = {f.name: getattr(rows[line], f.name) for f in columns(register)}
    kind = {f.name: f.metadata["kind"] for f in columns(register)}[name]
    values[name] = (mark,) if kind in LIST_KINDS else mark
    changed = [*rows[:line], REGISTERS[register](**values), *rows[line + 1 :]]
    cell = text.replace('"', '""') if end == "csv" else _escaped(text)
    cell = f'"{cell}"' if end == "csv" else cell
    return write_rows(changed, register, end).replace(mark, cell, 1).encode()


def _escaped(text: str) -> str:
    return "".join(c if c.isprintable() and c not in '"\\' else f"\\u{ord(c):04x}" for c in text)


def wrong_value(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    able = [f for f in columns(register) if f.metadata["kind"] in WRONG and f.name != "value"]
    column = chance.choice(able)
    text = chance.choice(WRONG[str(column.metadata["kind"])])
    data = _with(rows, register, end, chance.randrange(len(rows)), column.name, text)
    return f"{column.name} is {text!r}", data, column.name


def unknown_ref(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    able = [f.name for f in columns(register) if str(f.metadata["kind"]).startswith("ref:")]
    if not able:
        return wrong_value(chance, rows, register, end)
    name = chance.choice(able)
    return (
        f"{name} is nowhere",
        _with(rows, register, end, chance.randrange(len(rows)), name, "NO-SUCH-ROW"),
        name,
    )


def emptied(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    name = chance.choice(required(register))
    return f"{name} is empty", _with(rows, register, end, chance.randrange(len(rows)), name, "  "), name


def long_cell(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    name = chance.choice([f.name for f in columns(register)])
    text = "x" * (MAX_CELL + 1 + chance.randrange(200_000))
    return f"{name} is too long", _with(rows, register, end, chance.randrange(len(rows)), name, text), name


def twice(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    again = rows[chance.randrange(len(rows))]
    many = [*rows, again]
    chance.shuffle(many)
    return "an id stands twice", write_rows(many, register, end).encode(), "id"


def bad_byte(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    data = write_rows(rows, register, end).encode()
    at = chance.randrange(len(data))
    return "a byte is not UTF-8", data[:at] + bytes([chance.choice((0xC0, 0xC1, 0xF5, 0xFE, 0xFF))]) + data[
        at:
    ]


def nul(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    data = write_rows(rows, register, end).encode()
    at = chance.randrange(len(data))
    return "a NUL", data[:at] + b"\0" * chance.randint(1, 3) + data[at:]


def other_encoding(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    name = chance.choice(("utf-16", "utf-16-be", "utf-32"))
    mark = b"\xfe\xff" if name == "utf-16-be" else b""
    return name, mark + write_rows(rows, register, end).encode(name)


def cut_short(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    if end == "csv":
        data = write_rows(rows, register, end).rstrip("\n")
        return "the last quote is not closed", f'{data},"never\nclosed'.encode()
    text = write_rows(rows, register, end)
    quotes = [n for n, c in enumerate(text) if c == '"' and text[n - 1] in " ["]
    return "cut inside a string", text[: chance.choice(quotes) + 1].encode()


def bad_form(chance: Random, rows: list[Row], register: str, end: str) -> Broken:
    text = write_rows(rows, register, end)
    return chance.choice(_CSV_FORMS if end == "csv" else _TOML_FORMS)(chance, text, register)


def _lines(text: str, chance: Random) -> tuple[list[str], int]:
    lines = text.rstrip("\n").split("\n")
    return lines, chance.randrange(1, len(lines))


def _ragged(chance: Random, text: str, register: str) -> Broken:
    lines, at = _lines(text, chance)
    lines[at] = lines[at] + ",surplus" if chance.random() < 0.5 else "only-one-cell"
    return "a row has more or fewer cells", "\n".join(lines).encode()


def _after_quote(chance: Random, text: str, register: str) -> Broken:
    lines, at = _lines(text, chance)
    lines[at] = f'"{lines[at].split(",")[0]}"x' + lines[at][lines[at].index(",") :]
    return "text after a closing quote", "\n".join(lines).encode()


def _header(chance: Random, text: str, register: str) -> Broken:
    names, _, rest = text.partition("\n")
    cells = names.split(",")
    at = chance.randrange(len(cells))
    how = chance.choice(("unknown", "twice", "missing", "nameless"))
    if how == "unknown":
        cells[at] += "x"
    elif how == "twice":
        cells[at] = cells[at - 1]
    elif how == "missing":
        cells[cells.index(chance.choice(required(register)))] = "nothing"
    else:
        cells[at] = " "
    return f"a column is {how}", (",".join(cells) + "\n" + rest).encode()


def _other_sign(chance: Random, text: str, register: str) -> Broken:
    sign = chance.choice((";", "\t"))
    return f"parted by {sign!r}", text.replace(",", sign).encode()


def _no_header(chance: Random, text: str, register: str) -> Broken:
    return "no header", text.partition("\n")[2].encode()


def _nothing(chance: Random, text: str, register: str) -> Broken:
    return "nothing in it", chance.choice((b"", b"\n\n\n", b"# only a comment\n", b"\xef\xbb\xbf"))


def _put_in(before: str) -> Callable[[Random, str, str], Broken]:
    """Put a line under a random row's head."""

    def put(chance: Random, text: str, register: str) -> Broken:
        lines = text.split("\n")
        heads = [n for n, line in enumerate(lines) if line.startswith("[[")]
        at = chance.choice(heads) + 1
        line = before.replace("REGISTER", register)
        return line[:40], "\n".join([*lines[:at], line, *lines[at:]]).encode()

    return put


def _other_table(chance: Random, text: str, register: str) -> Broken:
    return "another table", (text + f"\n[[{register}s]]\nid = 'x'\n").encode()


def _one_table(chance: Random, text: str, register: str) -> Broken:
    return "one table and no rows", f"[{register}]\nid = 'x'\n".encode()


def _in_one_line(chance: Random, text: str, register: str) -> Broken:
    return "rows in one line", f"{register} = [{{id = 'x', name = 'y'}}]\n".encode()


_CSV_FORMS = (_ragged, _after_quote, _header, _other_sign, _no_header, _nothing)
_TOML_FORMS = (
    _other_table,
    _one_table,
    _in_one_line,
    *map(
        _put_in,
        (
            "no_such_column = 'x'",
            "id = 'twice'",
            "name = ",
            "name = 'not closed",
            "= 1",
            "[REGISTER.below]",
            "synonyms = [['list in a list']]",
            "sds_date = 12:00:00",
            "a.b = 1",
            "key = " + "[" * 3000,
            "number = " + "9" * 6000,
            ".".join("a" * 60_000) + " = 1",
            "\x01 = 1",
            "{ id = 'x' }",
            "]]",
        ),
    ),
)
"""Ways in which a file is no table at all."""

BREAKS = (
    wrong_value, wrong_value, wrong_value, wrong_value, unknown_ref, emptied, long_cell, twice, bad_byte, nul,
    other_encoding, cut_short, bad_form, bad_form, bad_form,
)  # fmt: skip


def broken(chance: Random, rows: Mapping[str, list[Row]]) -> tuple[str, str, str, bytes, str]:
    """Draw a register, a format, what is broken, the file, and the column to be named, if it is one."""
    register = chance.choice(tuple(REGISTERS))
    end = chance.choice(("csv", "toml"))
    what, data, *column = chance.choice(BREAKS)(chance, list(rows[register]), register, end)
    return register, end, what, data, column[0] if column else ""
