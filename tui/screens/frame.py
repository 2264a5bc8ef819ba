"""The frame that every desk screen has: where am I at the top, what is there, what was said, which keys."""

from collections.abc import Iterable, Sequence
from typing import ClassVar

from rich.cells import cell_len
from textual import events
from textual.app import ComposeResult
from textual.containers import Container
from textual.geometry import Size
from textual.screen import Screen, ScreenResultType
from textual.widget import Widget

from store.errors import StoreError
from store.queries import decimals
from tui.commands import BACK, HELP, Command
from tui.guide import unmeant
from tui.guide.intents import ANSWERS
from tui.guide.keys import Act, Back, Help, Intent, Letter, Mode, Spill
from tui.messages import Meant
from tui.screens.desk import Desk
from tui.widgets.footer import KeyFooter, pairs
from tui.widgets.key_pad import KeyPad
from tui.widgets.lines import Lines, clip, visible, wrap


def ends(left: str, right: str, width: int) -> str:
    """Put one text at the beginning of a line and one at its end; the first gives way.

    >>> ends("Bench", "op-3", 12), ends("potassium dichromate", "op-3", 12)
    ('Bench   op-3', 'potass… op-3')
    """
    cut = clip(left, max(0, width - cell_len(right) - 1))
    return f"{cut}{' ' * (width - cell_len(cut) - cell_len(right))}{right}".rstrip()


def wrapped(lines: Iterable[str], width: int, *, indent: str = "") -> tuple[str, ...]:
    """Break every line to a width; blank lines stay."""
    return tuple(
        part for line in lines for part in (wrap(visible(line), width, indent=indent) if line else ("",))
    )


class Framed(Screen[ScreenResultType]):
    """A screen of the desk: head, body, one line of answer, keys."""

    CSS_PATH = ["frame.tcss"]
    NAME = ""
    """What stands at the head."""
    KEYS: ClassVar[tuple[Command, ...]] = (BACK, HELP)
    HELP_LINES: tuple[str, ...] = ()
    """What this screen wants, for its help."""
    locks = True
    survives_lock = True
    """Whether the same person finds it again behind the lock."""
    by_parts = False
    """Whether what it draws follows the size of a part of it, which is laid out after the whole."""
    _laid_out: Size | None = None
    """The size that it was drawn for last."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk

    def compose(self) -> ComposeResult:
        """Lay out: where, what, what was said, which keys."""
        yield Lines(id="head")
        with Container(id="body"):
            yield from self.inside()
        yield Lines(id="said")
        yield KeyFooter(self.footer(), id="keys")

    def inside(self) -> Iterable[Widget]:
        """Give the widgets of the body."""
        return (Lines(id="lines"),)

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give the keys that mean something now."""
        return pairs(self.KEYS)

    def commands(self) -> Sequence[Command]:
        """Give the keys that the help explains."""
        return self.KEYS

    def helps(self) -> Sequence[str]:
        """Give what the help says before the keys."""
        return self.HELP_LINES

    def right(self) -> str:
        """Give what stands at the end of the head line: who is signed in, and when it is."""
        who = f"{self.desk.person.person} signed in" if self.desk.person is not None else "nobody signed in"
        return f"{who} · {self.desk.clock()}"

    @property
    def wide(self) -> int:
        """Columns of a line of text."""
        return max(20, self.size.width - 2)

    def on_mount(self) -> None:
        """Show the head, and let the time go on."""
        self.set_interval(15.0, self.show_head)
        self.show_head()

    def on_resize(self, _: events.Resize) -> None:
        """Lay out anew at the new size; what is told again at the same one asks the record nothing."""
        if self.size == self._laid_out and not self.by_parts:
            return
        self._laid_out = self.size
        self.show_head()
        self.draw()

    def show_head(self) -> None:
        """Show where this is, who is signed in, and when it is; numbers with the site's sign."""
        decimals.follow(self.desk.record)
        self.query_one("#head", Lines).show((ends(f" {self.NAME}", f"{self.right()} ", self.size.width),))

    def draw(self) -> None:
        """Draw the body."""

    def say(self, what: str | StoreError) -> None:
        """Say in a line or more what the last key led to."""
        self.query_one("#said", Lines).show(wrapped((str(what),), self.wide) if str(what) else ())

    def keys_mean(self, keys: Sequence[tuple[str, str]]) -> None:
        """Show other keys at the foot."""
        self.query_one("#keys", KeyFooter).show(keys)

    def leave(self) -> None:
        """Go back to the screen before."""
        self.dismiss(None)

    def leave_saying(self, what: str) -> None:
        """Go back to the screen before, and say there what was done."""
        app = self.app

        def say() -> None:
            if isinstance(app.screen, Framed):
                app.screen.say(what)

        self.dismiss(None)
        app.call_later(say)

    def means(self, intent: Intent) -> bool:
        """Do what a key means on every screen; say whether it was one of them."""
        if isinstance(intent, Back):
            self.leave()
        elif isinstance(intent, Help):
            from tui.screens.help import HelpScreen

            self.app.push_screen(HelpScreen(self.desk, self.NAME, self.helps(), self.commands()))
        elif isinstance(intent, Spill):
            from tui.screens.spill import SpillScreen

            self.app.push_screen(SpillScreen(self.desk))
        else:
            return False
        return True

    def on_meant(self, message: Meant) -> None:
        """Take a key that the widget in the body has no use for."""
        message.stop()
        self.say(self.unmeant(message.intent, Act()))  # what the key before led to is past
        if not self.means(message.intent) and isinstance(message.intent, Letter):
            self.letter(message.intent.key)

    def letter(self, key: str) -> None:
        """Do what a letter means here."""

    def unmeant(self, intent: Intent, mode: Mode) -> str:
        """Say of a key that it does nothing here; empty where it is one of this screen's."""
        lost = isinstance(intent, Letter) and intent.key not in {c.key for c in self.commands()}
        return unmeant.words(intent, mode) if lost or isinstance(intent, ANSWERS) else ""


class PadScreen(Framed[ScreenResultType], KeyPad[ScreenResultType]):
    """A framed screen that owns every key itself."""

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        return Act()

    def on_intent(self, intent: Intent) -> None:
        """Do what the keys asked for."""
        self.say(self.unmeant(intent, self.expecting()))
        if not self.means(intent) and isinstance(intent, Letter):
            self.letter(intent.key)
