"""The application: themes, the idle lock, and which screen stands first. Nothing else lives here."""

import sys
import termios
from importlib import import_module
from threading import Thread
from typing import ClassVar

from textual import events
from textual.app import App
from textual.filter import Monochrome, NoColor
from textual.geometry import Size
from textual.screen import Screen

from store.actions import people
from store.queries import registers
from tui.screens.bench import BenchScreen
from tui.screens.desk import Desk
from tui.screens.sign_in import SignInScreen
from tui.screens.too_small import TooSmallScreen, too_small
from tui.theme import THEMES, WithoutColour, chosen


def _load_the_rest() -> None:
    """Import what comes after the sign-in while the person types the id."""
    for name in BEHIND_THE_SIGN_IN:
        import_module(name)


def _answers(terminal: int) -> bool:
    """Say whether there still is a terminal behind a file descriptor."""
    try:
        termios.tcgetattr(terminal)
    except termios.error:
        return False
    return True


BEHIND_THE_SIGN_IN = (
    "store.record.projection",
    "store.queries.due",
    "store.queries.setup",
    "tui.screens.bench_rows",
    "tui.guide.connected",
    "tui.screens.step",
)
"""What the first screen does without and the next ones need; half a second of imports."""


ASKED_S = 10.0
"""For so long a second ctrl+q is the answer to what was asked."""


class TarebookApp(App[None]):
    """One terminal at one record."""

    CSS_PATH: ClassVar = ["screens/frame.tcss", "screens/sign_in.tcss", "screens/bench.tcss"]
    """Of the first screens; each one that came by itself would have all parsed again."""
    ENABLE_COMMAND_PALETTE = False
    TITLE = "Tarebook"
    BINDINGS: ClassVar = [("ctrl+q", "quit_unless_open", "leave")]

    def __init__(self, desk: Desk, *, theme: str = "") -> None:
        super().__init__()
        self.desk = desk
        self._terminal = (
            sys.__stdin__.fileno() if sys.__stdin__ is not None and sys.__stdin__.isatty() else None
        )
        for one in THEMES:
            self.register_theme(one)
        self.theme = chosen(theme, no_colour=self.no_color, colours=self.console.color_system)
        self._last_key_s = desk.monotonic()
        self._asked_s = -ASKED_S
        """When it was asked last whether to leave what is not written."""
        if self.no_color:
            # The framework would show greys.
            self._filters = [f for f in self._filters if not isinstance(f, Monochrome | NoColor)]
            self._filters.append(WithoutColour())

    def on_mount(self) -> None:
        """Show the sign-in, or begin a record that has nobody yet."""
        self.push_screen(BenchScreen(self.desk))
        if registers.rows(self.desk.record, "person"):
            self.push_screen(SignInScreen(self.desk))
        else:
            from tui.screens.first_run import FirstRunScreen

            self.push_screen(FirstRunScreen(self.desk))
        self.call_after_refresh(Thread(target=_load_the_rest, name="load", daemon=True).start)
        self._mind_size(self.size)
        self.set_interval(1.0, self._idle)

    def on_resize(self, event: events.Resize) -> None:
        """Say what is needed where the terminal has become too small; come back when it is large enough."""
        self._mind_size(event.size)

    def _mind_size(self, size: Size) -> None:
        covered = isinstance(self.screen, TooSmallScreen)
        if too_small(size) and not covered:
            self.push_screen(TooSmallScreen(self.desk, is_open=not self._may_lock()))
        elif covered and not too_small(size):
            self.pop_screen()
            self._idle()
            # A layout asked for while the screen was covered is lost; its lines may have another height now.
            self.call_after_refresh(self._lay_out)

    def _lay_out(self) -> None:
        for widget in self.screen.query("*"):
            widget.refresh(layout=True)

    async def on_event(self, event: events.Event) -> None:
        """Note the time of every key: the lock counts from it."""
        if isinstance(event, events.Key | events.Paste):
            self._last_key_s = self.desk.monotonic()
        await super().on_event(event)

    def _idle(self) -> None:
        """Lock after the site's minutes without a key; never while something is open."""
        if self._terminal is not None and not _answers(self._terminal):
            self.exit()  # the window was closed: every accepted entry is in the record
            return
        if self.desk.person is None or not self._may_lock():
            return
        # The lock would come to lie over the screen that says what is needed, and nobody could read it.
        if isinstance(self.screen, SignInScreen | TooSmallScreen):
            return
        minutes = float(self.desk.settings()["lock_minutes"])
        if self.desk.monotonic() - self._last_key_s > 60.0 * minutes:
            self.lock("locked by itself")

    def _may_lock(self) -> bool:
        return all(getattr(screen, "locks", True) for screen in self.screen_stack)

    def lock(self, how: str = "sign out") -> None:
        """Sign the person out; screens stay where they are for the same person only."""
        person = self.desk.person
        if person is None:
            return
        people.sign_out(person, how=how)
        self.desk.person = None
        self.push_screen(SignInScreen(self.desk, locked_by=person.person))

    def action_quit_unless_open(self) -> None:
        """Leave, unless something is open; where a form holds what is not written, only when asked twice."""
        open_here: list[Screen[object]] = [s for s in self.screen_stack if not getattr(s, "locks", True)]
        if open_here:
            self._say("Something is open, or an incident is being written: end that first, then leave.")
            return
        asked, self._asked_s = self._asked_s, self.desk.monotonic()
        if self._asked_s - asked > ASKED_S and any(getattr(s, "unwritten", False) for s in self.screen_stack):
            self._say("A form holds what is not written: ctrl+q again drops it and leaves Tarebook.")
            return
        self.exit()

    def _say(self, what: str) -> None:
        """Say why the key did nothing, where the screen has a line for it."""
        self.bell()
        if (say := getattr(self.screen, "say", None)) is not None:
            say(what)
