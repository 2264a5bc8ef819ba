"""Big digits: what the display shows, legible from two metres, with the unit and the word beside it."""

from rich.segment import Segment
from textual import events
from textual.geometry import Region
from textual.strip import Strip
from textual.widgets import Static

from store.queries import decimals
from tui.widgets.lines import visible

_ROWS = 5
_GLYPHS = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", " ##", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", " # ", " # "),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    "-": ("   ", "   ", "###", "   ", "   "),
    "+": ("   ", " # ", "###", " # ", "   "),
    ".": (" ", " ", " ", " ", "#"),
    ",": (" ", " ", " ", "#", "#"),
    " ": (" ", " ", " ", " ", " "),
}
_SCALES = ((6, 3), (4, 2), (3, 2), (2, 1), (1, 1))
"""Columns and rows of one dot, largest first; a cell of a terminal is about twice as high as wide."""


def _width(shown: str, across: int) -> int:
    dots = sum(len(_GLYPHS[c][0]) for c in shown)
    return dots * across + max(0, len(shown) - 1) * max(1, across // 2 + 1)


def scale(shown: str, width: int, height: int) -> tuple[int, int] | None:
    """Give the largest dot that these digits fit with, or None where they cannot be drawn.

    >>> scale("9.87", 60, 5), scale("9.87", 60, 10), scale("OVERLOAD", 60, 10)
    ((2, 1), (4, 2), None)
    """
    if not shown or any(c not in _GLYPHS for c in shown):
        return None
    for across, down in _SCALES:
        if _ROWS * down <= height and _width(shown, across) <= width:
            return across, down
    return None


def rows(shown: str, width: int, height: int) -> tuple[str, ...]:
    """Draw digits, sign and point as large as they fit; other text, or no room, gives one plain line.

    >>> print("\\n".join(rows("-1.2", 40, 5)))
              ██        ██████
            ████            ██
    ██████    ██        ██████
              ██        ██
            ██████  ██  ██████
    """
    fits = scale(shown, width, height)
    if fits is None:
        return (visible(shown),)
    across, down = fits
    gap = " " * max(1, across // 2 + 1)
    drawn: list[str] = []
    for n in range(_ROWS):
        line = gap.join("".join(dot * across for dot in _GLYPHS[c][n]) for c in shown)
        drawn += [line.replace("#", "█").rstrip()] * down
    return tuple(drawn)


class BigDigits(Static):
    """The display, with the unit and a word such as STEADY to the right of it."""

    DEFAULT_CSS = "BigDigits { height: 5; width: 1fr; }"
    LEFT = 3
    WORD = 14
    """Columns kept for unit and word."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__("", markup=False, id=id)
        self._what = ("", "", "")
        self._lines: tuple[str, ...] = ()

    def show(self, shown: str, unit: str, word: str) -> None:
        """Show these digits; `word` says steady, moving, typed or old."""
        if (shown, unit, word) != self._what:
            self._what = (shown, unit, word)
            self._draw()

    def on_resize(self, _: events.Resize) -> None:
        """Draw anew at the new size."""
        self._draw()

    def _draw(self) -> None:
        shown, unit, word = decimals.shown(self._what[0]), *self._what[1:]
        width, height = self.size
        drawn = rows(shown or "no reading", width - self.LEFT - self.WORD, height)
        # All digits end at one column, so that they do not jump while they change.
        right = max(map(len, drawn))
        lines = [" " * self.LEFT + line for line in drawn]
        beside = f"{unit:<4}" if shown else ""
        last = len(lines) - 1
        lines[last] = lines[last].ljust(self.LEFT + right) + f"  {beside}"
        lines[last // 2] = lines[last // 2].ljust(self.LEFT + right) + (f"  {word}" if last else f"   {word}")
        self._lines = tuple(lines)
        self.refresh()  # its height is given, whatever it shows

    def render_lines(self, crop: Region) -> list[Strip]:
        """Give the lines as they are: a dozen of them change with every key, and need no layout of text."""
        style, background = self.rich_style, self.background_colors[1]
        blank = " " * self.size.width
        out = []
        for y in range(crop.y, crop.bottom):
            line = self._lines[y] if y < len(self._lines) else ""
            strip = Strip([Segment(f"{line}{blank}"[: self.size.width], style)], self.size.width)
            for one in self.app._filters:
                strip = strip.apply_filter(one, background) if one.enabled else strip
            out.append(strip.crop(crop.x, crop.right))
        return out
