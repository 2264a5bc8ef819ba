"""The plain prep at a terminal while the display goes on: bell, count-down, keys one by one."""

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest

from store import events as ev
from store.actions import planning
from store.record.record import Record
from tests import site
from tests.tui.plain import FAST
from tests.tui.pty_terminal import Terminal
from tui.guide.player import Player

PREP = "P-7F3A-0001"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A prep at the page before its first reading, at a site where readings may be taken by themselves."""
    path, clock = tmp_path / "r.tarebook", site.TestClock()
    with site.begin(path, clock) as record:
        site.put(record, "setting", {"id": "take_by_itself", "value": "readings"})
        site.put(record, "setting", {"id": "take_seconds", "value": "60"})  # the test's clock is fast
        guide = site.guide(record, planning.write(site.acting(record), site.PLAN), clock)
        Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(
            until=lambda g: g.on_page and g.state.act is not None and g.state.act.key == "zero"
        )
    return path


@pytest.fixture
def terminal(place: Path) -> Iterator[Terminal]:
    argv = [sys.executable, "-c", FAST, "2026-03-02T09:30:00+00:00", "--record", str(place)]
    with Terminal(
        [*argv, "prep", PREP, "--plain", "--as", "op-1", "--pin-stdin"],
        columns=90,
        rows=60,
        env={"TAREBOOK_TERMINAL": "7F3A", "PYTHONUNBUFFERED": "1"},
    ) as made:
        made.send(b"1111\n")
        yield made


def readings(place: Path) -> list[ev.Read]:
    with Record.open(place, now=site.TestClock(), terminal="7F3A", write=False) as record:
        return [e.event for e in record.entries(subject=f"prep:{PREP}") if isinstance(e.event, ev.Read)]


def test_any_key_stops_the_count_down_and_one_that_ends_takes_the_reading(
    terminal: Terminal, place: Path
) -> None:
    terminal.wait_for(r"I have read this page[^\n]*\n>")
    digit = re.findall(r"^\[(\d) I have", terminal.text, re.MULTILINE)[-1]
    # A sign erased, a function key: the line is what stands there.
    terminal.send(f"x\x7f\x1b[20~{digit}\n".encode())
    terminal.wait_for("taken by itself in 60 s: any key stops it")
    assert terminal.bells == 2  # steady and inside
    assert readings(place) == []
    terminal.send(b"5")
    terminal.wait_for("The count-down is stopped: Enter takes it")
    terminal.settle(0.3)
    assert readings(place) == []  # the key did nothing else
    assert terminal.text.count("any key stops it") == 1
    terminal.send(b"\n")
    terminal.wait_for(r"check weight")
    terminal.wait_for(r"taken by itself: 20000\.\d\d mg")
    first, second = readings(place)
    assert "taken" not in first.conditions
    assert (second.source, second.conditions["taken"]) == ("simulated", "by itself")


def test_a_refusal_rings_three_times_and_the_typed_line_is_left_alone(terminal: Terminal) -> None:
    terminal.wait_for(r"I have read this page[^\n]*\n>")
    digit = re.findall(r"^\[(\d) I have", terminal.text, re.MULTILINE)[-1]
    terminal.send(f"{digit}\n".encode())
    terminal.wait_for("taken by itself in 60 s")
    terminal.send(b"7")
    terminal.wait_for("The count-down is stopped")
    terminal.settle(0.3)
    before = terminal.bells
    terminal.send(b"12,34,5")
    terminal.settle(0.3)
    assert terminal.text.rstrip().endswith("12,34,5")
    terminal.send(b"\n")
    terminal.wait_for(r"!! .*12,34,5")
    terminal.settle(0.3)
    assert terminal.bells - before == 3
