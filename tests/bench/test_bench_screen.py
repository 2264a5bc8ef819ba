"""What a person waits for, against a floor in the same run: first screen, a key, a question from the shell.

Run by hand: `pytest -m bench -s tests/bench/test_bench_screen.py`. Everything is timed in an environment
without numpy, which would be imported by parts that find it: TAREBOOK_BENCH_PYTHON names one, else a fresh
one is made (that takes a minute and the package index).
"""

import os
import re
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from tests import site
from tests.tui.prepared import moments
from tests.tui.pty_hand import Hand
from tests.tui.pty_port import Sender, wired
from tests.tui.pty_terminal import ROOT, Terminal

pytestmark = pytest.mark.bench

EMPTY = """
import sqlite_utils
from textual.app import App
from textual.widgets import Static
class Empty(App):
    ENABLE_COMMAND_PALETTE = False
    def compose(self):
        yield Static("ready")
Empty().run(mouse=False)
"""
ONE_INPUT = """
from textual.app import App
from textual.widgets import Input, Static
class Empty(App):
    ENABLE_COMMAND_PALETTE = False
    def compose(self):
        yield Static("ready")
        yield Input()
Empty().run(mouse=False)
"""
TYPED_LINE = (r"reading, mg: {0}▏", r"reading, mg: ▏")
TYPED_OVER = (r"  typing", r"  (STEADY|moving)")
"""What a digit and a backspace show: on the line, or in the big digits over what is live."""
ENV = {"TAREBOOK_TERMINAL": "7F3A", "TEXTUAL_ANIMATIONS": "none", "PYTHONDONTWRITEBYTECODE": ""}
"""Compiled once, as an installed program is."""


@pytest.fixture(scope="module")
def lean(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Give a Python with Tarebook and what it needs at run time, and nothing else."""
    if named := os.environ.get("TAREBOOK_BENCH_PYTHON"):
        python = named
    else:
        place = tmp_path_factory.mktemp("lean")
        subprocess.run([sys.executable, "-m", "venv", str(place)], check=True)
        python = str(place / "bin" / "python")
        subprocess.run([python, "-m", "pip", "install", "-q", "-e", str(ROOT)], check=True)
    found = subprocess.run([python, "-c", "import numpy"], capture_output=True, check=False)
    assert found.returncode != 0, "numpy is in this environment"
    return python


def _ms(seconds: Sequence[float]) -> str:
    ordered = sorted(1000 * s for s in seconds)
    return f"least {ordered[0]:.0f}, median {statistics.median(ordered):.0f} ms"


def _p95(seconds: Sequence[float]) -> float:
    return sorted(seconds)[int(0.95 * len(seconds))]


def _in_turn(rounds: int, *what: Callable[[], float]) -> list[list[float]]:
    """Time several things one after the other, so that what else the machine does hits each."""
    for one in what:
        one()
    return [list(row) for row in zip(*([one() for one in what] for _ in range(rounds)), strict=True)]


def _first_screen(argv: Sequence[str], ready: str) -> float:
    with Terminal(argv, env=ENV) as terminal:
        return terminal.wait_for(ready) - terminal.started_s


def test_the_first_screen_stands_almost_as_soon_as_that_of_an_empty_app(lean: str, tmp_path: Path) -> None:
    path = moments(now=True)["planned"].copy(tmp_path / "r.tarebook")
    ours, floor = _in_turn(
        15,
        lambda: _first_screen([lean, "-m", "tui", "--record", str(path)], "Type your id"),
        lambda: _first_screen([lean, "-c", EMPTY], "ready"),
    )
    ratio = statistics.median(ours) / statistics.median(floor)
    print(f"\nfirst screen: {_ms(ours)}; empty app: {_ms(floor)}: {ratio:.2f} x (reach 1.25)")
    assert ratio <= 1.25


def _keys(terminal: Terminal, shown: str, empty: str, digit: str) -> list[float]:
    """Time a digit and a backspace until the screen shows what they did."""
    taken = []
    for key, wanted in ((digit.encode(), shown.format(digit)), (b"\x7f", empty)):
        at = terminal.send(key)
        taken.append(terminal.wait_for(wanted) - at)
        terminal.settle(0.03, 0.1)
    return taken


def _at_the_dose(terminal: Terminal, prep: str) -> None:
    hand = Hand(terminal)
    hand.sign_in("11", site.PINS["op-1"])
    hand.open_prep(prep)
    while "Dose potassium" not in hand.text:
        hand.turn()
    until = time.perf_counter() + 1.3  # a digit that acknowledged may still be held
    while time.perf_counter() < until:
        terminal.pump(0.1)


@pytest.mark.parametrize("stream_hz", [0, 50])
def test_a_key_shows_almost_as_soon_as_in_an_empty_app_with_one_input(
    lean: str, tmp_path: Path, stream_hz: int
) -> None:
    """At the dose, where every digit is drawn big and the step screen is at its fullest; each key in turn."""
    start = moments(now=True)["3-dose"]
    path = start.copy(tmp_path / "r.tarebook")
    with Sender(tmp_path / "port") as port:
        if stream_hz:
            wired(path, start, port.name)
            port.begin(stream_hz)
        with (
            Terminal([lean, "-c", ONE_INPUT], env=ENV) as empty,
            Terminal([lean, "-m", "tui", "--record", str(path)], env=ENV) as terminal,
        ):
            empty.wait_for("ready")
            _at_the_dose(terminal, start.prep)
            ours, floor = [], []
            for n in range(150):
                digit = str(n % 9 + 1)
                ours += _keys(terminal, *(TYPED_OVER if stream_hz else TYPED_LINE), digit)
                floor += _keys(empty, r"▊ +{0} ", r"▊ {10}", digit)
    ratio = _p95(ours) / _p95(floor)
    print(
        f"\nkey to screen, stream {stream_hz} Hz: median {1000 * statistics.median(ours):.1f}, "
        f"p95 {1000 * _p95(ours):.1f} ms; "
        f"one Input: {1000 * statistics.median(floor):.1f}, {1000 * _p95(floor):.1f} ms: "
        f"{ratio:.2f} x (reach 1.3)"
    )
    if not stream_hz:
        assert ratio <= 1.3


def test_a_line_on_the_port_is_on_the_screen_within_a_beat_or_two(lean: str, tmp_path: Path) -> None:
    """From the last byte of a line on the port to its digits on the screen."""
    start = moments(now=True)["3-dose"]
    path = start.copy(tmp_path / "r.tarebook")
    with Sender(tmp_path / "port") as port:
        wired(path, start, port.name)
        with Terminal([lean, "-m", "tui", "--record", str(path)], env=ENV) as terminal:
            port.begin(20)
            _at_the_dose(terminal, start.prep)
            port.end()
            taken = []
            for n in range(100):
                at = port.line(f"{2 + n / 100:.2f} mg")
                shown = f"to go {10.01 - 2 - n / 100:.2f} mg"
                taken.append(terminal.wait_for(re.escape(shown)) - at)
                terminal.settle(0.02, 0.06)
    print(f"\nline to digits: median {1000 * statistics.median(taken):.0f}, p95 {1000 * _p95(taken):.0f} ms")
    assert _p95(taken) <= 0.15, "three beats of 50 ms"


def test_a_stream_of_20_lines_a_second_takes_a_small_share_of_a_processor(lean: str, tmp_path: Path) -> None:
    start = moments(now=True)["3-dose"]
    path = start.copy(tmp_path / "r.tarebook")
    with Sender(tmp_path / "port") as port:
        wired(path, start, port.name)
        with Terminal([lean, "-m", "tui", "--record", str(path)], env=ENV) as terminal:
            port.begin(20)
            _at_the_dose(terminal, start.prep)
            shares = []
            for _ in range(3):
                before, at = _cpu_s(terminal.process.pid), time.perf_counter()
                while time.perf_counter() - at < 10.0:
                    terminal.pump(0.1)
                shares.append((_cpu_s(terminal.process.pid) - before) / (time.perf_counter() - at))
    print(f"\nprocessor share at 20 lines a second: {', '.join(f'{100 * s:.0f} %' for s in shares)}")
    assert statistics.median(shares) < 0.5


def _cpu_s(pid: int) -> float:
    """Processor time of a process so far, as Linux counts it."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _run(argv: Sequence[str]) -> float:
    begin = time.perf_counter()
    subprocess.run(argv, env={**os.environ, **ENV}, cwd=ROOT, capture_output=True, check=True)
    return time.perf_counter() - begin


@pytest.mark.parametrize("question", ["preps", "exposures", "due", "show P-7F3A-0001"])
def test_a_question_from_the_shell_costs_little_more_than_its_libraries(
    lean: str, tmp_path: Path, question: str
) -> None:
    path = moments(now=True)["10-end"].copy(tmp_path / "r.tarebook")
    ours, floor = _in_turn(
        15,
        lambda: _run([lean, "-m", "tui", "--record", str(path), *question.split()]),
        lambda: _run([lean, "-c", "import click, sqlite_utils"]),
    )
    ratio = statistics.median(ours) / statistics.median(floor)
    print(f"\n{question}: {_ms(ours)}; click and sqlite_utils: {_ms(floor)}: {ratio:.2f} x (reach 1.3)")
    assert ratio <= 1.3
