"""Typed numbers and quantities of a command line, and values from a CSV column."""

import csv
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from store.errors import BadInput, BadNumber, FileRefused
from store.units import Quantity, number, plain, quantity

_MOST_BYTES = 10_000_000


class Number(click.ParamType[float]):
    """A number by the strict parser; the comma is a decimal sign."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read it, or raise the parser's own error."""
        return value if isinstance(value, float) else float(number(str(value)))


class Typed(click.ParamType[Quantity]):
    """A number with a unit of the kinds named."""

    def __init__(self, *kinds: str) -> None:
        self.kinds = kinds
        self.name = kinds[0] if len(kinds) == 1 else "quantity"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Quantity:
        """Read it, or raise the parser's own error."""
        return value if isinstance(value, Quantity) else quantity(str(value), *self.kinds)


NUMBER = Number()
MASS = Typed("mass")
DENSITY = Typed("density")
CONCENTRATION = Typed("mass_fraction", "molality", "mass_concentration", "amount_concentration")


def values_of(words: Sequence[str], column: str | None = None) -> list[float]:
    """Give the values that were typed: numbers, or one CSV file or `-` for standard input.

    A file may have a header; `column` names the column, else the first is taken. Columns are parted by
    semicolons or tabs where there are any, else by commas.
    """
    if not words:
        return []
    if len(words) == 1:
        text = _content(words[0])
        if text is not None:
            return _column(text, column, words[0])
    if column is not None:
        raise BadInput("A column is named, but no file: give a CSV file, or - for standard input.")
    return [float(number(word)) for word in words]


def shown_of(words: Sequence[str], column: str | None = None) -> list[str]:
    """Give readings as typed, or as they stand in a CSV file or standard input: every digit is kept."""
    if len(words) == 1 and (text := _content(words[0])) is not None:
        return [cell for _, cell in _cells(text, column, words[0])]
    if column is not None:
        raise BadInput("A column is named, but no file: give a CSV file, or - for standard input.")
    return list(words)


def _content(word: str) -> str | None:
    if word == "-":
        return sys.stdin.read(_MOST_BYTES)
    try:
        number(word)
    except BadNumber:
        path = Path(word)
        try:
            if not path.is_file():
                return None
            return path.read_bytes()[:_MOST_BYTES].decode("utf-8-sig")
        except (OSError, ValueError) as error:
            raise FileRefused(f"{plain(word)} cannot be read as CSV text: check the file.") from error
    return None


def _column(text: str, column: str | None, name: str) -> list[float]:
    out = []
    for n, cell in _cells(text, column, name):
        try:
            out.append(float(number(cell)))
        except BadNumber as error:
            raise FileRefused(f"{plain(name)}, line {n}: {error}") from error
    return out


def _cells(text: str, column: str | None, name: str) -> list[tuple[int, str]]:
    head = text.splitlines()[0] if text.splitlines() else ""
    sign = next((s for s in (";", "\t") if s in head), ",")
    lines = [row for row in csv.reader(text.splitlines(), delimiter=sign) if any(c.strip() for c in row)]
    if not lines:
        raise FileRefused(f"{plain(name)} is empty: give a column of numbers.")
    at, first = 0, 0
    header = [c.strip() for c in lines[0]]
    if column is not None:
        if column not in header:
            raise FileRefused(
                f"{plain(name)} has no column {plain(column)}: it has {', '.join(header)[:200]}."
            )
        at, first = header.index(column), 1
    else:
        # A reading may carry its unit: only what begins with no digit is a header.
        first = 0 if header[0].lstrip("+-.,")[:1].isdigit() else 1
    return [
        (n, row[at].strip() if at < len(row) else "") for n, row in enumerate(lines[first:], start=first + 1)
    ]
