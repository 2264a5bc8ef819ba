"""The step screen in a real terminal with a balance on a real port: lost, silent, flooded, and live again."""

import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from store import events as ev
from store.record.record import Record
from tests import site
from tests.tui.prepared import Moment, moments
from tests.tui.pty_hand import ENTER, Hand, tarebook
from tests.tui.pty_port import Sender, wired
from tests.tui.pty_terminal import Terminal


@pytest.fixture
def port(tmp_path: Path) -> Iterator[Sender]:
    with Sender(tmp_path / "port") as made:
        yield made


def at_dose(terminal: Terminal, start: Moment) -> Hand:
    """Sign in and go to the dose; what is shown comes from the port."""
    hand = Hand(terminal)
    hand.sign_in("11", site.PINS["op-1"])
    hand.open_prep(start.prep)
    while "Dose potassium" not in hand.text:
        hand.turn()
    return hand


def doses(path: Path, start: Moment) -> list[ev.Dosed]:
    with Record.open(path, now=start.clock(), terminal="7F3A", write=False) as record:
        entries = record.entries(subject=f"prep:{start.prep}")
        return [e.event for e in entries if isinstance(e.event, ev.Dosed)]


def silent_s(text: str) -> int:
    """Give for how many seconds the screen says that the balance is silent; 0 where it does not."""
    found = re.search(r"is silent for (\d+) s", text)
    return int(found[1]) if found is not None else 0


def test_a_link_lost_and_found_at_the_dose_never_shows_an_old_reading_as_live(
    tmp_path: Path, port: Sender
) -> None:
    start = moments(now=True)["3-dose"]
    path = start.copy(tmp_path / "r.tarebook")
    wired(path, start, port.name)
    port.shown = "2.00 mg"
    port.begin(20)
    with tarebook(path) as terminal:
        hand = at_dose(terminal, start)
        terminal.wait_for("to go 8.01 mg, too little")

        port.end()  # silence
        quiet = time.perf_counter()
        terminal.wait_for("is silent for")
        terminal.wait_for(lambda text: "to go" not in text and "if accepted now" not in text)
        assert time.perf_counter() - quiet < 3.0, "more than a second and the beats of the screen"
        said_s = silent_s(terminal.text)
        hand.press(ENTER)
        terminal.wait_for(lambda text: silent_s(text) >= said_s + 2)  # so long after Enter it is dealt with
        assert not [d for d in doses(path, start) if d.content == "solid"]

        port.shown = "3.00 mg"
        port.begin(20)
        terminal.wait_for("to go 7.01 mg, too little")  # live again by itself
        terminal.wait_for(lambda text: "is silent for" not in text)  # what Enter led to is over

        port.pull()
        terminal.wait_for(r"is not reached for \d s \(there is no such port\)")
        terminal.wait_for(lambda text: "to go" not in text)
        hand.press(b"9")
        terminal.wait_for("reading, mg: 9▏")  # by hand meanwhile
        terminal.send(b"\x7f")
        terminal.wait_for("reading, mg: ▏")

        port.plug()
        port.shown = "4.00 mg"
        port.begin(20)
        terminal.wait_for("to go 6.01 mg, too little")
        hand.press(b"8")
        terminal.wait_for("typing")
        terminal.send(b"\x7f")
        terminal.wait_for(lambda text: "typing" not in text and "reading, mg:" not in text)

        port.end()
        port.shown = "10.02 mg"
        port.begin(1000)  # a thousand lines a second
        terminal.wait_for("to go -0.01 mg, inside")
        terminal.wait_for("STEADY")
        before = terminal.text
        hand.press(b"*")
        terminal.wait_for("Keys on the numeric pad do everything")
        hand.press(b"-")
        terminal.wait_for("STEADY")
        assert "to go" in before
        hand.press(ENTER)
        terminal.wait_for("Close container")
    (dose,) = [d for d in doses(path, start) if d.content == "solid"]
    assert (dose.shown, dose.source, dose.steady) == ("10.02 mg", "serial", True)
    lines = dose.computed["stream"]["lines"]
    assert 3 <= len(lines) <= 20
    assert all("10.02 mg" in line for line in lines)


def test_a_dose_typed_while_the_link_is_lost_is_marked_as_typed(tmp_path: Path, port: Sender) -> None:
    start = moments(now=True)["3-dose"]
    path = start.copy(tmp_path / "r.tarebook")
    wired(path, start, port.name)
    with tarebook(path) as terminal:
        hand = at_dose(terminal, start)
        port.pull()
        terminal.wait_for("is not reached for|is silent for")
        hand.type("10.01")
        terminal.wait_for("if accepted now")
        assert re.search(r"\btyped\b", terminal.text)
        assert "STEADY" not in terminal.text
        hand.press(ENTER)
        terminal.wait_for("Close container")
    (dose,) = [d for d in doses(path, start) if d.content == "solid"]
    assert (dose.shown, dose.source) == ("10.01 mg", "typed")
    assert "stream" not in dose.computed


def test_lines_of_two_balances_and_garbage_on_one_port_give_no_reading(tmp_path: Path, port: Sender) -> None:
    start = moments(now=True)["3-dose"]
    path = start.copy(tmp_path / "r.tarebook")
    wired(path, start, port.name)
    port.shown = "10.02 mg 18.44 mg"
    port.begin(20)
    with tarebook(path) as terminal:
        hand = at_dose(terminal, start)
        terminal.wait_for("holds more than one number")
        hand.press(ENTER)
        terminal.settle(0.3)
        assert "Close container" not in terminal.text
    assert not [d for d in doses(path, start) if d.content == "solid"]
