"""The set-up of a new record: what a first prep still needs, one thing after the other."""

from collections.abc import Iterable, Mapping, Sequence
from typing import ClassVar

from textual.widget import Widget

from store.actions import samples
from store.errors import FileRefused, StoreError
from store.queries import registers, setup
from store.queries.setup import Need
from tui.commands import BACK, HELP, OPEN, SAMPLES, Command
from tui.screens.desk import Desk
from tui.screens.frame import Framed, wrapped
from tui.screens.register_form import RegisterForm
from tui.screens.row_verbs import pin_form
from tui.screens.small_form import SmallForm
from tui.widgets.entry_form import Field
from tui.widgets.footer import pairs
from tui.widgets.lines import Lines
from tui.widgets.table_page import Column, Row, TablePage

WHAT = "Enter opens the form of what is next. Everything can be changed later, with a reason."
LOAD, KEEP_EMPTY = "load the samples", "leave it empty"


class SetUpScreen(Framed[None]):
    """What is there, what is missing; a row leads to its form."""

    CSS_PATH = ["frame.tcss", "set_up.tcss"]
    NAME = "Set up"
    KEYS: ClassVar[tuple[Command, ...]] = (OPEN, SAMPLES, BACK, HELP)
    HELP_LINES = (
        WHAT,
        "Files take the same rows: tarebook export KIND --template gives an empty one, tarebook import KIND "
        "FILE takes it in, whole or not at all.",
        "The samples are an invented laboratory. A record that holds them is for trying: begin another for "
        "real work.",
    )

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._needs: tuple[Need, ...] = ()
        self._pins: Mapping[str, str] = {}

    def inside(self) -> Iterable[Widget]:
        """Give what this is for, and the list."""
        yield Lines(id="lines")
        yield TablePage((Column("", 8), Column("for a first prep", 40), Column("there")), self._load)

    def on_mount(self) -> None:
        """Take keys, at what is missing first."""
        table = self.query_one(TablePage)
        table.focus()
        self._to_first_missing()

    def _load(self, find: str, offset: int, most: int) -> Sequence[Row]:
        self._needs = setup.needs(self.desk.record)
        rows = [
            Row(f"need {k}", (_state(n), n.missing or n.what, _there(n))) for k, n in enumerate(self._needs)
        ]
        return [r for r in rows if find.casefold() in " ".join(r.cells).casefold()][offset : offset + most]

    def _to_first_missing(self) -> None:
        table = self.query_one(TablePage)
        table.cursor = next((n for n, need in enumerate(self._needs) if need.missing), 0)
        table.refresh()

    def draw(self) -> None:
        """Say how far it is."""
        if not self.is_mounted:
            return
        left = setup.missing(self.desk.record)
        every = sum(need.needed for need in setup.needs(self.desk.record))
        said = f"{len(left)} of {every} are missing for a first prep."
        lines = [said if left else "All that a first prep needs is there: an operator plans it with n."]
        if self._pins:
            lines.append("Sample PINs: " + ", ".join(f"{id} {pin}" for id, pin in self._pins.items()))
        self.query_one("#lines", Lines).show((*wrapped((*lines, WHAT), self.wide), ""))
        self.keys_mean(self.footer())

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give the keys; samples are offered to an empty record only."""
        empty = not registers.rows(self.desk.record, "substance", retired=True)
        return pairs(c for c in self.KEYS if c is not SAMPLES or empty)

    def on_screen_resume(self) -> None:
        """Something may have been entered."""
        self.query_one(TablePage).read()
        self._to_first_missing()
        self.draw()

    def on_table_page_opened(self, message: TablePage.Opened) -> None:
        """Open the form of a missing thing, or the list of what is there."""
        message.stop()
        try:
            self._open(self._needs[int(message.key.removeprefix("need "))])
        except StoreError as refusal:
            self.say(refusal)

    def _open(self, need: Need) -> None:
        self.say("")
        if need.id and need.missing.startswith("a PIN"):
            self.app.push_screen(pin_form(self.desk, need.id))
        elif need.id:
            row = registers.row(self.desk.record, need.register, need.id)
            self.app.push_screen(RegisterForm(self.desk, need.register, row))
        elif need.missing:
            self.app.push_screen(RegisterForm(self.desk, need.register, given=need.given))
        else:
            from tui.screens.registers import RegisterScreen

            self.app.push_screen(RegisterScreen(self.desk, need.register))

    def letter(self, key: str) -> None:
        """Load the samples, after a question."""
        if key != SAMPLES.key:
            return
        what = (
            "The samples are an invented laboratory, to try the program. A record that holds them is for "
            "trying: begin another for real work, with --record FILE.",
        )
        field = Field("do", "this record", "choice", "", (LOAD, KEEP_EMPTY), required=True)
        self.app.push_screen(SmallForm(self.desk, "Load the samples", what, (field,), self._samples))

    def _samples(self, given: Mapping[str, str]) -> None:
        if given["do"] != LOAD:
            return
        if self.desk.samples is None:
            raise FileRefused("The samples are missing from this installation: install Tarebook again.")
        self._pins = samples.load(self.desk.acting, self.desk.samples())


def _state(need: Need) -> str:
    if not need.missing:
        return "there"
    return "missing" if need.needed else "advised"


def _there(need: Need) -> str:
    shown = ", ".join(need.there[:3])
    return f"{shown} and {len(need.there) - 3} more" if len(need.there) > 3 else shown
