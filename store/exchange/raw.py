"""Rows as they stand in a file: text with its line and column, before anybody asks what it means."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches

from store.errors import Fault, ImportRefused
from store.model.registers import columns

MAX_BYTES = 4_000_000
MAX_ROWS = 10_000
MAX_CELL = 10_000
MAX_FAULTS = 200
"""So many faults are told at once; a file with more is wrong as a whole."""

Cell = str | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RawRow:
    """One row of a file, as text; empty cells are left out.

    Attributes
    ----------
    line
        Where the row begins, counted from 1.
    cells
        Text by column; a tuple where the column takes a list.
    at
        Line of a cell where it is not that of the row.
    """

    line: int
    cells: Mapping[str, Cell]
    at: Mapping[str, int] = field(default_factory=dict)

    def line_of(self, column: str) -> int:
        """Give the line of a cell, or of the row where the cell is missing."""
        return self.at.get(column, self.line)


class Faults:
    """Collects what is wrong with a file, so that all of it is told at once."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._found: list[Fault] = []

    def add(self, line: int, column: str, what: str) -> None:
        """Note one fault; too many end the reading.

        Raises
        ------
        ImportRefused
            So many were found that the rest is not read.
        """
        self._found.append(Fault(line, column, what))
        if len(self._found) >= MAX_FAULTS:
            self._found.append(Fault(line, column, "the rest was not looked at: mend these first."))
            self.settle()

    def settle(self) -> None:
        """Let the file pass, or refuse it with every fault.

        Raises
        ------
        ImportRefused
            Anything was found.
        """
        if self._found:
            raise ImportRefused(self._file, sorted(self._found, key=lambda f: f.line))

    def __bool__(self) -> bool:
        return bool(self._found)


def unknown_column(register: str, name: str) -> str:
    """Say that there is no such column, and which is near."""
    names = [f.name for f in columns(register)]
    near = get_close_matches(name.casefold(), names, n=3, cutoff=0.5)
    return f"{shown(name)} is no column of {register}: write one of {', '.join(near or names)}."


def shown(text: str) -> str:
    """Give outside text fit for a sentence: cut at 40 signs, odd signs as escapes."""
    return repr(text if len(text) <= 40 else text[:40] + "...")


def too_long(length: int) -> str:
    """Say that a cell is too long."""
    return f"{length} signs are too many for one cell: write at most {MAX_CELL}."
