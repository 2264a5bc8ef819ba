"""What the shell prints at a terminal is broken between words; a file or a pipe gets it whole."""

import sys

import pytest

from tests.tui.pty_terminal import Terminal
from tui.cli import fit

CELLS = (
    ("what", "id", "name", "mg"),
    ("safety data sheet", "substance TP-417", "river transformation product 417", "1.25"),
    ("check", "balance B-2", "micro balance in glovebox 2", "12.50"),
)
RIGHT = (False, False, False, True)
WORDS = {word for line in CELLS[1:] for cell in line for word in cell.split()}


@pytest.mark.parametrize("width", [0, 200])
def test_a_table_that_has_room_is_as_wide_as_its_cells(width: int) -> None:
    lines = fit.grid(CELLS, RIGHT, width).split("\n")
    assert len(lines) == len(CELLS)
    assert lines[1] == "safety data sheet  substance TP-417  river transformation product 417   1.25"


@pytest.mark.parametrize("width", [72, 60, 44, 30])
def test_a_table_without_room_keeps_to_the_width_and_every_word_whole(width: int) -> None:
    laid = fit.grid(CELLS, RIGHT, width)
    assert max(map(len, laid.split("\n"))) <= width
    assert not WORDS - {word.rstrip(",") for word in laid.split()}


def test_an_empty_column_takes_no_room_from_the_others() -> None:
    cells = (("what", "note", "id"), ("x" * 30, "", "y" * 30))
    assert "note" not in fit.grid(cells, (False, False, False), 66)
    assert "note" in fit.grid(cells, (False, False, False), 80)


def test_a_long_line_goes_on_under_its_column() -> None:
    assert fit.text("hazards   " + "Danger H350 " * 4, 30).split("\n") == [
        "hazards   Danger H350 Danger",
        "          H350 Danger H350",
        "          Danger H350",
    ]
    assert fit.text("short\n\n  kept as it is", 30) == "short\n\n  kept as it is"
    assert fit.text("x" * 100, 0) == "x" * 100


def test_a_sum_is_printed_in_a_terminal_without_a_broken_word() -> None:
    argv = [sys.executable, "-m", "tui", "calc", "water-density", "--celsius", "20"]
    with Terminal(argv, columns=50, env={}) as terminal:
        terminal.wait_for(r"^source.*\n +\S")
        terminal.settle(0.3)
        shown = terminal.text
    assert {"Tanaka", "recommended"} <= set(shown.split())
