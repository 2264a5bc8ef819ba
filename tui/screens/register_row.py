"""One row of a register, whole, with what the record knows about it besides, and what may be done with it."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import ClassVar

from store.actions import lot_status, registers
from store.errors import NotFound, StoreError
from store.model.registers import columns
from store.model.settings import SETTINGS
from store.model.words import LotStatus, Role
from store.queries import lot_checks, row_history
from store.queries import registers as ask
from store.queries.registers import RegisterRow
from tui.commands import (
    BACK,
    CHANGE,
    EVERYTHING,
    HEALTH,
    HELP,
    PAGE,
    PIN,
    RETIRE,
    SEALED,
    STATUS,
    STOCKTAKE,
    TEACH,
    TRACE_LOT,
    VERIFY,
    Command,
)
from tui.screens import row_verbs
from tui.screens.desk import Desk
from tui.screens.frame import wrapped
from tui.screens.reading import Reading
from tui.screens.register_beside import beside
from tui.screens.register_form import RegisterForm
from tui.screens.registers import in_words
from tui.screens.small_form import SmallForm, Verb
from tui.screens.tabled import tabled
from tui.widgets.entry_form import Field

MORE: Mapping[str, tuple[Command, ...]] = {
    "lot": (STATUS, VERIFY, TRACE_LOT),
    "container": (STOCKTAKE, SEALED),
    "balance": (HEALTH, TEACH),
    "person": (PIN, EVERYTHING),
}
"""What a row has besides being changed and retired."""


class RegisterRowScreen(Reading[None]):
    """Every field with its meaning, then what is known of it, then every entry that made it so."""

    CSS_PATH = ["frame.tcss", "register_row.tcss"]
    KEYS: ClassVar[tuple[Command, ...]] = (CHANGE, RETIRE, PAGE, BACK, HELP)
    HELP_LINES = (
        "A row as it stands now, then what the record knows about it, then every entry that made it so. A "
        "change is a new entry with a reason; a prep keeps what stood when it was planned. A retired row is "
        "offered nowhere any more, and stays readable.",
    )

    def __init__(self, desk: Desk, register: str, id: str) -> None:
        super().__init__(desk)
        self.register, self.id_ = register, id
        self.row = self._found()
        self.NAME = f"{register.capitalize()} {id}"
        more = MORE.get(register, ())
        first = (CHANGE,) if register == "setting" else (CHANGE, RETIRE)
        self.keys_here: tuple[Command, ...] = (*first, *more, PAGE, BACK, HELP)

    def _found(self) -> RegisterRow:
        try:
            return ask.row(self.desk.record, self.register, self.id_)
        except NotFound:
            if self.register != "setting" or self.id_ not in SETTINGS:
                raise
            return RegisterRow("setting", self.id_, {"id": self.id_}, 0, "", "", False)

    def right(self) -> str:
        """Say whether it is in use."""
        if not self.row.entry:
            return "not set by the site"
        if not self.row.retired and self.register == "person" and (day := self.row.row.get("left")):
            return f"left {day}" if day < self.desk.now().date().isoformat() else f"leaves {day}"
        return "RETIRED" if self.row.retired else "in use"

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give the keys that mean something on this row."""
        hidden = {c.key for c in self.KEYS} - {c.key for c in self.keys_here}
        return [*((c.key, c.label) for c in self.keys_here if c not in self.KEYS),
                *(pair for pair in super().footer() if pair[0] not in hidden)]  # fmt: skip

    def text(self, width: int) -> Sequence[str]:
        """Give the fields, what is known besides, and the entries."""
        out = list(_fields(self.row, width))
        if more := tuple(beside(self.desk, self.row, width)):
            out += ["", *more]
        return (*out, "", *self._history(width))

    def _history(self, width: int) -> Iterator[str]:
        rows = []
        for x in reversed(row_history.history(self.desk.record, self.register, self.id_)):
            at = f"{self.desk.local_time(x.at):%Y-%m-%d %H:%M}"
            what = "retired" if x.retired else "changed" if x.differs else "entered"
            said = [f"{what}: {x.reason}" if x.reason else what]
            said += [f"{name}: {old or 'empty'} → {new or 'empty'}" for name, old, new in x.differs]
            rows.append((str(x.entry), at, x.by, "; ".join(said)))
        yield from tabled(("entry", "at", "who", "what"), rows, width)

    # ---- what may be done ----

    def letter(self, key: str) -> None:
        """Change, retire, and what this register has besides."""
        try:
            self._letter(key)
        except StoreError as refusal:
            self.say(refusal)

    def _letter(self, key: str) -> None:
        if key not in {c.key for c in self.keys_here}:
            return
        if key == CHANGE.key:
            self.app.push_screen(RegisterForm(self.desk, self.register, self.row), self._done)
        elif key == RETIRE.key:
            self.desk.acting.must(Role.KEEPER)
            self._ask(
                f"Retire {self.register} {self.id_}",
                ("It is offered nowhere any more. What used it keeps it; nothing is deleted.",),
                (Field("why", "why", required=True, help="it stands in the record for good"),),
                lambda given: registers.retire(self.desk.acting, self.register, self.id_, given["why"]),
            )
        elif key == STATUS.key:
            self._status()
        elif key == PIN.key:
            self.app.push_screen(row_verbs.pin_form(self.desk, self.id_), self._done)
        else:
            self._more(key)

    def _more(self, key: str) -> None:
        if key == HEALTH.key:
            from tui.screens.balance_health import BalanceHealthScreen

            self.app.push_screen(BalanceHealthScreen(self.desk, self.id_))
        elif key == TEACH.key:
            self._teach()
        elif key == EVERYTHING.key:
            from tui.screens.person_page import PersonPageScreen

            self.app.push_screen(PersonPageScreen(self.desk, self.id_))
        elif key == TRACE_LOT.key:
            from tui.screens.trace import TraceScreen

            self.app.push_screen(TraceScreen(self.desk, self.id_))
        else:
            forms: Mapping[str, Callable[[Desk, str], SmallForm]] = {
                STOCKTAKE.key: row_verbs.stocktake,
                SEALED.key: row_verbs.sealed_gross,
                VERIFY.key: row_verbs.comparison,
            }
            self.app.push_screen(forms[key](self.desk, self.id_), self._found_out)

    def _teach(self) -> None:
        from tui.screens import teach

        self.desk.acting.must(Role.KEEPER)

        def into_form(given: Mapping[str, str] | None) -> None:
            if given is not None:
                form = RegisterForm(self.desk, self.register, self.row, given=given)
                self.app.push_screen(form, self._done)

        def record(done: bool | None) -> None:
            if done:
                screen = teach.TeachScreen(self.desk, self.row, port=asked["port"], unit=asked["unit"])
                self.app.push_screen(screen, into_form)

        asked: dict[str, str] = {}
        self.app.push_screen(teach.form(self.desk, self.row, asked.update), record)

    def _found_out(self, done: bool | None) -> None:
        if done:
            self._done(done)
            self.say(row_verbs.said_of(self.desk, self.register, self.id_))

    def _status(self) -> None:
        self.desk.acting.must(*lot_status.STOPS)
        now = self.row.row.get("status", LotStatus.RELEASED)
        # After a verification out of its limit it may stay as it is, by decision.
        stays = bool(lot_checks.undecided(self.desk.record, self.id_))
        self._ask(
            f"Status of lot {self.id_}",
            (f"It is {now}. What is blocked or recalled is refused at the plan and at the scan.",),
            (
                Field(
                    "status",
                    "status",
                    "choice",
                    "",
                    tuple(s for s in LotStatus if stays or s != now),
                    required=True,
                ),
                Field("why", "why", required=True, help="it stands in the record beside your name"),
            ),
            lambda given: lot_status.set_status(
                self.desk.acting, self.id_, given["status"], given["why"], seen=self.row.entry
            ),
        )

    def _ask(self, name: str, lines: Sequence[str], fields: Sequence[Field], do: Verb) -> None:
        self.app.push_screen(SmallForm(self.desk, name, lines, fields, do), self._done)

    def _done(self, done: object) -> None:
        if done:
            self.row = self._found()
            self.show_head()
            self.draw()
            self.say(
                " ".join(registers.remarks(self.desk.record, self.register, self.id_))
                if self.row.entry
                else ""
            )
            self.app.notify("Written.", timeout=3)


def _fields(row: RegisterRow, width: int) -> Iterator[str]:
    for of in columns(row.register):
        text = in_words([row.row.get(of.name, "")])
        if text:
            label, what = f"{of.name.replace('_', ' '):<18}", of.metadata["what"]
            said = "" if what == of.name else f"   ({what})"
            yield from wrapped((f"{label}{text}{said}",), width, indent=" " * 18)
