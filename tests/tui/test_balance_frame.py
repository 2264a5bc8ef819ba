"""Frames of a serial port, such as 7E1: what is asked of the port, and seven-bit lines read from one.

A pseudo-terminal has no wire: Linux keeps it at eight bits without parity, whatever is asked, and hands the
eighth bit on. So what the program asks is looked at where it leaves for the port, and the bytes that arrive
are sent as a line with parity carries them.
"""

import termios
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.tui.test_balance_wire import Cable, open_link, row, shown, until
from tui.balance.connect import source
from tui.balance.serial_line import open_port
from tui.balance.settings import wire


@pytest.fixture
def cable(tmp_path: Path) -> Iterator[Cable]:
    made = Cable(tmp_path)
    yield made
    made.pull()


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[list[Any]]:
    """Give the attributes that were asked of any port, the newest last; the port still gets them."""
    found: list[list[Any]] = []
    real = termios.tcsetattr

    def spy(fd: int, when: int, attributes: list[Any]) -> None:
        found.append(list(attributes))
        real(fd, when, attributes)

    monkeypatch.setattr(termios, "tcsetattr", spy)
    return found


def with_parity(text: bytes, *, odd: int = 0) -> bytes:
    """Seven bits and, as the eighth, what makes the number of ones even, or odd."""
    return bytes(b | (((b.bit_count() & 1) ^ odd) << 7) for b in text)


@pytest.mark.parametrize(
    ("frame", "size", "parity", "odd", "two_stops"),
    [
        ("7E1", termios.CS7, True, False, False),
        ("7O1", termios.CS7, True, True, False),
        ("7E2", termios.CS7, True, False, True),
        ("8E1", termios.CS8, True, False, False),
        ("8N1", termios.CS8, False, False, False),
        ("7N2", termios.CS7, False, False, True),
    ],
)
def test_a_frame_reaches_the_port(
    cable: Cable,
    asked: list[list[Any]],
    frame: str,
    size: int,
    parity: bool,
    odd: bool,
    two_stops: bool,
) -> None:
    open_port(wire(f"{cable.name} 2400 {frame}")).close()
    flags, speeds = asked[-1][2], asked[-1][4:6]
    assert flags & termios.CSIZE == size
    assert (bool(flags & termios.PARENB), bool(flags & termios.PARODD)) == (parity, odd)
    assert bool(flags & termios.CSTOPB) is two_stops
    assert speeds == [termios.B2400, termios.B2400]


@pytest.mark.parametrize(("frame", "odd"), [("7E1", 0), ("7O1", 1)])
def test_seven_bit_lines_with_their_parity_bit_are_read(cable: Cable, frame: str, odd: int) -> None:
    of = source(row(f"{cable.name} 2400 {frame}", stable_mark="S"))
    try:
        open_link(of)
        cable.send(with_parity(b"S +   12.50 mg\r\n", odd=odd))
        until(lambda: shown(of) == "12.50")
        sample = of.poll(time.monotonic())
        assert sample is not None
        assert sample.steady
        assert of.lines() == ("S +   12.50 mg",)
    finally:
        of.close()


def test_the_same_line_on_an_eight_bit_port_is_refused_and_the_frame_named_as_the_cause(cable: Cable) -> None:
    of = source(row(f"{cable.name} 2400 8N1"))
    try:
        open_link(of)
        cable.send(with_parity(b"S +   12.50 mg\r\n"))
        until(lambda: (sample := of.poll(time.monotonic())) is not None and bool(sample.fault))
        sample = of.poll(time.monotonic())
        assert sample is not None
        assert not sample.shown
        assert "parity" in sample.fault
    finally:
        of.close()
