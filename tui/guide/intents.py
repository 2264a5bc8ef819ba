"""What the keys can be expected to give, and what a person then means by them."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Page:
    """Mode: a page to be acknowledged by the digit it shows; never by Enter, never by another digit."""

    digit: int


@dataclass(frozen=True, slots=True)
class Act:
    """Mode: Enter acts, digits do nothing. Intent: it was pressed."""

    spill: bool = False
    """As a mode: a lone `9` opens the spill card."""


@dataclass(frozen=True, slots=True)
class Choose:
    """Mode: a digit from 1 to `n` chooses."""

    n: int
    spill: bool = False
    """A lone `9` opens the spill card; then at most eight choices."""


@dataclass(frozen=True, slots=True)
class Number:
    """Mode: a number or a reading is typed, Enter ends it."""

    allow_empty: bool = False
    """Enter on an empty line gives `Typed("")`."""
    live: bool = False
    """Enter on an empty line takes what the balance shows: `Act`."""
    choices: int = 0
    """Digits up to this one, alone on an empty line, choose instead of beginning a number."""
    spill: bool = False
    """`9` and Enter opens the spill card."""
    letters: bool = False
    """A letter, alone on an empty line, is a key of the desk: `Letter`."""


@dataclass(frozen=True, slots=True)
class Text:
    """Mode: free text, Enter ends it."""

    allow_empty: bool = False


@dataclass(frozen=True, slots=True)
class Pin:
    """Mode: digits that are not shown, Enter ends them."""

    spill: bool = False
    """`9` and Enter opens the spill card; no PIN is that short."""


Mode = Page | Act | Choose | Number | Text | Pin


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """The page's digit was pressed, by itself."""

    digit: int


@dataclass(frozen=True, slots=True)
class Chosen:
    """A choice was made."""

    n: int


@dataclass(frozen=True, slots=True)
class Typed:
    """A line was ended by Enter: every sign of it, nothing read into it."""

    text: str


@dataclass(frozen=True, slots=True)
class Doubtful:
    """A line begun by hand and ended by a device: not taken, since two things may have run together."""

    text: str


@dataclass(frozen=True, slots=True)
class Scanned:
    """A device typed a line where none is asked for, such as a barcode on a container."""

    text: str


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter by itself where nothing is typed: a key of the desk."""

    key: str


@dataclass(frozen=True, slots=True)
class Unmeant:
    """A key by itself that means nothing where it was pressed: a wrong digit, Enter at a page."""

    key: str


@dataclass(frozen=True, slots=True)
class NotTaken:
    """A key by itself that came too soon after another to be taken; empty where it is not to be shown."""

    key: str


@dataclass(frozen=True, slots=True)
class Note:
    """`+`: an exposure note or an incident."""


@dataclass(frozen=True, slots=True)
class Back:
    """`-`: back, or correct."""


@dataclass(frozen=True, slots=True)
class Help:
    """`*`: help."""


@dataclass(frozen=True, slots=True)
class Pause:
    """`/`: pause."""


@dataclass(frozen=True, slots=True)
class Spill:
    """`9` at the bench or the lock: the spill card."""


Intent = (
    Acknowledged
    | Act
    | Chosen
    | Typed
    | Doubtful
    | Scanned
    | Letter
    | Unmeant
    | NotTaken
    | Note
    | Back
    | Help
    | Pause
    | Spill
)

COMMANDS: dict[str, Intent] = {"+": Note(), "-": Back(), "*": Help(), "/": Pause()}
"""The operators of a keypad, and what they mean on an empty line with silence after them."""

ANSWERS = (Unmeant, NotTaken)
"""Intents that ask for a word and change nothing."""

SPOILT = "\ufffd"
"""Stands in a line for a key that cannot be typed."""
LONGEST: dict[type, int] = {Number: 80, Text: 500, Pin: 40}
"""Signs in a line; beyond it the line is spoilt."""

NAMES = {
    "plus": "+",
    "minus": "-",
    "hyphen": "-",
    "asterisk": "*",
    "slash": "/",
    "full_stop": ".",
    "comma": ",",
    "space": " ",
    "return": "enter",
    "add": "+",
    "subtract": "-",
    "multiply": "*",
    "divide": "/",
    "decimal": ".",
    "separator": ",",
}
"""Keys that are given by name, some terminals' keypads among them; any other sign comes as itself."""
ENTERS = ("enter", "ctrl+j")
