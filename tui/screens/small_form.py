"""A few fields and one verb: a reason, a status, a PIN. What is refused is said beside its field."""

from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from store.errors import BadField, StoreError
from tui.commands import BACK, FIELDS, HELP, NEXT, Command
from tui.screens.desk import Desk
from tui.screens.form_frame import FormFrame
from tui.screens.frame import wrapped
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.lines import Lines

Verb = Callable[[Mapping[str, str]], object]


class SmallForm(FormFrame[bool]):
    """Runs the verb with what was typed; its result is whether it was done."""

    CSS_PATH = ["frame.tcss", "small_form.tcss"]
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, BACK, HELP)

    def __init__(
        self, desk: Desk, name: str, lines: Sequence[str], fields: Sequence[Field], do: Verb
    ) -> None:
        super().__init__(desk)
        self.NAME = name
        self.HELP_LINES = tuple(lines)
        self._lines, self._do = tuple(lines), do
        self.form = EntryForm(fields, id="form")

    def draw(self) -> None:
        """Draw what it is about."""
        self.query_one("#lines", Lines).show((*wrapped(self._lines, self.wide, indent="  "), ""))

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Do it, or say why not."""
        message.stop()
        try:
            self._do(message.values)
        except StoreError as refusal:
            for of in self.form.fields:
                if of.kind == "pin":
                    of.value = ""
            if isinstance(refusal, BadField) and any(f.key == refusal.field for f in self.form.fields):
                self.form.refuse(refusal.field, refusal.what)
            else:
                self.say(refusal)
                self.form.open()
            return
        self.dismiss(True)
