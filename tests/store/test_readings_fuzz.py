"""Fuzzed lines of a balance: none is read as a number that a person reading the same line would not read.

What a person reads is written here a second time, from the rules of the trade and not from the reader's own
expressions: one sign at most, one number, one unit of mass, perhaps a mark, and nothing else on the line.
"""

from decimal import Decimal
from random import Random

import pytest

from store.errors import BadReading
from store.readings import Reading, read_line

UNITS = {"mg": "mg", "g": "g", "kg": "kg", "ug": "ug", "µg": "ug", "μg": "ug"}  # both micro signs
PIECES = (
    *"0123456789", *"+-.,  ", "0.00", "12.50", "000123.4", "1e3", "mg", " mg", " g", "g", "kg", "µg", "Mg",
    "MG", "oz", "ct", "S", "SD", "D", "*", "?", "N", "G", "T", "net", "ERR", "OVERLOAD", "OL", "----", "\t",
    "\x00", "\x1b", "\xb5", "\xb2", "O", "l", "I", "\u0663", "\xbd", "\u2212", "\xa0", "12:30", "/", "(", ")",
    "=", "pcs", "%",
)  # fmt: skip
WHOLE = ("12.50 mg", "-  0.13 mg", "+12,500 g", "  0012.50mg", "S  10.02 mg", "10.02 mg *", "10.02")


def made(chance: Random) -> str:
    """Make a line: pieces at random, or a good line with signs changed or lost, or two run together."""
    if chance.random() < 0.4:
        return "".join(chance.choice(PIECES) for _ in range(chance.randint(1, 9)))
    line = list(chance.choice(WHOLE))
    for _ in range(chance.randint(0, 3)):
        at = chance.randrange(len(line)) if line else 0
        match chance.randrange(5):
            case 0 if line:
                line[at] = chr(ord(line[at]) ^ 1 << chance.randrange(8))  # a bit of it fell over
            case 1 if line:
                del line[at]
            case 2:
                line[at:at] = chance.choice(PIECES)
            case 3:
                line += chance.choice(WHOLE)
            case _:
                line = line[at:]
    return "".join(line)


def by_a_person(line: str, *, unit: str | None, mark: str | None) -> tuple[Decimal, str] | None:
    """Give the number and the unit that a person reads, sign by sign; None where they would ask."""
    text = line.rstrip("\r\n").strip(" \t")
    if mark is not None and text.startswith(mark):
        text = text[len(mark) :].strip(" \t")
    elif mark is not None and text.endswith(mark):
        text = text[: -len(mark)].strip(" \t")
    sign = ""
    if text[:1] in ("+", "-"):
        sign, text = text[0], text[1:].lstrip(" ")
    digits = ""
    while text and (text[0] in "0123456789" or (text[0] in ".," and not set(digits) & set(".,"))):
        digits, text = digits + text[0], text[1:]
    text = text.strip(" ")
    if not set(digits) & set("0123456789") or digits[-1] in ".,":
        return None
    named = text or unit
    if named not in UNITS:
        return None
    return Decimal(sign + digits.replace(",", ".")), UNITS[named]


def held_against_a_person(lines: int, seed: int) -> tuple[int, int]:
    """Fuzz so many lines; gives how many were read and how many were refused."""
    chance = Random(seed)
    read = refused = 0
    for _ in range(lines):
        line = made(chance)
        unit = chance.choice((None, "mg"))
        mark = chance.choice((None, "S", "*"))
        found: Reading | None = None
        why = ""
        try:
            found = read_line(line, unit=unit, stable_mark=mark)
        except BadReading as refusal:
            why = str(refusal)
        if found is None:
            refused += 1
            assert why.endswith((".", ":")), why
            continue
        read += 1
        person = by_a_person(line, unit=unit, mark=mark)
        assert person is not None, f"{line!r} was read as {found.number} {found.unit}"
        assert (found.number, found.unit) == person, f"{line!r}: {found.number} {found.unit}, not {person}"
        assert found.number.as_tuple() == person[0].as_tuple(), f"{line!r} lost a digit"
    return read, refused


def test_no_fuzzed_line_is_read_as_a_number_that_a_person_would_not_read() -> None:
    read, refused = held_against_a_person(20_000, seed=1)
    assert read > 500
    assert refused > 5_000


@pytest.mark.long
def test_of_a_million_fuzzed_lines_none_is_read_as_a_number_that_a_person_would_not_read() -> None:
    read, refused = held_against_a_person(1_000_000, seed=2)
    print(f"\n{read} lines read, {refused} refused")
    assert read > 25_000


@pytest.mark.parametrize(
    ("line", "mass"),
    [
        ("-  0.13 mg", "-0.13"),
        ("+12,500 g", "12.500"),
        ("0012.50mg", "12.50"),
        ("   .5 mg", "0.5"),
    ],
)
def test_what_a_person_reads_at_once_is_read(line: str, mass: str) -> None:
    assert read_line(line).number == Decimal(mass)
