"""What stands where the terminal is too small for a screen: what is needed, and what must not wait for it."""

from textual import events
from textual.app import ComposeResult
from textual.geometry import Size

from tui.screens.desk import Desk
from tui.widgets.key_pad import KeyPad
from tui.widgets.lines import Lines, wrap

LEAST = Size(80, 24)
"""Columns and rows of the smallest terminal that every screen is made for."""


def too_small(size: Size) -> bool:
    """Say whether a terminal is too small.

    >>> too_small(Size(80, 24)), too_small(Size(79, 24)), too_small(Size(80, 23))
    (False, True, True)
    """
    return size.width < LEAST.width or size.height < LEAST.height


class TooSmallScreen(KeyPad[None]):
    """Takes every key and does nothing with it, since a key must not act on what nobody sees."""

    DEFAULT_CSS = "TooSmallScreen #needs { height: auto; }"

    def __init__(self, desk: Desk, *, is_open: bool) -> None:
        super().__init__()
        self.desk, self._open = desk, is_open

    def compose(self) -> ComposeResult:
        """Lay out one text."""
        yield Lines(id="needs")

    def on_mount(self) -> None:
        """Show it."""
        self._draw(self.app.size)

    def on_resize(self, event: events.Resize) -> None:
        """Show the size as it is now."""
        self._draw(event.size)

    def _draw(self, size: Size) -> None:
        text = [f"Needs {LEAST.width} × {LEAST.height}, has {size.width} × {size.height}: enlarge it."]
        if self._open:
            # First, because it may be all that fits.
            text.insert(0, "SOMETHING IS OPEN: close it now.")
        text.append("Keys do nothing until then. Accepted readings are kept; what was half typed is not.")
        width = max(1, size.width)
        self.query_one("#needs", Lines).show([line for one in text for line in wrap(one, width)])
