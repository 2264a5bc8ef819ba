"""The registers: what the site entered, to be read; a register's rows, and each row's page."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, ClassVar

from textual.widget import Widget

from store.model.registers import REGISTERS, columns
from store.model.settings import SETTINGS
from store.queries import registers
from store.queries.registers import RegisterRow
from tui.commands import BACK, FIND, HELP, OPEN, PAGE, Command
from tui.screens.desk import Desk
from tui.screens.frame import Framed, wrapped
from tui.widgets.lines import Lines
from tui.widgets.table_page import Column, Row, TablePage

WORDS: Mapping[str, tuple[str, ...]] = {
    "substance": ("name", "cas", "classification"),
    "lot": ("substance", "concentration", "status", "expiry"),
    "container": ("lot", "content", "place"),
    "enclosure": ("name", "kind", "gas", "test_due"),
    "balance": ("name", "readability", "enclosure", "calibration_due"),
    "vessel": ("name", "capacity", "mass"),
    "person": ("name", "roles", "trained_until"),
    "rule": ("text", "since"),
    "setting": ("value",),
}
"""Which fields of a row stand in the list."""
PLURAL = {name: "people" if name == "person" else f"{name}s" for name in REGISTERS}


def heads(register: str) -> tuple[str, ...]:
    """Give the names of the fields that stand in the list; of a register not named here, the first few."""
    return WORDS.get(register) or tuple(c.name for c in columns(register)[1:4])


WAYS = "They are filled by tarebook import KIND FILE, and given out by tarebook export KIND."


class RegistersScreen(Framed[None]):
    """Which register."""

    CSS_PATH = ["frame.tcss", "registers.tcss"]
    NAME = "Registers"
    KEYS: ClassVar[tuple[Command, ...]] = (OPEN, BACK, HELP)
    HELP_LINES = (
        "What stands here is what plans, cautions and sums rest on. Every change is an entry of the record, "
        "and a prep keeps what stood when it was planned.",
        WAYS,
    )

    def inside(self) -> Iterable[Widget]:
        """Give the list."""
        yield TablePage((Column("register", 16), Column("rows", 6, right=True), Column("")), self._load)
        yield Lines(wrapped((WAYS,), self.app.size.width - 2), id="ways")

    def on_mount(self) -> None:
        """Take keys."""
        super().on_mount()
        self.query_one(TablePage).focus()

    def on_screen_resume(self) -> None:
        """Rows may have been entered meanwhile."""
        self.query_one(TablePage).read()

    def _load(self, find: str, offset: int, most: int) -> Sequence[Row]:
        out = []
        for register in REGISTERS:
            every = registers.rows(self.desk.record, register, retired=True)
            gone = sum(r.retired for r in every)
            retired = f"{gone} more retired" if gone else ""
            out.append(Row(register, (PLURAL[register], str(len(every) - gone), retired)))
        return [r for r in out if find.casefold() in r.cells[0]][offset : offset + most]

    def on_table_page_opened(self, message: TablePage.Opened) -> None:
        """Open a register."""
        message.stop()
        self.app.push_screen(RegisterScreen(self.desk, message.key))


class RegisterScreen(Framed[None]):
    """The rows of one register."""

    CSS_PATH = ["frame.tcss", "registers.tcss"]
    KEYS: ClassVar[tuple[Command, ...]] = (OPEN, FIND, PAGE, BACK, HELP)
    HELP_LINES = ("f finds words anywhere in a row. Retired rows stand at the end.", WAYS)

    def __init__(self, desk: Desk, register: str) -> None:
        super().__init__(desk)
        self.register = register
        self.NAME = PLURAL[register].capitalize()

    def inside(self) -> Iterable[Widget]:
        """Give the list."""
        yield TablePage(
            (Column("id", 16), Column(", ".join(h.replace("_", " ") for h in heads(self.register)))),
            self._load,
        )

    def on_mount(self) -> None:
        """Take keys."""
        super().on_mount()
        self.query_one(TablePage).focus()

    def _load(self, find: str, offset: int, most: int) -> Sequence[Row]:
        every = [*registers.rows(self.desk.record, self.register, retired=True)]
        if self.register == "setting":
            every = _with_defaults(every)
        held = [r for r in every if find.casefold() in f"{r.id} {in_words(r.row.values())}".casefold()]
        held.sort(key=lambda r: r.retired)
        return [Row(r.id, (r.id, words(r))) for r in held[offset : offset + most]]

    def on_table_page_opened(self, message: TablePage.Opened) -> None:
        """Open a row."""
        message.stop()
        if self.register == "setting" and message.key not in registers_ids(self.desk, self.register):
            self.say(f"{message.key}: {SETTINGS[message.key].what}. The site has not set it.")
            return
        from tui.screens.register_row import RegisterRowScreen

        self.app.push_screen(RegisterRowScreen(self.desk, self.register, message.key))


def registers_ids(desk: Desk, register: str) -> frozenset[str]:
    """Give the ids of the rows of a register."""
    return frozenset(r.id for r in registers.rows(desk.record, register, retired=True))


def _with_defaults(own: Sequence[RegisterRow]) -> list[RegisterRow]:
    """Every setting stands in the list: the site's own, or the default that holds meanwhile."""
    by_id = {r.id: r for r in own}
    return [
        by_id.get(id)
        or RegisterRow("setting", id, {"value": f"{of.default or 'empty'} (default)"}, 0, "", "", False)
        for id, of in SETTINGS.items()
    ]


def words(found: RegisterRow) -> str:
    """Give the words of a row in the list."""
    gone = "RETIRED  " if found.retired else ""
    return gone + in_words(found.row.get(key, "") for key in heads(found.register))


def in_words(values: Iterable[Any]) -> str:
    """Give values as text, lists with commas between."""
    texts = (", ".join(map(str, v)) if isinstance(v, list | tuple) else str(v) for v in values)
    return " · ".join(t for t in texts if t)
