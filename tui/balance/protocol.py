"""What every source of readings gives: a name, a kind, and now and then a sample."""

from dataclasses import dataclass
from typing import Literal, Protocol

Kind = Literal["typed", "wedge", "simulated", "serial", "tcp"]

LIVE_S = 1.0
"""A sample older than this is never taken for what the display shows now."""
RAW_LINES = 20
"""Raw lines kept around an acceptance."""


@dataclass(frozen=True, slots=True)
class Sample:
    """What a display showed at one moment."""

    shown: str
    """The digits as displayed, sign included, without unit; empty where there is no number (see `fault`)."""
    steady: bool
    at_s: float
    """Monotonic time."""
    unit: str = "mg"
    fault: str = ""
    """Why there is no number: overload, an error of the balance."""
    raw: str = ""
    """The line it was read from, where there was one."""

    def live(self, now_s: float) -> bool:
        """Whether it may stand for what the display shows now.

        >>> Sample("12.50", True, 7.0).live(8.0), Sample("12.50", True, 7.0).live(8.1)
        (True, False)
        """
        return not self.fault and bool(self.shown) and 0.0 <= now_s - self.at_s <= LIVE_S


class Balance(Protocol):
    """A source of readings."""

    @property
    def name(self) -> str:
        """Which balance of the register."""

    @property
    def kind(self) -> Kind:
        """Where its readings come from; stands in the record beside each of them."""

    def poll(self, at_s: float) -> Sample | None:
        """Give what the display shows now, or None where nothing is known; never waits."""

    def lines(self) -> tuple[str, ...]:
        """Give the last raw lines, oldest first; empty where readings are no lines."""

    def state(self) -> str:
        """Say in a sentence what is wrong with the link; empty while nothing is."""

    def close(self) -> None:
        """Let go of ports and threads."""
