"""A second person lets a refused act through: by name, PIN and reason, or not."""

from collections.abc import Sequence
from typing import ClassVar

from store.actions.acting import LetThrough, second_person
from store.errors import StoreError
from store.queries import registers
from tui.commands import BACK, FIELDS, HELP, NEXT, Command
from tui.guide.texts import SECOND_REASONS
from tui.screens.desk import Desk
from tui.screens.form_frame import FormFrame
from tui.screens.frame import wrapped
from tui.screens.sign_in import known
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.lines import Lines


class SecondScreen(FormFrame[LetThrough]):
    """Gives the decision, or None where nobody lets it through."""

    CSS_PATH = ["frame.tcss", "second.tcss"]
    NAME = "A second person"
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, BACK, HELP)
    HELP_LINES = (
        "Something stands against this act. A second person, who is somebody else, may let it through: the "
        "name and the reason stand in the record. The first person goes on; nobody else is signed in by it.",
    )
    survives_lock = False

    def __init__(self, desk: Desk, stops: Sequence[str]) -> None:
        super().__init__(desk)
        self.stops = tuple(stops)
        me = desk.acting.person
        people = [p for p in registers.people_here(desk.record) if p != me]
        self.form = EntryForm(
            (
                Field("second", "second person", take=lambda t: known(desk, t), required=True,
                      suggest=lambda t: [p for p in people if p.startswith(t)], help="id or its digits"),
                Field("pin", "PIN", "pin", required=True),
                Field("reason", "why it may go on", suggest=lambda t: [r for r in SECOND_REASONS if t in r],
                      required=True, help="stands in the record"),
            ),
            id="form",
        )  # fmt: skip

    def draw(self) -> None:
        """Draw what stands against it."""
        shown = ("A second person must let this through:", "", *(f"✗ {what}" for what in self.stops), "")
        self.query_one("#lines", Lines).show(wrapped(shown, self.wide, indent="  "))

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Check PIN and reason."""
        message.stop()
        given = message.values
        try:
            decision = second_person(
                self.desk.acting,
                second=given["second"],
                pin=given["pin"],
                reason=given["reason"],
                what=self.stops,
            )
        except StoreError as refusal:
            self.say(refusal)
            self.form.fields[1].value = ""
            self.form.open(0)
            return
        self.dismiss(decision)
