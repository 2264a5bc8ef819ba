"""Tables and lines laid out to a terminal: broken between words, never inside one; a pipe gets them whole."""

import re
import sys
from collections.abc import Sequence
from typing import TextIO

LEAST = 20
_COLUMN = re.compile(r"\S+(?: \S+)*  +")
"""What stands before the second column of a line: its continuation begins under it."""
_MOST_HANG = 30


def room(on: TextIO | None = None) -> int:
    """Give the columns of the terminal that is printed on; 0 where it is a file or a pipe."""
    if not (on or sys.stdout).isatty():
        return 0
    from shutil import get_terminal_size

    return max(LEAST, get_terminal_size().columns)


def text(whole: str, width: int) -> str:
    """Break what is longer than the terminal between words; what goes on stands under its column.

    >>> print(text("hazards   Danger H350 H340 H360FD", 24))
    hazards   Danger H350
              H340 H360FD
    """
    if not width:
        return whole
    return "\n".join("\n".join(_broken(line, width)) for line in whole.split("\n"))


def _broken(line: str, width: int) -> Sequence[str]:
    if len(line) <= width:
        return (line,)
    from textwrap import wrap

    lead = len(line) - len(line.lstrip(" "))
    column = _COLUMN.match(line, lead)
    hang = column.end() if column is not None and column.end() <= _MOST_HANG else lead
    return wrap(line, width, subsequent_indent=" " * hang, break_on_hyphens=False) or ("",)


def grid(cells: Sequence[Sequence[str]], right: Sequence[bool], width: int) -> str:
    """Lay a table out, its first row the heads: as wide as it is, or with its cells broken to a width."""
    widths = [max(len(line[n]) for line in cells) for n in range(len(right))]
    if width and sum(widths) + 2 * (len(widths) - 1) > width:
        return _narrow(cells, right, width)
    return "\n".join(
        "  ".join(
            c.rjust(w) if r else c.ljust(w) for c, w, r in zip(line, widths, right, strict=True)
        ).rstrip()
        for line in cells
    )


def _narrow(cells: Sequence[Sequence[str]], right: Sequence[bool], width: int) -> str:
    """Lay it out with cells of several lines, without columns that are empty; or else row by row."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    full = [n for n in range(len(right)) if any(line[n] for line in cells[1:])]
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="")
    for n in full:
        one_word = not any(" " in line[n] for line in cells)
        table.add_column(Text(cells[0][n]), justify="right" if right[n] else "left", no_wrap=one_word)
    for line in cells[1:]:
        table.add_row(*(Text(line[n]) for n in full))
    console = Console(width=width, color_system=None, force_terminal=False, highlight=False)
    with console.capture() as laid:
        console.print(table)
    found = laid.get()
    words = {word for line in cells for n in full for word in line[n].split()}
    if not words <= set(found.split()):
        return _row_by_row(cells, full, width)
    return "\n".join(line.rstrip() for line in found.rstrip("\n").split("\n"))


def _row_by_row(cells: Sequence[Sequence[str]], full: Sequence[int], width: int) -> str:
    """Give every row as a few lines: its first cell, then what the others say, each by its head."""
    from textwrap import wrap

    out = []
    for line in cells[1:]:
        said = [f"{cells[0][n]} {line[n]}" for n in full[1:] if line[n]]
        lead = line[full[0]]
        out += wrap(f"{lead}  {', '.join(said)}", width, subsequent_indent="  ", break_on_hyphens=False)
    return "\n".join(out)
