"""Four themes, each with a contrast of 7:1 for every text on every background, and the dumb terminal.

Nothing is said by colour alone, so the theme without colour loses nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from rich.color import Color as RichColor
from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.filter import LineFilter
from textual.theme import Theme

LEAST_CONTRAST = 7.0
"""Success criterion 1.4.6 of WCAG 2.2, level AAA."""

TEXTS = (
    "foreground",
    "text-muted",
    "text-disabled",
    "primary",
    "secondary",
    "accent",
    "warning",
    "error",
    "success",
)
"""Theme variables that a style sheet may use for text ..."""
BACKGROUNDS = ("background", "surface", "panel")
"""... on these. The other way round, `$background` on any text colour, holds as well."""


@dataclass(frozen=True, slots=True)
class _Colours:
    name: str
    dark: bool
    background: str
    surface: str
    panel: str
    foreground: str
    muted: str
    primary: str
    accent: str
    warning: str
    error: str
    success: str

    def theme(self) -> Theme:
        """Give Textual's form of it, with its own half-transparent mixtures replaced."""
        solid = {
            "text": self.foreground,
            "text-muted": self.muted,
            "text-disabled": self.muted,
            "foreground-muted": self.muted,
            "foreground-disabled": self.muted,
            "block-cursor-foreground": self.background,
            "block-cursor-background": self.foreground,
            "block-cursor-blurred-foreground": self.background,
            "block-cursor-blurred-background": self.muted,
            "input-cursor-foreground": self.background,
            "input-cursor-background": self.foreground,
            "input-selection-foreground": self.background,
            "input-selection-background": self.muted,
            "footer-foreground": self.foreground,
            "footer-background": self.panel,
            "footer-key-foreground": self.accent,
            "border": self.muted,
        }
        return Theme(
            name=self.name,
            dark=self.dark,
            background=self.background,
            surface=self.surface,
            panel=self.panel,
            foreground=self.foreground,
            primary=self.primary,
            secondary=self.primary,
            accent=self.accent,
            warning=self.warning,
            error=self.error,
            success=self.success,
            variables=solid,
        )


_ALL = (
    _Colours(
        "dark",
        True,
        "#101418",
        "#151a20",
        "#1b2129",
        "#e8edf2",
        "#b4bec9",
        "#8fc7ff",
        "#7fdbca",
        "#ffc861",
        "#ffaaa0",
        "#9be28a",
    ),
    _Colours(
        "light",
        False,
        "#fbfaf7",
        "#f5f3ee",
        "#efece5",
        "#14181c",
        "#3d454d",
        "#08407a",
        "#0a4a44",
        "#6b2f00",
        "#850f0f",
        "#17491a",
    ),
    _Colours(
        "high-contrast",
        True,
        "#000000",
        "#000000",
        "#000000",
        "#ffffff",
        "#ffffff",
        "#00ffff",
        "#00ffff",
        "#ffff00",
        "#ffb0b0",
        "#80ff80",
    ),
    _Colours(
        "mono",
        True,
        "#000000",
        "#000000",
        "#000000",
        "#ffffff",
        "#c8c8c8",
        "#ffffff",
        "#ffffff",
        "#ffffff",
        "#ffffff",
        "#ffffff",
    ),
)

THEMES: tuple[Theme, ...] = tuple(c.theme() for c in _ALL)
"""Dark, light, high-contrast and mono."""


BY_COLOURS: Mapping[str, tuple[str, ...]] = {"standard": ("high-contrast", "mono")}
"""What a terminal of sixteen colours is offered: its own palette decides what the other eleven look like."""


def offered(colours: str | None) -> tuple[str, ...]:
    """Give the themes that keep their contrast on a terminal; `colours` as Rich names its colour system.

    >>> offered("standard"), len(offered("truecolor"))
    (('high-contrast', 'mono'), 4)
    """
    return BY_COLOURS.get(colours or "", tuple(t.name for t in THEMES))


def chosen(wanted: str = "", *, no_colour: bool = False, colours: str | None = None) -> str:
    """Give the name of the theme to begin with; NO_COLOR asks for the one without colour.

    >>> chosen(), chosen(no_colour=True), chosen("light", no_colour=True), chosen("light")
    ('dark', 'mono', 'mono', 'light')
    >>> chosen("light", colours="standard")
    'high-contrast'
    """
    if no_colour:
        return "mono"
    names = offered(colours)
    return wanted if wanted in names else names[0]


def after(name: str, *, no_colour: bool = False, colours: str | None = None) -> str:
    """Give the theme that follows in the round.

    >>> after("dark"), after("mono"), after("mono", no_colour=True)
    ('light', 'dark', 'mono')
    """
    if no_colour:
        return "mono"
    names = offered(colours)
    return names[(names.index(name) + 1) % len(names)] if name in names else names[0]


class WithoutColour(LineFilter):
    """Leaves colours to the terminal, as NO_COLOR asks; what stood on a light ground is shown reversed."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Take the colours out of a line."""
        return [Segment(text, _plain(style), control) for text, style, control in segments]


@lru_cache(maxsize=1024)
def _plain(style: Style | None) -> Style | None:
    if style is None:
        return None
    ground = style.bgcolor.get_truecolor() if style.bgcolor is not None else None
    light = ground is not None and sum(ground) > 3 * 127
    default = RichColor.parse("default")
    kept = Style(color=default, bgcolor=default, reverse=light != bool(style.reverse), dim=False)
    return style + kept


def contrast(one: str, other: str) -> float:
    """Compute the contrast of two colours.

    (L₁ + 0.05) / (L₂ + 0.05), with the relative luminance L of sRGB, L₁ the lighter. [1]_

    Parameters
    ----------
    one, other
        Colours as `#rrggbb`; their order does not matter.

    Examples
    --------
    >>> round(contrast("#000000", "#ffffff"), 2), round(contrast("#767676", "#ffffff"), 2)
    (21.0, 4.54)

    References
    ----------
    .. [1] W3C, *Web Content Accessibility Guidelines (WCAG) 2.2*, contrast ratio and relative luminance.
    """
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    shares = (int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def dumb_terminal_sentence(environ: Mapping[str, str], *, is_terminal: bool = True) -> str:
    """Say why the full screen cannot be drawn here, or nothing where it can.

    >>> dumb_terminal_sentence({"TERM": "xterm-256color"})
    ''
    """
    term = environ.get("TERM", "")
    if not is_terminal:
        why = "The output is not a terminal"
    elif term in ("", "dumb", "unknown"):
        why = f"This terminal ({term or 'TERM is not set'}) cannot place text on a screen"
    else:
        return ""
    return (
        f"{why}: use tarebook prep --plain for the same steps as lines of text, "
        "or set TERM to the terminal's kind."
    )
