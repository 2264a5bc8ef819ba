"""An event loop that waits for nothing: where all are asleep, the clock goes on to the first that wakes.

Screens tell a hand from a device by silence, so that a test of one would mostly wait. Here a pause of 0.3 s
takes no time, and everything happens in the order, and at the times, in which it would have happened. While
another thread is at work its end is not known, so then time goes by as it does.
"""

import asyncio
import selectors
import threading
import time


class _Clock:
    ahead_s = 0.0

    def __call__(self) -> float:
        return time.monotonic() + self.ahead_s


now = _Clock()
"""What the loop and textual go by."""


class _Selector(selectors.DefaultSelector):
    def __init__(self) -> None:
        super().__init__()
        self._threads = threading.active_count()

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        ready = super().select(0)
        if ready or timeout is None or timeout <= 0 or threading.active_count() > self._threads:
            return ready or super().select(timeout)
        now.ahead_s += timeout
        return []


class QuickLoop(asyncio.SelectorEventLoop):
    """Gives its sleepers what they sleep for at once, one after the other."""

    def __init__(self) -> None:
        super().__init__(_Selector())

    def time(self) -> float:
        """Give the time by which it wakes sleepers."""
        return now()
