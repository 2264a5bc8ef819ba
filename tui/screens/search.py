"""One box: words, numbers, names and CAS numbers, wherever they stand; a row leads there."""

from collections.abc import Iterable, Sequence
from typing import ClassVar

from textual.widget import Widget

from store.model.registers import REGISTERS
from store.model.words import Role
from store.queries import search
from tui.commands import BACK, FIND, HELP, OPEN, PAGE, Command
from tui.screens.desk import Desk
from tui.screens.frame import Framed
from tui.widgets.table_page import Column, Row, TablePage

COLUMNS = (Column("what", 12), Column("number", 14), Column("found"))


class SearchScreen(Framed[None]):
    """What has the typed words in it, newest first."""

    CSS_PATH = ["frame.tcss", "past_preps.tcss"]
    NAME = "Find"
    KEYS: ClassVar[tuple[Command, ...]] = (OPEN, FIND, PAGE, BACK, HELP)
    HELP_LINES = (
        "Type words, a number, a name or a CAS number, then Enter. Every word must stand in what is found, "
        "the last one may be the beginning of a word; capitals and accents do not matter.",
        "Notes, incidents and measurements are found by those present and by a safety officer.",
    )

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        acting = desk.acting
        self._person = "" if Role.SAFETY_OFFICER in acting.roles else acting.person

    def inside(self) -> Iterable[Widget]:
        """Give the list."""
        yield TablePage(COLUMNS, self._load, id="list")

    def on_mount(self) -> None:
        """Take the words at once."""
        table = self.query_one(TablePage)
        table.focus()
        table.seek()

    def _load(self, find: str, offset: int, most: int) -> Sequence[Row]:
        found = search.find(self.desk.record, find, limit=most, offset=offset, person=self._person)
        return [Row(f"{hit.kind}#{hit.id}", (hit.kind, hit.id, search.near(hit, find))) for hit in found]

    def on_table_page_opened(self, message: TablePage.Opened) -> None:
        """Go where it stands."""
        message.stop()
        kind, _, id = message.key.partition("#")
        if kind in ("prep", "note") and id:
            from tui.screens.prep_page import PrepPageScreen

            self.app.push_screen(PrepPageScreen(self.desk, id))
        elif kind in ("lot", "verification"):
            from tui.screens.trace import TraceScreen

            self.app.push_screen(TraceScreen(self.desk, id))
        elif kind == "incident":
            from tui.screens.incident_page import IncidentPageScreen

            self.app.push_screen(IncidentPageScreen(self.desk, int(id)))
        elif kind in REGISTERS:
            from tui.screens.register_row import RegisterRowScreen

            self.app.push_screen(RegisterRowScreen(self.desk, kind, id))
        else:
            self.say(f"{kind} {id} stands in the exposure log (e at the bench).")
