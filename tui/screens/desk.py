"""What every screen stands on: the record, who is signed in, time and chance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

from store.actions.acting import Acting
from store.errors import NotAllowed
from store.queries import registers
from store.record.record import Record

if TYPE_CHECKING:
    from tui.guide.guide import Guide


@dataclass(slots=True)
class Desk:
    """One terminal at one record; screens are handed it, and change only `person` and `spilled`."""

    record: Record
    path: Path
    now: Callable[[], datetime]
    terminal: str
    monotonic: Callable[[], float]
    chance: Random
    hint: tuple[str, ...] = ()
    """Lines for the sign-in screen of the demo."""
    seed: int = 0
    samples: Callable[[], Path] | None = None
    """Gives the folder of the samples."""
    person: Acting | None = None
    spilled: bool = False
    """The spill card was read while nobody was signed in: the incident is still to be asked for."""

    @property
    def acting(self) -> Acting:
        """Give who is signed in.

        Raises
        ------
        NotAllowed
            Nobody is.
        """
        if self.person is None:
            raise NotAllowed("Nobody is signed in.")
        return self.person

    def settings(self) -> dict[str, str]:
        """Give the settings in force."""
        return registers.settings(self.record)

    def local_time(self, utc: str) -> datetime:
        """Give a stored time in local time, or in UTC where the site shows that."""
        return datetime.fromisoformat(utc).astimezone(self.zone)

    @property
    def zone(self) -> tzinfo | None:
        """The zone that clock times are shown in."""
        return registers.zone(self.record)

    def clock(self) -> str:
        """Give the day of the week and the time, as they stand at the head of a screen."""
        said = " UTC" if registers.shows_utc(self.record) else ""
        return f"{self.now().astimezone(self.zone):%a %H:%M}{said}"

    def guide(self, prep: str) -> Guide:
        """Give the guide of a prep for the person who is signed in, with the balance of its plan."""
        from tui.guide.connected import guide_of

        return guide_of(self.acting, prep, monotonic=self.monotonic, chance=self.chance, seed=self.seed)
