"""What a screen wants and what its keys do."""

from collections.abc import Sequence
from typing import ClassVar

from store.hazards.cautions import note
from tui.commands import BACK, PAGE, Command
from tui.guide.keys import Help, Intent
from tui.screens.desk import Desk
from tui.screens.frame import wrapped
from tui.screens.reading import Reading


class HelpScreen(Reading[None]):
    """Help on one screen."""

    NAME = "Help"
    KEYS: ClassVar[tuple[Command, ...]] = (PAGE, BACK)

    def __init__(self, desk: Desk, of: str, lines: Sequence[str], commands: Sequence[Command]) -> None:
        super().__init__(desk)
        self._of, self._lines, self._commands = of, tuple(lines), tuple(commands)

    def text(self, width: int) -> Sequence[str]:
        """Give the words of the screen, then each key."""
        out = [self._of, "", *wrapped(self._lines, width)]
        out += [""] if self._lines else []
        for c in self._commands:
            out += wrapped((f"{c.key:<10}{c.label}: {c.help}",), width, indent=" " * 10)
        return (*out, "", *wrapped((note(),), width))

    def on_intent(self, intent: Intent) -> None:
        """The key that opened it closes it too."""
        if isinstance(intent, Help):
            self.leave()
        else:
            super().on_intent(intent)
