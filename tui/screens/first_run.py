"""Begin a record: the site, and its first person, who is the keeper."""

from typing import ClassVar

from store.actions import people, registers
from store.errors import BadInput, StoreError
from store.model.registers import check_id
from tui.commands import FIELDS, HELP, NEXT, Command
from tui.guide.keys import Back, Intent
from tui.screens.desk import Desk
from tui.screens.form_frame import FormFrame
from tui.screens.frame import wrapped
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.lines import Lines

WHAT = (
    "This record is new. Its first person is the keeper, who enters the other people and the site's data.",
    "A PIN guards screens, not the file: keep the file where only those who may read it can.",
)
LATER = "empty: later, in the settings"


class FirstRunScreen(FormFrame[str]):
    """Asks for the site and the keeper; its result is the keeper's id, signed in."""

    CSS_PATH = ["frame.tcss", "first_run.tcss"]
    NAME = "Begin a record"
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, HELP)
    HELP_LINES = (
        *WHAT,
        "Substances, lots, containers, balances, enclosures, vessels, people and local rules come in by "
        "tarebook import KIND FILE; tarebook export KIND --template gives a file to fill in.",
    )
    locks = False

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.form = EntryForm(
            (
                Field("site", "site", help="as it stands on labels", required=True),
                Field("emergency", "emergency numbers", help=f"on top of the spill card; {LATER}"),
                Field("id", "keeper's id", take=_id, required=True, help="short, such as ke-1"),
                Field("name", "keeper's name", required=True, help="name or initials, as the site chooses"),
                Field("pin", "PIN", "pin", take=_pin, required=True, help="4 to 12 digits"),
                Field("again", "PIN again", "pin", required=True),
            ),
            id="form",
        )  # fmt: skip

    def draw(self) -> None:
        """Draw what this is for."""
        self.query_one("#lines", Lines).show((*wrapped(WHAT, self.wide), ""))

    def means(self, intent: Intent) -> bool:
        """Nothing is behind this screen."""
        if isinstance(intent, Back):
            self.say("Nothing is behind this screen; ctrl+q leaves Tarebook, and nothing is written.")
            return True
        return super().means(intent)

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Enter the keeper and the site."""
        message.stop()
        given = message.values
        if given["pin"] != given["again"]:
            for of in self.form.fields[-2:]:
                of.value = ""
            self.form.refuse("pin", "The two PINs differ: type both again.")
            return
        try:
            with self.desk.record.immediate():
                keeper = people.first_keeper(
                    self.desk.record, id=given["id"], name=given["name"], pin=given["pin"]
                )
                for setting in ("site", "emergency"):
                    if given[setting]:
                        registers.register(keeper, "setting", {"id": setting, "value": given[setting]})
            self.desk.person = people.sign_in(self.desk.record, given["id"], given["pin"])
        except StoreError as refusal:
            self.say(refusal)
            self.form.open()
            return
        from tui.screens.set_up import SetUpScreen

        app = self.app
        self.dismiss(given["id"])
        app.push_screen(SetUpScreen(self.desk))


def _id(text: str) -> str:
    if text == "9":
        raise BadInput("9 is the spill card: choose another id.")
    return check_id(text)


def _pin(text: str) -> str:
    if not (4 <= len(text) <= 12 and text.isascii() and text.isdigit()):
        raise BadInput("A PIN is 4 to 12 digits: type it again.")
    return text
