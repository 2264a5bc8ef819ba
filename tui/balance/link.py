"""A balance on a wire: a thread reads and reconnects, the screen asks for the last sample and never waits."""

import threading
from collections import deque
from collections.abc import Callable
from time import monotonic
from typing import Protocol

from tui.balance.protocol import LIVE_S, RAW_LINES, Kind, Sample
from tui.balance.settings import Manner, Wire
from tui.balance.stream import Heard, Splitter, Steadiness, sample, understand

RECONNECT_S = 1.0
READ_S = 0.1
CLOSE_S = 0.5


class Port(Protocol):
    """An open link."""

    def read(self) -> bytes:
        """Give what arrived, after waiting a tenth of a second at the most; raise OSError when it is lost."""

    def write(self, data: bytes) -> None:
        """Send."""

    def close(self) -> None:
        """Let go."""


Open = Callable[[Wire], Port]


class Link:
    """A balance that sends lines."""

    def __init__(
        self,
        name: str,
        kind: Kind,
        wire: Wire,
        how: Manner,
        opens: Open,
        *,
        clock: Callable[[], float] = monotonic,
        heard: Callable[[Heard], None] | None = None,
    ) -> None:
        self.name, self.kind = name, kind
        self._wire, self._how, self._opens, self._clock = wire, how, opens, clock
        self._tell = heard
        self._lock = threading.Lock()
        self._sample: Sample | None = None
        self._raw: deque[str] = deque(maxlen=RAW_LINES)
        self._lost = ""
        self._since_s = clock()
        self._ends = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"balance {name}", daemon=True)
        self._thread.start()

    def poll(self, at_s: float) -> Sample | None:
        """Give the last sample, or None where it is too old to be what the display shows now."""
        with self._lock:
            last = self._sample
        return last if last is not None and at_s - last.at_s <= LIVE_S else None

    def lines(self) -> tuple[str, ...]:
        """Give the last raw lines, oldest first, controls written as escapes."""
        with self._lock:
            return tuple(self._raw)

    def state(self) -> str:
        """Say what is wrong with the link, in a sentence; empty while nothing is."""
        now_s = self._clock()
        with self._lock:
            lost, since_s, last = self._lost, self._since_s, self._sample
        if lost:
            for_s = now_s - since_s
            return (
                f"Balance {self.name} is not reached for {for_s:.0f} s ({lost}): type the readings, "
                "the link comes back by itself."
            )
        quiet_s = now_s - max(since_s, last.at_s if last is not None else since_s)
        if quiet_s > LIVE_S:
            return (
                f"Balance {self.name} is silent for {quiet_s:.0f} s: look at its cable, or type the readings."
            )
        return last.fault if last is not None else ""

    def close(self) -> None:
        """Let go of the port and end the thread; who closes does not wait for a connection that hangs."""
        self._ends.set()
        self._thread.join(timeout=CLOSE_S)

    # ---- the thread ----

    def _run(self) -> None:
        while not self._ends.is_set():
            try:
                port = self._opens(self._wire)
            except OSError as error:
                self._say_lost(error)
                self._ends.wait(RECONNECT_S)
                continue
            try:
                self._listen(port)
            except OSError as error:
                self._say_lost(error)
                self._ends.wait(RECONNECT_S)
            finally:
                port.close()

    def _say_lost(self, error: OSError) -> None:
        with self._lock:
            if not self._lost:
                self._since_s = self._clock()
            self._lost = (error.strerror or str(error) or type(error).__name__).splitlines()[0]

    def _listen(self, port: Port) -> None:
        now_s = self._clock()
        with self._lock:
            self._lost, self._since_s = "", now_s
        asks = bool(self._wire.poll)
        cut = Splitter(now_s, whole_from_start=False, seven_bits=self._wire.bits == 7)
        rest, asked_s = Steadiness(), now_s - self._wire.every_s
        while not self._ends.is_set():
            if asks and self._clock() - asked_s >= self._wire.every_s:
                asked_s = self._clock()
                port.write(self._wire.poll)
            data = port.read()
            if not data:
                continue
            at_s = self._clock()
            for raw in cut.feed(data, at_s):
                self._take(understand(raw, self._how, at_s), rest)

    def _take(self, heard: Heard, rest: Steadiness) -> None:
        steady = rest.take(heard.reading, heard.at_s) if heard.reading is not None else False
        with self._lock:
            self._raw.append(repr(heard.raw)[2:-1])
            self._sample = sample(heard, steady=steady)
        if self._tell is not None:
            self._tell(heard)
