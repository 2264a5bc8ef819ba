"""A few fields and one verb: a reason, a status, a PIN. What is refused is said beside its field."""

from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from store.actions.acting import LetThrough
from store.errors import BadField, NeedsSecondPerson, StoreError
from tui.commands import BACK, FIELDS, HELP, NEXT, Command
from tui.screens.desk import Desk
from tui.screens.form_frame import FormFrame
from tui.screens.frame import wrapped
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.lines import Lines

Verb = Callable[[Mapping[str, str]], object]
VerbOfTwo = Callable[[Mapping[str, str], LetThrough], object]


class SmallForm(FormFrame[bool]):
    """Runs the verb with what was typed; its result is whether it was done."""

    CSS_PATH = ["frame.tcss", "small_form.tcss"]
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, BACK, HELP)

    def __init__(
        self,
        desk: Desk,
        name: str,
        lines: Sequence[str],
        fields: Sequence[Field],
        do: Verb,
        *,
        with_second: VerbOfTwo | None = None,
    ) -> None:
        super().__init__(desk)
        self.NAME = name
        self.HELP_LINES = tuple(lines)
        self._lines, self._do, self._with_second = tuple(lines), do, with_second
        self.form = EntryForm(fields, id="form")

    def draw(self) -> None:
        """Draw what it is about."""
        self.query_one("#lines", Lines).show((*wrapped(self._lines, self.wide, indent="  "), ""))

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Do it, or say why not; where a second person may let it through, ask for one."""
        message.stop()
        with_second, values = self._with_second, message.values
        try:
            self._do(values)
        except NeedsSecondPerson as refusal:
            if with_second is None:
                self._refused(refusal)
            else:
                self._ask_second(refusal.what, lambda decision: with_second(values, decision))
        except StoreError as refusal:
            self._refused(refusal)
        else:
            self.dismiss(True)

    def _ask_second(self, stops: Sequence[str], do: Callable[[LetThrough], object]) -> None:
        from tui.screens.second import SecondScreen

        def decided(decision: LetThrough | None) -> None:
            if decision is None:
                self.say("Not written: nobody let it through.")
                self.form.open()
                return
            try:
                do(decision)
            except StoreError as refusal:
                self._refused(refusal)
            else:
                self.dismiss(True)

        self.app.push_screen(SecondScreen(self.desk, stops), decided)

    def _refused(self, refusal: StoreError) -> None:
        for of in self.form.fields:
            if of.kind == "pin":
                of.value = ""
        if isinstance(refusal, BadField) and any(f.key == refusal.field for f in self.form.fields):
            self.form.refuse(refusal.field, refusal.what)
        else:
            self.say(refusal)
            self.form.open()
