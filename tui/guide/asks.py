"""Questions that come between: chosen by digit, typed, or a PIN. They live on the screen only."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tui.guide.texts import OTHER_WORDS


@dataclass(frozen=True, slots=True)
class Ask:
    """One question. With choices the answer is a number from 1, else the text that was typed."""

    text: tuple[str, ...]
    then: Callable[[int, str], None]
    choices: tuple[str, ...] = ()
    prompt: str = ""
    secret: bool = False
    read_only: bool = False
    """Only to be read: Enter goes on."""
    passes: bool = False
    """Nobody has to choose: Enter goes on without."""


def choose(text: str | Sequence[str], choices: Sequence[str], then: Callable[[int, str], None]) -> Ask:
    """Ask for one of a few, by digit."""
    lines = (text,) if isinstance(text, str) else tuple(text)
    return Ask(text=lines, choices=tuple(choices), then=then)


def words(text: str, offered: Sequence[str], then: Callable[[str], None], push: Callable[[Ask], None]) -> Ask:
    """Ask for a reason: one of the usual ones by digit, or other words typed at the keyboard."""
    choices = (*offered[:8], OTHER_WORDS)

    def chosen(number: int, _: str) -> None:
        if number < len(choices):
            then(choices[number - 1])
        else:
            push(Ask(text=(text,), prompt="in your words", then=lambda _n, typed: then(typed)))

    return Ask(text=(text,), choices=choices, then=chosen)
