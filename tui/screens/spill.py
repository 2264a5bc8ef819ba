"""The spill and first-aid card: what to do now, from the hazards of all that is open. It asks for no PIN."""

from collections.abc import Sequence
from typing import ClassVar

from tui.commands import BACK, HELP, NOTE, PAGE, Command
from tui.guide import spill_card
from tui.guide.keys import Intent, Note, Spill
from tui.screens.desk import Desk
from tui.screens.reading import Reading

AFTER = "See to people first. Whoever signs in next is asked for the incident."


class SpillScreen(Reading[None]):
    """What to do at a spill, a breach or contact."""

    CSS_PATH = ["frame.tcss", "spill.tcss"]
    NAME = "Spill card"
    KEYS: ClassVar[tuple[Command, ...]] = (PAGE, NOTE, BACK, HELP)
    HELP_LINES = (
        "The card puts together what stands for everything that is open: the site's numbers, what to do, "
        "first aid by the statements of the substances. See to people first; the entry can wait.",
    )
    locks = False

    def __init__(self, desk: Desk, prep: str = "") -> None:
        super().__init__(desk)
        self.prep = prep
        self.card = spill_card.of(desk.record, prep)

    def text(self, width: int) -> Sequence[str]:
        """Give the card."""
        return tuple(spill_card.lines(self.desk.record, self.card, width))

    def footer(self) -> Sequence[tuple[str, str]]:
        """Leave out the incident where nobody is signed in who could write it."""
        return tuple(k for k in super().footer() if self.desk.person is not None or k[0] != NOTE.key)

    def on_intent(self, intent: Intent) -> None:
        """The incident is written from here."""
        if isinstance(intent, Note):
            self.leave()
        elif not isinstance(intent, Spill):
            super().on_intent(intent)

    def leave(self) -> None:
        """Ask for the incident: now where somebody is signed in, else at the next sign-in."""
        if self.desk.person is None:
            self.desk.spilled = True
            self.dismiss(None)
            self.app.notify(AFTER, markup=False, timeout=12)
            return
        from tui.screens.incident import IncidentScreen

        self.app.switch_screen(IncidentScreen(self.desk, self.prep))
