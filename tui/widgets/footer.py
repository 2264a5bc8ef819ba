"""Our own footer: which keys mean something now, from the one list of commands."""

from collections.abc import Iterable, Sequence

from rich.cells import cell_len
from rich.text import Text
from textual import events
from textual.message import Message
from textual.widgets import Static

from tui.commands import Command
from tui.widgets.lines import visible


def pairs(commands: Iterable[Command]) -> tuple[tuple[str, str], ...]:
    """Give key and label of commands."""
    return tuple((c.key, c.label) for c in commands)


def layout(keys: Sequence[tuple[str, str]], width: int) -> tuple[tuple[tuple[str, str], ...], ...]:
    """Lay keys out in lines, none split.

    >>> layout((("Enter", "take it"), ("+", "note"), ("-", "back")), 24)
    ((('Enter', 'take it'), ('+', 'note')), (('-', 'back'),))
    """
    out: list[tuple[tuple[str, str], ...]] = []
    line: tuple[tuple[str, str], ...] = ()
    used = 0
    for key, label in keys:
        long = cell_len(key) + 1 + cell_len(label) + (4 if line else 0)
        if line and used + long > width:
            out.append(line)
            line, used, long = (), 0, long - 4
        line, used = (*line, (key, label)), used + long
    return (*out, line) if line else tuple(out)


class KeyFooter(Static):
    """Keys and what they do; bold tells the key, a blank line of style is never the only sign."""

    DEFAULT_CSS = "KeyFooter { height: auto; width: 1fr; padding: 0 1; }"

    def __init__(self, keys: Sequence[tuple[str, str]] = (), *, id: str | None = None) -> None:
        super().__init__("", markup=False, id=id)
        self._keys = tuple(keys)

    def show(self, keys: Sequence[tuple[str, str]]) -> None:
        """Show these keys."""
        if tuple(keys) != self._keys:
            self._keys = tuple(keys)
            self._draw()

    class Resized(Message):
        """It takes other lines than before: what stands above has more room, or less."""

    def on_resize(self, _: events.Resize) -> None:
        """Lay out anew at the new width."""
        self._draw()
        self.post_message(self.Resized())

    def _draw(self) -> None:
        if not self.size.width:
            return  # laid out for no width, it would keep a height of many lines
        text = Text()
        for n, line in enumerate(layout(self._keys, max(20, self.size.width))):
            text.append("\n" if n else "")
            for m, (key, label) in enumerate(line):
                text.append("    " if m else "")
                text.append(visible(key), style="bold")
                text.append(f" {visible(label)}")
        self.update(text)
