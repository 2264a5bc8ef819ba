"""A balance of a test on a pseudo-terminal port: it sends lines, goes silent, is pulled out and put back."""

import os
import pty
import threading
import time
import tty
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from store.queries import registers
from store.record.record import Record
from tests import site
from tests.tui.prepared import Moment


class Sender:
    """A port under a name of its own, and a thread that sends lines on it."""

    def __init__(self, name: Path) -> None:
        self.name = name
        self.shown = "2.00 mg"
        """What it sends."""
        self._end = self._far = -1
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def __enter__(self) -> Self:
        self.plug()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.pull()

    def plug(self) -> None:
        """Put the cable in."""
        self._end, self._far = pty.openpty()
        tty.setraw(self._far)
        os.set_blocking(self._end, False)
        self.name.unlink(missing_ok=True)
        self.name.symlink_to(os.ttyname(self._far))

    def pull(self) -> None:
        """Pull the cable out."""
        self.end()
        if self._end >= 0:
            os.close(self._end)
            os.close(self._far)
            self._end = -1
        self.name.unlink(missing_ok=True)

    def line(self, text: str) -> float:
        """Send one line; gives the time of its last byte."""
        with suppress(BlockingIOError):  # nobody reads it: a balance would not wait either
            os.write(self._end, f"{text}\r\n".encode())
        return time.perf_counter()

    def begin(self, hz: float) -> None:
        """Send `shown` so often a second, until `end`."""
        self._stop.clear()

        def run() -> None:
            due = time.perf_counter()
            while not self._stop.is_set():
                self.line(self.shown)
                due += 1.0 / hz
                self._stop.wait(max(0.0, due - time.perf_counter()))

        self._thread = threading.Thread(target=run, daemon=True)
        self._thread.start()

    def end(self) -> None:
        """Fall silent."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None


def wired(path: Path, start: Moment, port: Path) -> None:
    """Let the prep of a record go on with a balance on a serial port, as if it had been planned so."""
    with Record.open(path, now=start.clock(), terminal="7F3A") as record:
        row = registers.body(record, "balance", "B-1")
        site.put(record, "balance", {**row, "source": "serial", "port": f"{port} 9600 8N1"})
