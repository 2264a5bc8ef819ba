"""A hand at the keypad of a pseudo-terminal: it reads the screen as people do and presses the usual key."""

import re
import sys
import time
from pathlib import Path
from random import Random

from tests.tui.pty_terminal import PATIENCE_S, ScreenTimeout, Terminal

ENTER = b"\r"
BETWEEN_S = 0.2
"""Between two keys of a hand: more than the silence by which hand and device are told apart."""
BETWEEN_ENTERS_S = 0.45
"""Enter bounces, and counts once in 0.4 s."""
HELD_S = 1.05
"""A digit that chose, pressed again within a second, is taken for one that is still held."""
VESSEL_MG = 12034.52


def tarebook(record: Path, *, size: tuple[int, int] = (80, 24)) -> Terminal:
    """Start Tarebook on a record, as a person does."""
    argv = [sys.executable, "-m", "tui", "--record", str(record)]
    env = {"TAREBOOK_TERMINAL": "7F3A", "TEXTUAL_ANIMATIONS": "none"}
    return Terminal(argv, columns=size[0], rows=size[1], env=env)


class Hand:
    """Presses keys at the pace of a hand, only those of a keypad, and waits for what they do."""

    def __init__(self, terminal: Terminal) -> None:
        self.terminal = terminal
        self.pressed = b""
        self._key_s = 0.0
        self._again_s: dict[bytes, float] = {}
        """From when on a key is not taken for one that is held or bounces."""
        self._should = ""
        """What a reading that was refused should have been: typed the next time."""
        self.doses: list[str] = []
        """Readings typed at a dose and taken, as the screen went on from them."""

    @property
    def text(self) -> str:
        return self.terminal.text

    def press(self, key: bytes) -> None:
        """Press one key."""
        due = max(self._key_s + BETWEEN_S, self._again_s.get(key, 0.0))
        while (left := due - time.perf_counter()) > 0:
            self.terminal.pump(left)
        self.pressed += key
        self._key_s = self.terminal.send(key)
        self._again_s[key] = self._key_s + (BETWEEN_ENTERS_S if key == ENTER else HELD_S)

    def type(self, text: str) -> None:
        """Type a line quickly, as people do a number; see it stand there; press Enter; see it go."""
        self.press(text[:1].encode())
        self.pressed += text[1:].encode()
        self.terminal.send(text[1:].encode())
        self._key_s = time.perf_counter()
        self.terminal.wait_for(f"({re.escape(text)}|•{{{len(text)}}})▏")
        self.press_and_see(ENTER)

    def press_and_see(self, key: bytes) -> None:
        """Press a key and wait until the screen is another one; a key that was too early is pressed again."""
        before = _still(self.text)
        for _ in range(3):
            self.press(key)
            try:
                self.terminal.wait_for(lambda text: _still(text) != before, PATIENCE_S / 3)
            except ScreenTimeout:
                if self.terminal.process.poll() is not None:
                    raise
                continue
            self.terminal.settle(0.06, 1.0)
            return
        raise ScreenTimeout(f"{key!r} did nothing; screen:\n{self.text}")

    # ---- the way in ----

    def sign_in(self, number: str, pin: str) -> None:
        """Sign in with a keypad number and a PIN."""
        self.terminal.wait_for("Type your id")
        self.terminal.settle(0.2)
        self.type(number)
        self.terminal.wait_for("Type the PIN")
        self.type(pin)
        self.terminal.wait_for("^ Bench")
        self.terminal.settle(0.2)

    def open_prep(self, prep: str) -> None:
        """Go to an open prep from the bench, by the digit beside it."""
        found = re.search(rf"(\d)  {prep}", self.text)
        assert found is not None, self.text
        self.press(found[1].encode())
        self.terminal.wait_for(lambda text: text.startswith(f" {prep} "))
        self.terminal.settle(0.2)

    # ---- a prep ----

    def usual(self) -> tuple[str, bytes]:
        """Say what the screen wants: a line to be typed before Enter, or one key."""
        text = self.text
        if found := re.search(r"press (\d) +I have read", text):
            return "", found[1].encode()
        if "if accepted now" in text:
            return "", ENTER
        if re.search(r"^\s+1  ", text, re.MULTILINE):
            if found := re.search(r"It should be (-?\d+\.\d+)", text):
                self._should = found[1]
            return "", b"1"
        if re.search(r"pressure, Pa: \S*▏", text):
            return "-80", ENTER
        if re.search(r"reading, mg: \S*▏", text):
            return self._reading(text), ENTER
        return "", ENTER

    def turn(self) -> None:
        """Do what the screen wants, and see what comes of it."""
        line, key = self.usual()
        if line:
            self.type(line)
            return
        dosed = self._dosing()
        self.press_and_see(key)
        # A line that comes or goes at the foot is a change too: taken is what the act went on from.
        if dosed is not None and self._dosing() != dosed:
            self.doses.append(f"{dosed[1]} mg")

    def _dosing(self) -> tuple[str, str] | None:
        """Give what is dosed where, and the aim; None at any other act."""
        found = re.search(r"─\n(.+?)\n aim (\S+) mg", self.text, re.S)
        return (found[1], found[2]) if found is not None and "if accepted now" in self.text else None

    def begin_a_turn(self, chance: Random) -> None:
        """Begin to do what the screen wants, and see nothing of it: a line half typed, a key just pressed."""
        line, key = self.usual()
        if line:
            self.press(line[:1].encode())
            self.terminal.send(line[1 : chance.randint(1, len(line))].encode())
        if not line or chance.random() < 0.5:
            self.press(key)
        until = time.perf_counter() + chance.uniform(0.0, 0.2)
        while (left := until - time.perf_counter()) > 0:
            self.terminal.pump(left)

    def _reading(self, text: str) -> str:
        text = " ".join(text.split())
        if found := re.search(r"aim (\S+) mg", text):
            return found[1]
        if found := re.search(r"should show about (-?\d+\.\d+)", text):
            return found[1]
        if "Seal vessel" in text:
            return f"{VESSEL_MG + 20_000:.2f}"
        if re.search(r"check weight of \d", text):
            return "20000.00"
        if "put the empty vessel" in text:
            return f"{VESSEL_MG:.2f}"
        should, self._should = self._should, ""
        return should or "0.00"


def _still(text: str) -> str:
    """The screen without its clocks."""
    return re.sub(r"(open|left today|warm) +\d+:\d\d\??|\d\d:\d\d(:\d\d)?", "", text)
