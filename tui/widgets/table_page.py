"""A paged list: never more rows than a person reads and a terminal lays out at once; the rest on demand."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rich.text import Text
from textual import events
from textual.message import Message
from textual.widget import Widget

from store.queries import decimals
from tui.guide.keys import Back, Intent, Letter, Number, Typed
from tui.guide.keys import Text as TextMode
from tui.messages import Meant
from tui.widgets.key_pad import Keys, Silence
from tui.widgets.lines import pad, visible, wrap

BELOW = 3
"""Lines for what is said of the row under the cursor."""
MOST = 200
"""Rows that are read at once."""
_IDLE = Number(allow_empty=True, letters=True)
_MOVES = {"up": -1, "down": 1}


@dataclass(frozen=True, slots=True)
class Column:
    """A column; width 0 shares what the others leave."""

    label: str
    width: int = 0
    right: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A row, and what opens it."""

    key: str
    cells: tuple[str, ...]


Load = Callable[[str, int, int], Sequence[Row]]
"""Words to find, rows to leave out, rows to give at the most."""


class TablePage(Widget, can_focus=True):
    """Rows with a cursor; a number and Enter opens the row of that number."""

    DEFAULT_CSS = "TablePage { height: 1fr; width: 1fr; }"

    @dataclass
    class Opened(Message):
        """A row was opened."""

        key: str

    def __init__(
        self,
        columns: Sequence[Column],
        load: Load,
        *,
        below: Callable[[str], str] | None = None,
        id: str | None = None,
    ) -> None:
        super().__init__(id=id)
        self.columns, self._load = tuple(columns), load
        self.below = below
        """Says more of the row under the cursor, by its key, below the list."""
        self.keys = Keys(self)
        self.keys.machine.expect(_IDLE)
        self.rows: tuple[Row, ...] = ()
        self.cursor = self._top = self._offset = 0
        self._more = False
        self.find, self._finding = "", False

    def on_mount(self) -> None:
        """Read the first rows."""
        self.read()

    def on_focus(self) -> None:
        """Begin: keys meant for something before are not taken."""
        self.keys.machine.hush(events.Event().time)

    def read(self, offset: int = 0) -> None:
        """Read rows anew from an offset."""
        found = tuple(self._load(self.find, offset, MOST + 1))
        if not found and (other := decimals.pointed(self.find)) != self.find:
            found = tuple(self._load(other, offset, MOST + 1))
        self.rows, self._more, self._offset = found[:MOST], len(found) > MOST, offset
        self.cursor = min(self.cursor, max(0, len(self.rows) - 1))
        self._top = 0
        self.refresh()

    # ---- keys ----

    def on_key(self, event: events.Key) -> None:
        """Own every key; letters by themselves reach the screen as `Meant(Letter)`."""
        event.stop()
        event.prevent_default()
        if event.key in ("up", "down", "pageup", "pagedown", "home", "end"):
            self.move(event.key)
        elif event.key == "escape" and (self._finding or self.find):
            self._found("")
        else:
            for intent in self.keys.key(event):
                self._mean(intent)
        self.refresh()

    def on_silence(self, event: Silence) -> None:
        """Decide what silence decides."""
        event.stop()
        for intent in self.keys.silence(event.at_s):
            self._mean(intent)
        self.refresh()

    def _mean(self, intent: Intent) -> None:
        if isinstance(intent, Typed) and self._finding:
            self._found(intent.text.strip())
        elif isinstance(intent, Typed):
            self._open(intent.text)
        elif intent == Letter("f"):
            self.seek()
        elif isinstance(intent, Back) and self._finding:
            self._found(self.find)
        else:
            self.post_message(Meant(intent))

    def seek(self) -> None:
        """Take the words to find."""
        self._finding = True
        self.keys.machine.expect(TextMode(allow_empty=True))
        self.keys.machine.begin(self.find)

    def _found(self, words: str) -> None:
        self.find, self._finding = words, False
        self.keys.machine.expect(_IDLE)
        self.cursor = 0
        self.read()

    def _open(self, typed: str) -> None:
        """Open the row of a number, of a scanned key, or under the cursor; look for anything else."""
        keys = [row.key for row in self.rows]
        if typed in keys:
            at = keys.index(typed)
        else:
            at = int(typed) - 1 - self._offset if typed.isdecimal() and typed.isascii() else self.cursor
        if typed and typed not in keys and not (typed.isdecimal() and typed.isascii()):
            self._found(typed)
            return
        if not 0 <= at < len(self.rows):
            return
        self.cursor = at
        self.post_message(self.Opened(self.rows[at].key))

    def move(self, how: str) -> None:
        """Move the cursor: up, down, pageup, pagedown, home, end; past the rows read, read on."""
        page = max(1, self._shown - 1)
        last = len(self.rows) - 1
        step = _MOVES.get(how, page if how == "pagedown" else -page)
        to = {"home": 0, "end": last}.get(how, self.cursor + step)
        if how == "home" and self._offset:
            self.cursor = 0
            self.read(0)
        elif to > last and self._more:
            self.cursor = 0
            self.read(self._offset + MOST)
        elif to < 0 and self._offset:
            self.read(max(0, self._offset - MOST))
            self.cursor = len(self.rows) - 1
        else:
            self.cursor = max(0, min(last, to))

    # ---- drawing ----

    @property
    def _shown(self) -> int:
        return max(1, self.size.height - 2 - (BELOW if self.below is not None else 0))

    def _widths(self) -> list[int]:
        left = self.size.width - 7 - sum(c.width for c in self.columns) - 2 * (len(self.columns) - 1)
        open_ = sum(1 for c in self.columns if not c.width) or 1
        return [c.width or max(4, left // open_) for c in self.columns]

    def _line(self, cells: Sequence[str], widths: Sequence[int]) -> str:
        return "  ".join(
            pad(decimals.shown(visible(cell)), width, right=column.right)
            for cell, width, column in zip(cells, widths, self.columns, strict=True)
        )

    def render(self) -> Text:
        """Draw heading, rows in sight, and where in the list this is."""
        self._top = max(self.cursor - self._shown + 1, min(self._top, self.cursor))
        widths = self._widths()
        text = Text(no_wrap=True)
        text.append("       " + self._line([c.label for c in self.columns], widths).rstrip(), style="bold")
        for n in range(self._top, min(len(self.rows), self._top + self._shown)):
            here = n == self.cursor
            line = f"\n{'▸' if here else ' '}{self._offset + n + 1:>4}  "
            text.append(line + self._line(self.rows[n].cells, widths), style="bold reverse" if here else "")
        blank = self._shown - min(len(self.rows) - self._top, self._shown)
        text.append("\n" * (blank + 1) + self._foot(), style="bold")
        if self.below is not None and self.rows:
            said = wrap(visible(self.below(self.rows[self.cursor].key)), self.size.width - 2)[:BELOW]
            text.append("".join(f"\n {decimals.shown(line)}" for line in said))
        return text

    def _foot(self) -> str:
        if self._finding:
            return f" find: {visible(self.keys.machine.line)}▏"
        if self.keys.machine.line:
            return f" row: {visible(self.keys.machine.line)}▏"
        words = f"  holding {visible(self.find)!r}" if self.find else ""
        if not self.rows:
            return f" none{words}"
        more = ", more follow" if self._more else ""
        return f" {self._offset + 1} to {self._offset + len(self.rows)}{more}{words}"
