"""What is said of a key that did nothing: one line, with what to press instead."""

from tui.guide.intents import Choose, Intent, Letter, Mode, NotTaken, Number, Page, Pin, Text, Unmeant


def words(intent: Intent, mode: Mode) -> str:
    """Say why a key did nothing; empty where it did something.

    >>> words(Unmeant("5"), Page(7)), words(NotTaken("3"), Page(7))
    ('5 does not acknowledge this page: read it, press the digit it shows.', '3 was not taken, it came \
too soon after the key before: press it again.')
    >>> words(Unmeant("4"), Choose(3)), words(NotTaken(""), Pin())
    ('4 means nothing here: press 1 to 3.', 'A key was not taken, it came too soon after the key before: \
type all of it again.')
    """
    match intent:
        case NotTaken(""):
            return "A key was not taken, it came too soon after the key before: type all of it again."
        case NotTaken(key):
            return f"{_named(key)} was not taken, it came too soon after the key before: press it again."
        case Unmeant(key) | Letter(key):
            return _of_mode(_named(key), mode)
        case _:
            return ""


def _of_mode(key: str, mode: Mode) -> str:
    match mode:
        case Page():
            return f"{key} does not acknowledge this page: read it, press the digit it shows."
        case Choose(n) if n > 1:
            return f"{key} means nothing here: press 1 to {n}."
        case Choose(1):
            return f"{key} means nothing here: press 1."
        case Number() | Text() if key == "Enter":
            return "Nothing is typed yet: type it, then Enter."
        case Pin() if key == "Enter":
            return "Nothing is typed yet: type the PIN, then Enter."
        case _:
            return f"{key} does nothing here: * says what the keys do."


def _named(key: str) -> str:
    return "Enter" if key == "enter" else key
