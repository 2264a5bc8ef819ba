"""What each view of the exposure log lists: its columns and its rows."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

from store.queries import duty, exposures, incidents, monitoring, totals
from store.queries.asked import Asked
from store.queries.rolled import By
from tui.commands import WHICH
from tui.screens import exposure_rows as shaped
from tui.screens.desk import Desk
from tui.widgets.table_page import Column, Row

LOOKED_THROUGH = 5000
"""Words are looked for in so many handlings; a screen waits no longer."""


@dataclass(frozen=True, slots=True)
class Listed:
    """Which handlings are asked for, and the view of them that is listed."""

    desk: Desk
    asked: Asked
    which: Mapping[str, str]
    """The choice that `asked` was put together from, by filter."""
    view: str
    by: By
    """What sums are by."""
    wide: bool = field(kw_only=True)

    @property
    def columns(self) -> tuple[Column, ...]:
        """The columns of the view."""
        columns: dict[str, tuple[Column, ...]] = {
            "handlings": shaped.WIDE_HANDLINGS if self.wide else shaped.HANDLINGS,
            "incidents": shaped.WIDE_INCIDENTS if self.wide else shaped.INCIDENTS,
            "sums": shaped.SUMS if self._has_mass else shaped.TIMES,
            "measured": shaped.MEASURED,
            "without names": shaped.NAMELESS,
        }
        return columns[self.view]

    @property
    def _has_mass(self) -> bool:
        """Whether masses add up: those of one substance do."""
        return self.by == "substance" or bool(self.which["substance"])

    def rows(self, find: str, offset: int, most: int, *, say: Callable[[str], None]) -> Sequence[Row]:
        """Give rows of the view that hold the words; `say` is told where not all was looked through."""
        record, local = self.desk.record, self.desk.local_time
        match self.view:
            case "measured":
                found = [shaped.measured(m) for m in self.measured()]
            case "sums":
                sums = totals.of(record, self.asked, self.by)
                found = [shaped.total(t, mass=self._has_mass) for t in sums]
            case "incidents":
                every = incidents.of(record, self.asked)
                found = [shaped.incident(i, local, wide=self.wide) for i in every]
            case "without names":
                found = [shaped.nameless(t) for t in self._nameless()]
            case _ if find:
                return self._found(find, offset, most, say)
            case _:
                page = exposures.rows(record, self.asked, limit=most, offset=offset)
                return [shaped.handling(h, local, wide=self.wide) for h in page]
        return [r for r in found if _holds(r, find)][offset : offset + most]

    def _found(self, find: str, offset: int, most: int, say: Callable[[str], None]) -> Sequence[Row]:
        """Look through the newest handlings only: older ones are found by choosing a period."""
        newest = islice(exposures.each(self.desk.record, self.asked), LOOKED_THROUGH + 1)
        held: list[Row] = []
        for n, h in enumerate(newest):
            if n == LOOKED_THROUGH:
                say(f"Looked through the newest {n} handlings: choose a period with {WHICH.key}.")
                break
            row = shaped.handling(h, self.desk.local_time, wide=self.wide)
            if _holds(row, find):
                held.append(row)
                if len(held) == offset + most:
                    break
        return held[offset:]

    def _nameless(self) -> Sequence[duty.NamelessTotal]:
        """Everybody's handlings by hazard family, for everybody: figures of fewer people are withheld."""
        since, until = self.which["since"], self.which["until"]
        return duty.without_names(self.desk.record, "family", since=since, until=until)

    def measured(self) -> Sequence[monitoring.Measured]:
        """Results of places, and of the air of those whose log may be seen."""
        which = self.which
        return monitoring.of(
            self.desk.record,
            person=which["person"],
            substance=which["substance"],
            since=which["since"],
            until=which["until"],
        )


def _holds(row: Row, find: str) -> bool:
    return find.casefold() in " ".join(row.cells).casefold()
