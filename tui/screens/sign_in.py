"""Sign in and lock: a short id and a PIN, both by keypad; 9 is the spill card without either."""

from typing import Any, ClassVar

from textual.app import App

from store.actions import people
from store.errors import StoreError
from store.queries import registers
from tui.commands import HELP, SPILL, Command
from tui.guide.keys import Back, Doubtful, Intent, Mode, Pause, Pin, Spill, Text, Typed
from tui.screens.desk import Desk
from tui.screens.frame import PadScreen, wrapped
from tui.widgets.lines import Lines

SPILL_KEY = "9"
LEAVE = Command("leave", "/", "leave Tarebook", "Pressed twice.")


class SignInScreen(PadScreen[str]):
    """Asks who it is; its result is the id of the person who signed in."""

    CSS_PATH = ["frame.tcss", "sign_in.tcss"]
    NAME = "Sign in"
    KEYS: ClassVar[tuple[Command, ...]] = (HELP, SPILL, LEAVE)
    HELP_LINES = (
        "Type your id, or the digits that stand for it, then Enter; then your PIN, then Enter. Neither is "
        "said to be wrong by itself. After a refused PIN the next one waits, up to 30 s.",
        "9 and Enter opens the spill card: what to do now. It asks for no PIN.",
    )

    def __init__(self, desk: Desk, *, locked_by: str = "", since: str = "") -> None:
        super().__init__(desk)
        self._locked_by, self._since = locked_by, since
        self.NAME = "Locked" if locked_by else "Sign in"
        self._who = ""
        self._line = ""
        self._waits_until = 0.0
        self._leaving = False

    def on_mount(self) -> None:
        """Count a wait down."""
        self.set_interval(0.5, self._count_down)

    def right(self) -> str:
        """Give the site and the time; nobody is signed in here."""
        site = self.desk.settings()["site"]
        return " · ".join(part for part in (site, self.desk.clock()) if part)

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        return Pin(spill=True) if self._who else Text()

    def typed(self, line: str) -> None:
        """Show what is typed so far."""
        self._line = line
        self.draw()

    def on_intent(self, intent: Intent) -> None:
        """Take the id, then the PIN."""
        twice = isinstance(intent, Pause) and self._leaving
        self._leaving = isinstance(intent, Pause)
        match intent:
            case Spill() | Typed("9"):
                self.say("")
                self._spill()
            case Typed(text) if self._who:
                self._sign_in(text)
            case Typed(text) if text.strip():
                self._who = text.strip()
                self.say("")
            case Doubtful():
                self.say("Two things may have run together: type it again.")
            case Back() if self._who:
                self._who = ""
                self.say("")
            case Back():
                self.say("")
            case Pause() if twice:
                self.app.exit()
            case Pause():
                self.say("Press / again to leave Tarebook; everything accepted is in the record.")
            case _:
                super().on_intent(intent)

    def _spill(self) -> None:
        from tui.screens.spill import SpillScreen

        self.app.push_screen(SpillScreen(self.desk))

    def _sign_in(self, pin: str) -> None:
        typed, self._who = self._who, ""
        how = "unlock" if self._locked_by else "sign in"
        try:
            self.desk.person = people.sign_in(self.desk.record, known(self.desk, typed), pin, how=how)
        except StoreError as refusal:
            self._waits_until = self.desk.monotonic() + getattr(refusal, "wait_s", 0.0)
            self.say(refusal)
            return
        who = self.desk.person.person
        app = self.app
        self.dismiss(who)
        put_away(app, same=who == self._locked_by)
        if self.desk.spilled:
            from tui.screens.incident import IncidentScreen

            self.desk.spilled = False
            app.push_screen(IncidentScreen(self.desk, ""))

    def _count_down(self) -> None:
        if self._waits_until:
            if self._waits_until <= self.desk.monotonic():
                self._waits_until = 0.0
            self.draw()

    def draw(self) -> None:
        """Draw what is asked, what is typed, how long to wait, and the hints of a demo."""
        lines = [""]
        if self._locked_by:
            since = f" since {self.desk.local_time(self._since):%H:%M}" if self._since else ""
            lines += [
                f"Locked by {self._locked_by}{since}. Sign in to go on; another person may sign in too.",
                "",
            ]
        if self._who:
            lines += [f"Id    {self._who}", f"PIN   {'•' * len(self._line)}▏"]
        else:
            lines += [f"Id    {self._line}▏", "PIN"]
        lines += ["", self._prompt(), ""]
        if (left_s := self._waits_until - self.desk.monotonic()) > 0:
            lines += [f"The next PIN is taken in {left_s:.0f} s.", ""]
        lines += ["9 Enter   spill card: what to do now, without a PIN", ""]
        lines += self.desk.hint
        self.query_one("#lines", Lines).show(wrapped(lines, self.wide))

    def _prompt(self) -> str:
        if self._line == SPILL_KEY:
            return "Enter opens the spill card."
        if self._who:
            return "Type the PIN, then Enter.  - goes back to the id."
        return "Type your id or its digits, then Enter."


def known(desk: Desk, typed: str) -> str:
    """Give the id of whom the typed text means: an id in any case of letters, or a keypad number.

    What means nobody, or more than one person, is given back as typed, and refused like a wrong PIN.
    """
    rows = registers.rows(desk.record, "person")
    found = [r.id for r in rows if r.id == typed] or [
        r.id for r in rows if typed.casefold() == r.id.casefold() or typed == r.row.get("number")
    ]
    return found[0] if len(found) == 1 else typed


def lock(app: App[Any], desk: Desk, *, how: str) -> None:
    """Sign out who is signed in, and put the lock before everything."""
    if desk.person is None:
        return
    before, since = desk.person.person, desk.now()
    people.sign_out(desk.person, how=how)
    desk.person = None
    app.push_screen(SignInScreen(desk, locked_by=before, since=since.isoformat()))


def put_away(app: App[Any], *, same: bool) -> None:
    """Leave every screen down to the bench, so that nobody goes on in another person's name.

    The same person finds desk work again as it was; a step is taken up anew, since its cautions are read anew
    after a sign-in.
    """
    while len(app.screen_stack) > 2 and not getattr(app.screen, "is_ground", False):
        if same and getattr(app.screen, "survives_lock", False):
            return
        app.pop_screen()
