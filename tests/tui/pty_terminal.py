"""A program in a pseudo-terminal with an emulated screen: keys go in, what a person would see comes out.

Nothing here sleeps for luck: every wait is for bytes, for a screen, for the pace of a hand, or for the end of
the program. A time stamp is taken when bytes are read, before they are parsed, so the cost of the emulator is
not charged to the program.
"""

import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import termios
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

import pyte

ROOT = Path(__file__).parents[2]
PATIENCE_S = 20.0
"""A screen that has not come by then will not; other work on the machine included."""

# Sequences that pyte 0.8 would print as text or misread; none of them draws anything.
_UNDRAWN = re.compile(
    r"\x1b\[[<>=?][0-9;]*u"  # keyboard protocol push, pop, query
    r"|\x1b\[[?>=]?[0-9;]*\$[a-z]"  # mode queries
    r"|\x1b\[[>=][0-9;]*[a-z]"  # device attributes
    r"|\x1b\[[0-9;]* q"  # cursor shape
    r"|\x1b[P_^].*?\x1b\\"  # device control, application and privacy strings
    r"|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)",  # operating system commands
    re.DOTALL,
)
_PARTIAL = re.compile(r"\x1b(?:\[[0-9;<>=?$ ]*|[P_^\]][^\x07]*)?$", re.DOTALL)
_MODE_QUERY = re.compile(r"\x1b\[\?(\d+)\$p")


class ScreenTimeout(Exception):
    """The screen did not come to match in time, or the program ended; the message carries the screen."""


class Terminal:
    """One program in one pseudo-terminal."""

    def __init__(
        self,
        argv: Sequence[str],
        *,
        columns: int = 80,
        rows: int = 24,
        env: Mapping[str, str] | None = None,
        cwd: Path = ROOT,
    ) -> None:
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.Stream(self.screen)
        self._tail = ""
        self._pending = b""
        self.read_s = 0.0
        """When bytes came last."""
        self.bells = 0
        """How often the bell was rung, by a program that sets no title."""
        kept = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLORTERM", "TAREBOOK_RECORD")}
        size = {"COLUMNS": str(columns), "LINES": str(rows)}
        environment = {**kept, "TERM": "xterm-256color", "LANG": "C.UTF-8", **size, **(env or {})}
        self._fd, other = pty.openpty()
        fcntl.ioctl(self._fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.started_s = time.perf_counter()
        self.process = subprocess.Popen(
            list(argv),
            stdin=other,
            stdout=other,
            stderr=other,
            cwd=cwd,
            env=environment,
            start_new_session=True,
        )
        os.close(other)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.kill()

    def kill(self) -> None:
        """SIGKILL: no handler runs, nothing is put in order."""
        self.process.kill()
        self.process.wait()
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1

    # ---- keys ----

    def send(self, data: bytes) -> float:
        """Write keys; gives the time of the write."""
        at = time.perf_counter()
        while data:
            data = data[os.write(self._fd, data) :]
        return at

    def flood(self, data: bytes, rate: float) -> None:
        """Write bytes one at a time at `rate` per second, reading meanwhile."""
        begin = time.perf_counter()
        for n, byte in enumerate(data):
            while (left := begin + n / rate - time.perf_counter()) > 0:
                self.pump(left)
            self.send(bytes((byte,)))

    # ---- screen ----

    def pump(self, timeout_s: float) -> bool:
        """Read once if anything comes in time; False when nothing came."""
        if not select.select([self._fd], [], [], max(0.0, timeout_s))[0]:
            return False
        try:
            data = os.read(self._fd, 1 << 16)
        except OSError:  # the other end is closed
            data = b""
        if not data:
            with suppress(subprocess.TimeoutExpired):
                self.process.wait(1.0)
            return False
        self.read_s = time.perf_counter()
        self._feed(data)
        return True

    def _feed(self, data: bytes) -> None:
        self.bells += data.count(b"\a")
        data = self._pending + data
        text = data.decode("utf-8", "surrogateescape")
        # A character cut by the read waits for its rest.
        cut = next((n for n in (1, 2, 3) if len(data) >= n and data[-n] >= 0xC0 and text[-1] >= "\udc80"), 0)
        self._pending = data[-cut:] if cut else b""
        text = self._tail + (data[:-cut].decode("utf-8", "surrogateescape") if cut else text)
        hold = _PARTIAL.search(text)
        self._tail = text[hold.start() :] if hold is not None and len(hold[0]) < 4096 else ""
        if self._tail:
            text = text[: -len(self._tail)]
        for match in _MODE_QUERY.finditer(text):
            self.send(f"\x1b[?{match[1]};{2 if match[1] == '2026' else 0}$y".encode())
        before, *rest = text.split("\x1b[6n")
        self._stream.feed(_UNDRAWN.sub("", before))
        for part in rest:
            cursor = self.screen.cursor
            self.send(f"\x1b[{cursor.y + 1};{cursor.x + 1}R".encode())
            self._stream.feed(_UNDRAWN.sub("", part))

    @property
    def text(self) -> str:
        """What stands on the screen."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def wait_for(self, want: str | Callable[[str], bool], timeout_s: float = PATIENCE_S) -> float:
        """Wait until the screen matches a pattern; gives when the decisive bytes were read."""
        holds = want if callable(want) else re.compile(want, re.MULTILINE).search
        deadline = time.perf_counter() + timeout_s
        while not holds(self.text):
            left = deadline - time.perf_counter()
            if left <= 0 or self.process.poll() is not None:
                why = "timed out" if left <= 0 else f"ended with {self.process.returncode}"
                raise ScreenTimeout(f"{why} waiting for {want!r}; screen:\n{self.text}")
            self.pump(min(left, 0.25))
        return self.read_s

    def settle(self, quiet_s: float = 0.1, timeout_s: float = 5.0) -> None:
        """Read until nothing has come for a while."""
        deadline = time.perf_counter() + timeout_s
        while self.pump(quiet_s) and time.perf_counter() < deadline:
            pass

    def ended(self, timeout_s: float = PATIENCE_S) -> int:
        """Wait for the program to end by itself, and give its exit status."""
        deadline = time.perf_counter() + timeout_s
        while self.process.poll() is None and time.perf_counter() < deadline:
            self.pump(0.02)
        return self.process.wait(1.0)
