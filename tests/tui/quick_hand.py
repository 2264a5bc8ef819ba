"""A hand at the quicker process: it reads the screen, waits for the balance to rest, and presses one key."""

import re
import sys
import time
from collections.abc import Callable
from pathlib import Path

from tests.tui.pty_terminal import ScreenTimeout, Terminal

DOSES = "1 pour"
"""Stands among the keys while something is dosed."""
PATIENCE_S = 30.0
SILENCE_S = 0.1
"""By which a hand is told from a device, and more."""
MOST_TURNS = 60
"""So many keys in a row leave an act open at the most: portions of one dose."""
AGAIN_S = 1.0
"""A key that has changed nothing by then is pressed again."""


def started(record: Path, from_s: float) -> Terminal:
    """Start the interface on a record, with time that runs faster."""
    argv = [sys.executable, "-m", "tests.tui.quick_app", str(record), f"{from_s:.1f}"]
    return Terminal(argv, env={"TEXTUAL_ANIMATIONS": "none"})


def act_of(text: str) -> str:
    """Give what a screen asks for, without display, clocks and what hangs on them."""
    lines = text.split("\n")
    moves = re.compile(r"[█▀▄■]|to go |if accepted|tare is|creep|\d:\d\d|STEADY|moving|waiting")
    return "\n".join(line for n, line in enumerate(lines) if n != 1 and not moves.search(line))


class QuickHand:
    """Does at every screen what a careful operator does."""

    def __init__(self, terminal: Terminal) -> None:
        self.terminal = terminal
        self.pressed = 0

    @property
    def text(self) -> str:
        return self.terminal.text

    def sign_in(self, id: str, pin: str, prep: str) -> None:
        """Sign in and go to an open prep."""
        for ask, line in (("Type your id", id), ("Type the PIN", pin)):
            self.terminal.wait_for(ask)
            self.terminal.settle(0.1)
            self.terminal.send(line.encode())
            self.terminal.wait_for(f"({line}|•{{{len(line)}}})▏")
            self.terminal.settle(0.1)
            self.terminal.send(b"\r")
        self.terminal.wait_for(prep)
        self.terminal.settle(0.1)
        found = re.search(rf"(\d)  {prep}", self.text)
        assert found is not None, self.text
        self.terminal.send(found[1].encode())
        self.terminal.wait_for(lambda text: text.startswith(f" {prep} "))

    def play(self, until: Callable[[str], bool]) -> None:
        """Press keys until a screen is reached."""
        same, at = 0, ""
        while not until(self.text):
            self.turn()
            now = act_of(self.text)
            same, at = (same + 1 if now == at else 0), now
            if same > MOST_TURNS:
                raise ScreenTimeout(f"nothing comes of any key; screen:\n{self.text}")

    def turn(self) -> None:
        """Look, wait where a reading must settle, press one key, see what comes of it."""
        before = act_of(self.text)
        key = self._key()
        if not key:
            return
        self.pressed += 1
        self.terminal.send(key)
        doses = DOSES in self.text
        until = time.perf_counter() + AGAIN_S
        while act_of(self.text) == before and time.perf_counter() < until:
            self.terminal.pump(0.02)
            if doses and key != b"\r" and "moving" in self.text:
                return
        self.terminal.settle(0.02, 0.1)

    def _key(self) -> bytes:
        text = self.text
        if found := re.search(r"press (\d) +I have read", text):
            return found[1].encode()
        if re.search(r"^\s+1  ", text, re.MULTILINE):
            return b"1"
        if "pressure, Pa" in text:
            if "-80▏" in text:
                return b"\r"
            self.terminal.send(b"80")
            self.terminal.wait_for("80▏")
            self.terminal.settle(SILENCE_S)
            self.terminal.send(b"-")
            self.terminal.wait_for("-80▏")
            self.terminal.settle(SILENCE_S)
            return b""
        if "Enter take" in text and (DOSES in text or "take the reading" in text):
            if not self._rested():
                return b""
            text = self.text
            if DOSES not in text:
                return b"\r"
            found = re.search(r"to go ([\d.]+) (m?g), too little", text)
            if found is None:
                return b"\r"
            return b"1" if float(found[1]) > self._near(text) else b"2"
        return b"\r"

    def _near(self, text: str) -> float:
        """A third of what is aimed at: nearer than that it is tapped, not poured."""
        aim = re.search(r"aim ([\d.]+) m?g", text)
        return float(aim[1]) / 3.0 if aim is not None else 0.0

    def _rested(self) -> bool:
        """Wait until the display rests; False where something else came meanwhile."""
        before = act_of(self.text)
        deadline = time.perf_counter() + PATIENCE_S
        while not re.search(r"\bSTEADY\b", self.text):
            if act_of(self.text) != before:
                return False
            if time.perf_counter() > deadline:
                raise ScreenTimeout(f"the display never rests; screen:\n{self.text}")
            self.terminal.pump(0.02)
        return True
