"""One field of a form: what stands in it, which keys mean something in it, and what is taken."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from store.errors import BadField
from tui.guide.keys import Mode, Number, Pin
from tui.guide.keys import Text as TextMode
from tui.widgets.lines import visible

SUGGESTIONS = 6


@dataclass(slots=True)
class Field:
    """One field: what it is called, what stands in it, and how what is typed is taken."""

    key: str
    label: str
    kind: Literal["text", "number", "pin", "choice"] = "text"
    value: str = ""
    choices: tuple[str, ...] = ()
    """For `choice`: chosen by digit, or by typing."""
    suggest: Callable[[str], Sequence[str]] | None = None
    """What may be meant by what is typed so far."""
    take: Callable[[str], str] | None = None
    """Gives the value as it will stand, or raises a `StoreError` that says what to type."""
    watch: Callable[[str], str] | None = None
    """Says what the text typed so far means, or raises a `StoreError` that says what is wrong with it."""
    required: bool = False
    help: str = ""
    error: str = field(default="", init=False)
    refused: str = field(default="", init=False)
    """What was typed and not taken, for → to edit it."""

    def mode(self) -> Mode:
        """Say which keys mean something in it."""
        if self.kind == "pin":
            return Pin()
        if self.kind == "text":
            return TextMode(allow_empty=True)
        return Number(allow_empty=True, choices=min(9, len(self.choices)))


def suggested(of: Field, line: str) -> tuple[str, ...]:
    """Give what may be meant by what is typed so far; nothing before the first sign."""
    if of.suggest is not None:
        return tuple(of.suggest(line))[:SUGGESTIONS] if line else ()
    return tuple(c for c in of.choices if line and c.lower().startswith(line.lower()))


def checked(of: Field, text: str) -> str:
    """Give the value of a field as it will stand.

    Raises
    ------
    StoreError
        That says what to type instead.
    """
    if text and visible(text) != text:
        raise BadField(of.label, f"{visible(text)} has a sign that cannot be kept: type it anew.")
    if "\ufffd" in text:
        raise BadField(of.label, "a key came in between that types nothing: type or scan it again.")
    if not text:
        if of.required:
            raise BadField(of.label, "still empty; type it, then Enter.")
        return ""
    if of.kind == "choice":
        return _choice(of, text)
    return of.take(text) if of.take is not None else text


def _choice(of: Field, text: str) -> str:
    meant = [c for c in of.choices if c.lower() == text.lower()] or [
        c for c in of.choices if c.lower().startswith(text.lower())
    ]
    if len(meant) != 1:
        raise BadField(of.label, f"choose by digit, 1 to {len(of.choices)}, or type one of them.")
    return of.take(meant[0]) if of.take is not None else meant[0]
