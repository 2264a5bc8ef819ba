"""The registers: what the site entered, to be read; a register's rows, and each row's page."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, ClassVar

from textual.widget import Widget

from store.actions.registers import remarks
from store.errors import StoreError
from store.model.registers import REGISTERS, columns
from store.model.settings import SETTINGS
from store.queries import registers
from store.queries.registers import RegisterRow, text_of
from tui.commands import ADD, BACK, FIND, HELP, OPEN, PAGE, Command
from tui.screens.desk import Desk
from tui.screens.frame import Framed, wrapped
from tui.widgets.footer import pairs
from tui.widgets.lines import Lines
from tui.widgets.table_page import Column, Row, TablePage

WORDS: Mapping[str, tuple[str, ...]] = {
    "substance": ("name", "cas", "classification"),
    "lot": ("substance", "concentration", "status", "expiry"),
    "container": ("lot", "content", "place"),
    "enclosure": ("name", "kind", "gas", "test_due"),
    "balance": ("name", "readability", "enclosure", "calibration_due"),
    "glove": ("material", "thickness_mm", "enclosure", "fitted_on"),
    "vessel": ("name", "capacity", "tare_set"),
    "person": ("name", "roles", "trained_until"),
    "rule": ("text", "since"),
    "mixture": ("substance", "solvent", "below", "classification"),
    "setting": ("value",),
}
"""Which fields of a row stand in the list."""
PLURAL = {name: "people" if name == "person" else f"{name}s" for name in REGISTERS}


def heads(register: str) -> tuple[str, ...]:
    """Give the names of the fields that stand in the list; of a register not named here, the first few."""
    return WORDS.get(register) or tuple(c.name for c in columns(register)[1:4])


WAYS = "Whole files come in by tarebook import KIND FILE, and go out by tarebook export KIND."


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

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._seen = False
        self._counts: Mapping[str, tuple[int, int]] = {}
        """Rows in use and retired ones, by register; counted once each time that it comes to be seen."""

    def inside(self) -> Iterable[Widget]:
        """Give the list."""
        yield TablePage((Column("register", 16), Column("rows", 6, right=True), Column("")), self._load)
        yield Lines(wrapped((WAYS,), self.app.size.width - 2), id="ways")

    def on_mount(self) -> None:
        """Take keys."""
        self.query_one(TablePage).focus()

    def on_screen_resume(self) -> None:
        """Rows may have been entered meanwhile."""
        if self._seen:
            self._counts = {}
            self.query_one(TablePage).read()
        self._seen = True

    def _load(self, find: str, offset: int, most: int) -> Sequence[Row]:
        counts = self._counts = self._counts or registers.counts(self.desk.record)
        out = []
        for register in REGISTERS:
            here, gone = counts.get(register, (0, 0))
            out.append(Row(register, (PLURAL[register], str(here), f"{gone} more retired" if gone else "")))
        return [r for r in out if find.casefold() in r.cells[0]][offset : offset + most]

    def on_table_page_opened(self, message: TablePage.Opened) -> None:
        """Open a register."""
        message.stop()
        self.app.push_screen(RegisterScreen(self.desk, message.key))


class RegisterScreen(Framed[None]):
    """The rows of one register."""

    CSS_PATH = ["frame.tcss", "registers.tcss"]
    KEYS: ClassVar[tuple[Command, ...]] = (OPEN, ADD, FIND, PAGE, BACK, HELP)
    HELP_LINES = (
        "f finds words anywhere in a row. Retired rows stand at the end; a register of more than "
        f"{registers.MANY} lots or containers has its newest entry first.",
        WAYS,
    )

    def __init__(self, desk: Desk, register: str) -> None:
        super().__init__(desk)
        self.register = register
        self.NAME = PLURAL[register].capitalize()

    def commands(self) -> Sequence[Command]:
        """Offer no new row where every row stands in the list already."""
        return tuple(c for c in self.KEYS if c is not ADD or self.register != "setting")

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give the keys that mean something here."""
        return pairs(self.commands())

    def inside(self) -> Iterable[Widget]:
        """Give the list."""
        yield TablePage(
            columns_of(self.register), self._load, below=_meaning if self.register == "setting" else None
        )

    def right(self) -> str:
        """Say in which order a very long register stands."""
        long = registers.newest_first(self.desk.record, self.register)
        return f"newest first · {super().right()}" if long else super().right()

    def on_mount(self) -> None:
        """Take keys."""
        self.query_one(TablePage).focus()

    def _load(self, find: str, offset: int, most: int) -> Sequence[Row]:
        if self.register == "setting":
            every = _with_defaults(registers.rows(self.desk.record, self.register))
            held = [r for r in every if find.casefold() in " ".join(cells(r)).casefold()]
            return [Row(r.id, cells(r)) for r in held[offset : offset + most]]
        found = registers.page(self.desk.record, self.register, find=find, limit=most, offset=offset)
        return [Row(r.id, cells(r)) for r in found]

    def on_table_page_opened(self, message: TablePage.Opened) -> None:
        """Open a row."""
        message.stop()
        from tui.screens.register_row import RegisterRowScreen

        self.app.push_screen(RegisterRowScreen(self.desk, self.register, message.key))

    def on_screen_resume(self) -> None:
        """Rows may have been entered meanwhile."""
        self.query_one(TablePage).read()

    def letter(self, key: str) -> None:
        """Enter a new row; every setting stands in the list already."""
        if key != ADD.key:
            return
        if self.register == "setting":
            self.say("Every setting stands in the list: open it and press c.")
            return
        from tui.screens.register_form import RegisterForm

        try:
            self.app.push_screen(RegisterForm(self.desk, self.register), self._added)
        except StoreError as refusal:
            self.say(refusal)

    def _added(self, id: str | None) -> None:
        if id:
            self.say(" ".join(remarks(self.desk.record, self.register, id)))
            self.app.notify(f"{self.register} {id} is written.", markup=False, timeout=5)


def _meaning(id: str) -> str:
    of = SETTINGS.get(id)
    if of is None:
        return ""
    limits = f", from {of.low} to {of.high}" if of.low else ""
    limits = f": {' or '.join(of.words)}" if of.kind == "choice" else limits
    return f"{id}: {of.what}{limits}. Without the site's own it is {of.default or 'empty'}."


def _with_defaults(own: Sequence[RegisterRow]) -> list[RegisterRow]:
    """Every setting stands in the list: the site's own, or the default that holds meanwhile."""
    by_id = {r.id: r for r in own}
    return [
        by_id.get(id)
        or RegisterRow("setting", id, {"value": f"{of.default or 'empty'} (default)"}, 0, "", "", False)
        for id, of in SETTINGS.items()
    ]


def columns_of(register: str) -> tuple[Column, ...]:
    """Give the columns of the list; settings stand with their meaning."""
    if register == "setting":
        return (Column("setting", 25), Column("value", 18), Column("what it means"))
    return (Column("id", 16), Column(", ".join(h.replace("_", " ") for h in heads(register))))


def cells(found: RegisterRow) -> tuple[str, ...]:
    """Give the cells of a row."""
    if found.register == "setting":
        return (found.id, str(found.row["value"]), SETTINGS[found.id].what if found.id in SETTINGS else "")
    return (found.id, words(found))


def words(found: RegisterRow) -> str:
    """Give the words of a row in the list."""
    gone = "RETIRED  " if found.retired else ""
    if found.register == "person" and found.row.get("left"):
        gone += f"left {found.row['left']} · "
    return gone + in_words(found.row.get(key, "") for key in heads(found.register))


def in_words(values: Iterable[Any]) -> str:
    """Give values as text, lists with commas between, yes where something is so."""
    texts = (", ".join(map(str, v)) if isinstance(v, list | tuple) else text_of(v) for v in values)
    return " · ".join(t for t in texts if t)
