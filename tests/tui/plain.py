"""The plain prep in a process of its own, and a person who reads its lines and answers them."""

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

from store.units import number

ROOT = Path(__file__).parents[2]
FAST = """
import sys, time
from datetime import datetime, timedelta
real, sleeps, speed = time.monotonic, time.sleep, 40.0
begun = real()
time.monotonic = lambda: (real() - begun) * speed
time.sleep = lambda s: sleeps(s / speed)
import tui.cli.desk
start = datetime.fromisoformat(sys.argv.pop(1))
tui.cli.desk.now = lambda: start + timedelta(seconds=time.monotonic())
from tui.__main__ import main
main()
"""
"""The command with clocks that run forty times as fast, so that a display settles in a test's time."""


class Teletype:
    """One run of the command, line by line."""

    def __init__(self, record: Path, *words: str, start: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", FAST, start, "--record", str(record), *words],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT, bufsize=0,
            env={**os.environ, "TAREBOOK_TERMINAL": "7F3A", "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        self.said = ""
        self._guard = threading.Timer(240.0, self.process.kill)
        self._guard.daemon = True
        self._guard.start()

    def type(self, line: str) -> None:
        """Type a line and Enter."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{line}\n".encode())

    def read(self) -> str:
        """Give what is said up to the next prompt, or to the end."""
        assert self.process.stdout is not None
        part = b""
        while not re.search(rb"\]\n[^\n]* $", part):
            got = self.process.stdout.read(4096)
            if not got:
                break
            part += got
        text = part.decode()
        self.said += text
        return text

    def interrupt(self) -> None:
        """Press Ctrl-C."""
        self.process.send_signal(signal.SIGINT)

    def end(self) -> tuple[int, str]:
        """Wait for the end: exit code and the last sentence."""
        _, err = self.process.communicate(timeout=60)
        self._guard.cancel()
        return self.process.returncode, err.decode()


def answer(said: str) -> str:
    """Give what a careful reader types after these lines, knowing nothing but the lines."""
    asked = re.findall(r"^\[(.*)\]$", said, re.MULTILINE)[-1]
    if page := re.match(r"([1-9]) I have read this page", asked):
        return page[1]
    if "1 pour" in asked:
        return _portion(said)
    if asked.startswith("1 to"):
        return "1"
    if said.endswith("Pa: ") or "Pa " in said.rsplit("\n", 1)[-1]:
        return "-80"
    return ""


def _portion(said: str) -> str:
    lines = re.findall(r"display (\S+) (\S+)  (steady|not steady)   to go (.*)", said)
    if not lines:
        return "/ "  # nothing came from the balance just now: look again
    shown = lines[-1]
    if shown[3].endswith(", inside"):
        return "" if shown[2] == "steady" else "/ "
    aim = re.findall(r"aim ([0-9.,]+) (\S+)", said)
    left = float(number(shown[3].split()[0]))
    whole = float(number(aim[-1][0])) if aim else 10.0
    if left > 0.3 * whole:
        return "1"
    return "2" if left > 0.12 * whole else "3"


def walk(run: Teletype, *, until: Callable[[str], bool] = lambda said: False, most: int = 400) -> str:
    """Read and answer until the prep ends or something is said; give what was said last."""
    for _ in range(most):
        said = run.read()
        if until(said) or not re.search(r"\]\n[^\n]* $", said):
            return said
        run.type(answer(said))
    raise AssertionError(f"walked in a circle: {run.said[-2000:]}")
