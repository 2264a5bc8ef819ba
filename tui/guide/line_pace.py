"""How the keys of a line came: by a device or by a hand, and whether its beginning is lost. Pure."""

import math

DEVICE_GAP_S = 0.035
LOST_S = 2.0
"""Digits of one number, typed by a hand, follow each other within that."""
_NUMERIC = frozenset("0123456789.,")


class LinePace:
    """What tells a number from what is left of one."""

    def __init__(self) -> None:
        self._silences = 0  # within the line
        self._fast = 0  # keys in a row at the speed of a device
        self._lost_s = -math.inf  # when a sign was swallowed that may have begun a number
        self._headless = False

    @property
    def by_device(self) -> bool:
        """Whether the last key followed the one before at the speed of a device."""
        return self._fast > 0

    @property
    def doubtful(self) -> bool:
        """Whether the line changed hands, or a sign was swallowed before it."""
        return self._headless or (self._silences > 0 and self._fast >= 2)

    def key(self, gap_s: float, *, paused: bool) -> None:
        """Count a key; `paused` says that silence came before it, within a line."""
        self._fast = self._fast + 1 if gap_s < DEVICE_GAP_S else 0
        self._silences += paused

    def swallowed(self, key: str, at_s: float) -> None:
        """Remember a sign that was not taken, where it may have begun a number."""
        if key in _NUMERIC:
            self._lost_s = at_s

    def found(self) -> None:
        """Forget what was swallowed: its line has ended, or it was no beginning."""
        self._lost_s = -math.inf

    def begins(self, at_s: float) -> None:
        """A line begins now."""
        self._headless = at_s - self._lost_s < LOST_S

    def turned(self) -> None:
        """The sign was turned by a hand: the silence before it is no change of hands."""
        self._silences = 0

    def clear(self) -> None:
        """A line is over, or given up; what was swallowed shortly before still counts."""
        self._silences = self._fast = 0
        self._headless = False
