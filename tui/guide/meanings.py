"""What a key by itself and what a line mean, by what is expected. Pure: no run, no time."""

from tui.guide.intents import (
    COMMANDS,
    Act,
    Choose,
    Doubtful,
    Intent,
    Mode,
    Number,
    Pin,
    Spill,
    Text,
    Typed,
    Unmeant,
)


def writes(mode: Mode) -> bool:
    """Say whether signs are written to a line."""
    return isinstance(mode, Number | Text | Pin)


def single(mode: Mode, key: str) -> bool:
    """Say whether a sign means something by itself on an empty line."""
    letter = isinstance(mode, Number) and mode.letters and key.isalpha()
    return key in COMMANDS or letter or choice(mode, key) > 0


def choice(mode: Mode, key: str) -> int:
    """Give the choice that a digit stands for, or 0.

    >>> choice(Choose(3), "3"), choice(Choose(3), "4"), choice(Act(), "1")
    (3, 0, 0)
    """
    n = mode.choices if isinstance(mode, Number) else 0
    n = mode.n if isinstance(mode, Choose) else n
    return int(key) if key in "123456789" and int(key) <= n else 0


def line(mode: Mode, text: str, *, doubtful: bool) -> Intent:
    """Say what a line means that Enter ended."""
    if isinstance(mode, Number | Pin) and mode.spill and text == "9":
        return Spill()
    if isinstance(mode, Number) and doubtful:
        return Doubtful(text)
    return Typed(text)


def empty_enter(mode: Mode) -> Intent:
    """Say what Enter means on an empty line."""
    if isinstance(mode, Act) or (isinstance(mode, Number) and mode.live):
        return Act()
    if isinstance(mode, Number | Text) and mode.allow_empty:
        return Typed("")
    return Unmeant("enter")
