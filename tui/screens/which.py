"""Which rows of a list: a form whose answers are the filters."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, ClassVar

from textual.widget import Widget

from store.errors import StoreError
from store.queries import named
from store.record.record import Record
from tui.commands import BACK, EDIT, FIELDS, HELP, NEXT, Command
from tui.screens import pick
from tui.screens.desk import Desk
from tui.screens.form_frame import FormFrame
from tui.widgets.entry_form import EntryForm, Field


class WhichScreen(FormFrame[Mapping[str, str]]):
    """Gives the filters, or None where the list stays as it was."""

    CSS_PATH = ["frame.tcss", "which.tcss"]
    NAME = "Which rows"
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, EDIT, BACK, HELP)
    HELP_LINES = (
        "Every filter that is filled in must hold; an empty one holds for all. Backspace on an empty line "
        "empties what stands in the field. After the last field the list is shown.",
        "A period is a day (2026-03-02), a month (2026-03) or a year (2026); both ends are included.",
    )

    def __init__(
        self, desk: Desk, fields: Iterable[Field], *, check: Callable[[Mapping[str, str]], None]
    ) -> None:
        super().__init__(desk)
        self.form = EntryForm(tuple(fields), id="form")
        self._check = check

    def inside(self) -> Iterable[Widget]:
        """Give the form."""
        yield self.form

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Give the filters, if the list can be asked so."""
        message.stop()
        try:
            self._check(message.values)
        except StoreError as refusal:
            self.say(refusal)
            self.form.open()
            return
        self.dismiss(dict(message.values))


def period(text: str) -> str:
    """Take a day, a month or a year."""
    from store.queries import periods

    periods.since(text)
    return text


def choice(record: Record, register: str, take: Callable[[Record, str], str]) -> Mapping[str, Any]:
    """Give what makes a field take a row of a register: what is offered while it is typed, and its id."""
    return {
        "suggest": pick.rows(record, register).suggest,
        "take": lambda text: take(record, text.partition("  ")[0].strip()),
    }


def families(record: Record) -> Mapping[str, Any]:
    """Give what makes a field take a hazard family: offered by its name in words, or by its code."""
    from store.hazards.families import all_families

    def suggest(typed: str) -> list[str]:
        words = typed.casefold().replace("_", " ").split()
        every = ((f"{id.replace('_', ' ')}, {f.name}", f.name) for id, f in all_families().items())
        return [name for text, name in every if all(w in text.casefold() for w in words)]

    return {"suggest": suggest, "take": lambda text: named.family(record, text)}
