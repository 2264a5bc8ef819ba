"""Outside text on the screen: as it is, without markup, and with every sign that hides made visible."""

import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache

from rich.cells import cell_len
from textual.content import Content
from textual.widgets import Static

from store.queries import decimals

_PICTURES = {n: chr(0x2400 + n) for n in range(32)} | {0x7F: "\u2421"}
"""Unicode has a picture of each ASCII control, such as ␀ for NUL."""
_HIDING = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""General categories that print nothing, turn the direction of writing, or mean nothing."""


@lru_cache(maxsize=4096)
def visible(text: str) -> str:
    """Give a line with controls, directions and other hidden signs made visible.

    >>> visible("a\\x00b\\x1b[31m"), visible("abc\\u202edef"), visible("5 µg [/x] 日本")
    ('a␀b␛[31m', 'abc‹202E›def', '5 µg [/x] 日本')
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_visible(c) for c in text)


def _visible(c: str) -> str:
    if picture := _PICTURES.get(ord(c)):
        return picture
    return f"‹{ord(c):04X}›" if unicodedata.category(c) in _HIDING else c


def clip(text: str, width: int) -> str:
    """Cut a line to so many columns, saying so by `…`; wide signs count as two.

    >>> clip("potassium dichromate", 10), clip("日本語", 4), clip("abc", 3)
    ('potassium…', '日…', 'abc')
    """
    if cell_len(text) <= width:
        return text
    kept, used = "", 0
    for c in text:
        used += cell_len(c)
        if used > width - 1:
            break
        kept += c
    return kept + "…" if width > 0 else ""


def pad(text: str, width: int, *, right: bool = False) -> str:
    """Clip and fill a line to exactly so many columns.

    >>> pad("12.50", 8, right=True), pad("日本", 5)
    ('   12.50', '日本 ')
    """
    cut = clip(text, width)
    fill = " " * max(0, width - cell_len(cut))
    return fill + cut if right else cut + fill


def wrap(text: str, width: int, *, indent: str = "") -> tuple[str, ...]:
    """Break a line at blanks to so many columns; a word that is longer is broken inside.

    >>> wrap("one two three", 8, indent="  ")
    ('one two', '  three')
    """
    out: list[str] = []
    line = ""
    for word in text.split(" "):
        lead = indent if out else ""
        joined = f"{line} {word}" if line else lead + word
        if cell_len(joined) <= width:
            line = joined
            continue
        if line:
            out.append(line)
        line = indent + word if out else word
        while cell_len(line) > width:
            cut = clip(line, width + 1)[:-1]
            out.append(cut)
            line = indent + line[len(cut) :]
    return (*out, line)


class Lines(Static):
    """Lines of outside text."""

    DEFAULT_CSS = "Lines { height: auto; width: 1fr; }"

    def __init__(
        self, lines: Iterable[str] = (), *, id: str | None = None, classes: str | None = None
    ) -> None:
        super().__init__("", markup=False, id=id, classes=classes)
        self._lines: tuple[str, ...] = ()
        self.show(tuple(lines))

    @property
    def lines(self) -> tuple[str, ...]:
        """What is shown, made visible."""
        return self._lines

    def show(self, lines: Sequence[str]) -> None:
        """Show these lines; a line end inside one becomes visible, not a new line."""
        shown = tuple(decimals.shown(visible(line)) for line in lines)
        if shown != self._lines:
            # Laying the whole screen out anew costs more than all else that a key does: only when a height
            # may have changed.
            fits = len(shown) == len(self._lines) and self._fits(self._lines) and self._fits(shown)
            self._lines = shown
            self.update(Content("\n".join(shown)), layout=not fits)

    def _fits(self, lines: Sequence[str]) -> bool:
        """Whether no line is broken into two."""
        width = self.content_size.width
        return all(cell_len(line) <= width for line in lines)
