"""A text to be read: as many lines as it takes, a screen at a time, by keypad or by arrows."""

from collections.abc import Iterable, Sequence
from typing import ClassVar

from textual import events
from textual.screen import ScreenResultType
from textual.widget import Widget

from tui.commands import BACK, HELP, PAGE, Command
from tui.guide.keys import Act, Intent
from tui.screens.desk import Desk
from tui.screens.frame import PadScreen
from tui.widgets.footer import pairs
from tui.widgets.lines import Lines

_MOVES = ("up", "down", "pageup", "pagedown", "home", "end")


class Reading(PadScreen[ScreenResultType]):
    """Shows the lines that `text` gives for a width."""

    KEYS: ClassVar[tuple[Command, ...]] = (PAGE, BACK, HELP)

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.top = 0
        self._all: tuple[str, ...] = ()
        self._ended_at: int | None = None
        """Where the last screen began when it was shown last; None where something else was."""

    def text(self, width: int) -> Sequence[str]:
        """Give every line, none longer than the width."""
        return ()

    def inside(self) -> Iterable[Widget]:
        """Give the widgets of the body."""
        return (Lines(id="lines"),)

    @property
    def room(self) -> int:
        """Lines that are in sight at once."""
        return max(1, self.query_one("#body").content_size.height)

    @property
    def last_top(self) -> int:
        """Where the last screen begins."""
        return max(0, len(self._all) - self.room)

    def draw(self) -> None:
        """Read the text anew and show what is in sight."""
        self._all = tuple(self.text(self.wide))
        self.call_after_refresh(self.show_part)

    def show_part(self) -> None:
        """Show what is in sight, and what the keys do here."""
        if not self.is_mounted:
            return
        room = self.room
        # The keys at the foot may have taken a line since: the end stays in sight.
        self.top = max(0, min(self.last_top if self.top == self._ended_at else self.top, self.last_top))
        self._ended_at = self.top if self.top and self.top == self.last_top else None
        self.query_one("#lines", Lines).show(self._all[self.top : self.top + room])
        self.keys_mean(self.footer())

    def on_key_footer_resized(self) -> None:
        """Count the pages anew: the keys at the foot took lines away from the text, or gave some back."""
        self.show_part()

    def footer(self) -> Sequence[tuple[str, str]]:
        """Say where in the text this is."""
        if not self._all or not self.is_mounted:
            return pairs(self.KEYS)
        screens = -(-len(self._all) // self.room)
        if screens == 1:
            return pairs(c for c in self.KEYS if c is not PAGE)
        at = -(-(self.top + self.room) // self.room) if self.top < self.last_top else screens
        more = (("Enter", "next page"),) if self.top < self.last_top else (("Enter", "first page"),)
        return ((f"page {at} of {screens}", ""), *more, *pairs(self.KEYS))

    def on_key(self, event: events.Key) -> None:
        """Move by arrows; every other key is a keypad's."""
        if event.key in _MOVES:
            event.stop()
            event.prevent_default()
            self.pressed_s = event.time
            self.move(event.key)
        else:
            super().on_key(event)

    def move(self, how: str) -> None:
        """Move: up, down, pageup, pagedown, home, end."""
        page = max(1, self.room - 1)
        steps = {"up": -1, "down": 1, "pageup": -page, "pagedown": page, "home": -len(self._all)}
        self.top = max(0, min(self.last_top, self.top + steps.get(how, len(self._all))))
        self.show_part()

    def on_intent(self, intent: Intent) -> None:
        """Enter shows the next screen, and after the last the first."""
        if isinstance(intent, Act):
            self.next_page()
        else:
            super().on_intent(intent)

    def next_page(self) -> None:
        """Show the next screen, and after the last the first."""
        self.top = self.top + self.room if self.top < self.last_top else 0
        self.show_part()
