"""The exposure log: who handled what, how long it was open, what went wrong; rows, sums and weeks."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import ClassVar

from textual.widget import Widget

from store.errors import NotAllowed, StoreError
from store.model.words import Role
from store.queries import exposures, periods, totals
from store.queries.asked import Asked, asked
from store.queries.rolled import By
from tui.commands import (
    BACK,
    ENTER,
    FIND,
    HANDLINGS,
    HELP,
    INCIDENTS,
    MEASURED,
    NAMELESS,
    OPEN,
    PAGE,
    SUMS,
    WEEKS,
    WHICH,
    Command,
)
from tui.screens import exposure_fields
from tui.screens import exposure_rows as shaped
from tui.screens.desk import Desk
from tui.screens.exposure_views import Listed
from tui.screens.frame import Framed, wrapped
from tui.screens.which import WhichScreen
from tui.widgets.lines import Lines
from tui.widgets.table_page import Row, TablePage

BY: tuple[By, ...] = ("month", "substance", "family", "person", "week", "day", "year")
IS_NOT = (
    "Evidence of use and identity; no measurement of exposure. Rehearsals and what never happened are listed "
    "and not in the sums. Open times in min:s."
)
WIDE, TALL = 110, 36
"""From so many columns and rows on, more columns and the weeks stand on the screen by themselves."""
VIEWS = {
    HANDLINGS.key: "handlings",
    INCIDENTS.key: "incidents",
    SUMS.key: "sums",
    MEASURED.key: "measured",
    NAMELESS.key: "without names",
}


class ExposureLogScreen(Framed[None]):
    """Handlings, incidents or sums; a safety officer sees everybody's, others their own."""

    CSS_PATH = ["frame.tcss", "exposure_log.tcss"]
    NAME = "Exposure log"
    KEYS: ClassVar[tuple[Command, ...]] = (
        OPEN,
        FIND,
        WHICH,
        HANDLINGS,
        INCIDENTS,
        SUMS,
        WEEKS,
        MEASURED,
        NAMELESS,
        ENTER,
        PAGE,
        BACK,
        HELP,
    )
    HELP_LINES = (
        IS_NOT,
        "A handling counts for everybody present, and for each substance that was open, alone or dissolved. "
        "Hazard families are those of the day. A ~ stands before a time that is estimated, across an "
        "interruption.",
        "Everybody sees the own log; a safety officer sees everybody's.",
    )

    def __init__(self, desk: Desk, *, person: str = "") -> None:
        super().__init__(desk)
        acting = desk.acting
        self.officer = Role.SAFETY_OFFICER in acting.roles
        own = person if self.officer else acting.person
        self.which: dict[str, str] = dict.fromkeys(exposure_fields.FILTERS, "") | {
            "person": own,
            "classified": "then",
        }
        self.view, self.by = "handlings", 0
        self._above: list[tuple[dict[str, str], str]] = []
        """What was chosen and shown before a row of sums was opened; back leads there."""

    def asked(self, *, from_day: str = "") -> Asked:
        """Put together what is asked, never more than may be seen; from a day on where one is given."""
        acting, which = self.desk.acting, self.which
        if not exposures.may_see(acting.roles, acting.person, which["person"]):
            raise NotAllowed("A safety officer sees everybody's exposures; you see your own.")
        return asked(
            self.desk.record,
            person=which["person"],
            substance=which["substance"],
            lot=which["lot"],
            family=which["family"],
            enclosure=which["enclosure"],
            what=which["what"],
            since=max(from_day, periods.since(which["since"])) if from_day else which["since"],
            until=which["until"],
            as_classified="now" if which["classified"] == "now" else "then",
        )

    def inside(self) -> Iterable[Widget]:
        """Give the sums, the weeks, and the list."""
        yield Lines(id="sums")
        yield Lines(id="weeks")
        yield self._table()

    def _table(self) -> TablePage:
        return TablePage(self._listed().columns, self._load)

    def on_mount(self) -> None:
        """Take keys."""
        self.query_one("#weeks").display = self.app.size.height >= TALL
        self.query_one(TablePage).focus()

    def right(self) -> str:
        """Give the filters and what is shown."""
        held = [f"{k} {v}" for k, v in self.which.items() if v and k != "classified"]
        if self.which["family"]:
            held.append(f"as classified {self.which['classified']}")
        what = f"sums by {BY[self.by]}" if self.view == "sums" else self.view
        return " · ".join((*(held or ["everybody"]), what))

    def draw(self) -> None:
        """Draw the sums above the list, and the weeks."""
        which = self.asked()
        record = self.desk.record
        every = totals.of(record, which, "all")
        lines = shaped.sum_lines(every, totals.of(record, which, "substance"))
        self.query_one("#sums", Lines).show((*wrapped((*lines, IS_NOT), self.wide), ""))
        last = record.now().date()
        since, until = periods.since(self.which["since"]), periods.until(self.which["until"])
        if until:
            last = min(last, date.fromisoformat(until))  # weeks after it would stand there as if empty
        drawn = self.asked(from_day=shaped.first_day(last).isoformat())
        by_week = totals.of(record, drawn, "week")
        weeks = shaped.weeks(by_week, since=since, until=last, width=min(self.wide, 100))
        self.query_one("#weeks", Lines).show((*weeks, ""))

    def _load(self, find: str, offset: int, most: int) -> Sequence[Row]:
        return self._listed().rows(find, offset, most, say=self.say)

    def _listed(self) -> Listed:
        wide = self.app.size.width >= WIDE
        return Listed(self.desk, self.asked(), self.which, self.view, BY[self.by], wide=wide)

    # ---- keys ----

    def letter(self, key: str) -> None:
        """Choose which, another view, or the weeks."""
        if key == WHICH.key:
            fields = exposure_fields.fields(self.desk, self.which, officer=self.officer)
            self.app.push_screen(WhichScreen(self.desk, fields, check=_in_order), self._chosen)
        elif key == WEEKS.key:
            weeks = self.query_one("#weeks")
            weeks.display = not weeks.display
        elif key == ENTER.key:
            self._enter()
        elif key in VIEWS:
            again = self.view == VIEWS[key] == "sums"
            self.by = (self.by + 1) % len(BY) if again else self.by
            self.view = VIEWS[key]
            if self.app.size.height < TALL:
                self.query_one("#weeks").display = False
            self.run_worker(self._anew(), exclusive=True)

    def _enter(self) -> None:
        from tui.screens.handling_form import handling_form
        from tui.screens.monitoring_form import monitoring_form

        try:
            form = monitoring_form(self.desk) if self.view == "measured" else handling_form(self.desk)
        except StoreError as refusal:
            self.say(refusal)
            return
        self.app.push_screen(form, self._entered)

    def _chosen(self, values: Mapping[str, str] | None) -> None:
        if values is not None:
            self.which.update(values)
            self.draw()
            self.run_worker(self._anew(), exclusive=True)

    def _entered(self, done: bool | None) -> None:
        if done:
            self._chosen(self.which)

    async def _anew(self) -> None:
        """Put another list in place of the one there."""
        self.show_head()
        await self.query_one(TablePage).remove()
        table = self._table()
        await self.query_one("#body").mount(table)
        table.focus()

    def on_table_page_opened(self, message: TablePage.Opened) -> None:
        """Open the prep of a row; a row of sums shows its handlings."""
        message.stop()
        kind, _, rest = message.key.partition("#")
        if kind == "nameless":
            self.say("Who stands behind it is not told here: a safety officer sees the handlings.")
        elif kind == "measured":
            (one,) = (m for m in self._listed().measured() if str(m.entry) == rest)
            self.say(shaped.told(one))
        elif kind == "sum":
            self._into(rest)
        elif kind == "incident":
            from tui.screens.incident_page import IncidentPageScreen

            self.app.push_screen(IncidentPageScreen(self.desk, int(rest)))
        elif kind:
            from tui.screens.prep_page import PrepPageScreen

            self.app.push_screen(PrepPageScreen(self.desk, kind))
        else:
            which = self.asked().before(int(rest) + 1)
            self.say(shaped.told_apart(exposures.rows(self.desk.record, which, limit=1)[0]))

    def leave(self) -> None:
        """Go back to the sums that led here, else to the screen before."""
        if not self._above:
            super().leave()
            return
        before, self.view = self._above.pop()
        self._chosen(before)

    def _into(self, key: str) -> None:
        by = BY[self.by]
        self._above.append((dict(self.which), self.view))
        if by in ("day", "month", "year"):
            self.which.update(since=key, until=key)
        elif by == "week":
            first, last = periods.days_of(key)
            self.which.update(since=first, until=last)
        elif by != "person" or self.officer:
            self.which[by] = key
        self.view = "handlings"
        self._chosen(self.which)


def _in_order(which: Mapping[str, str]) -> None:
    periods.in_order(which["since"], which["until"])
