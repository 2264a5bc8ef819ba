"""What ends a handling: it is closed, and its exposure note is written."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from store.actions import notes, steps
from store.queries import registers
from tui.guide import between, forms
from tui.guide.asks import choose, words

if TYPE_CHECKING:
    from tui.guide.guide import Guide

NOTE_CHOICES = (
    "nothing unusual",
    "something was unusual",
    "somebody else was present too",
    "an incident: write it first",
)


def close(guide: "Guide") -> None:
    """Close what is open; the time is monotonic where this process saw the opening."""
    open_s = None if guide.opened_at is None else guide.monotonic() - guide.opened_at
    steps.close_up(guide.acting, guide.prep, seen=guide.state.last_entry, open_s=open_s)
    guide.opened_at = None
    guide.did()


def noted(guide: "Guide", then: Callable[[], None]) -> None:
    """Do what must not leave an exposure note behind; where one is owed it is asked first."""
    if not any(h.closed for h in guide.state.owed):
        then()
        return
    text = ("First the exposure note that is owed. How did it go?",)
    guide.push(choose(text, NOTE_CHOICES, lambda number, _: note(guide, number, then=then)))


def note(
    guide: "Guide", number: int, present: tuple[str, ...] = (), then: Callable[[], None] = lambda: None
) -> None:
    """Write the exposure note that was chosen, asking for what it still needs."""
    gloves = str(guide.state.basis["enclosure"].get("gloves", ""))

    def write(unusual: str = "", also: tuple[str, ...] = present) -> None:
        notes.note_exposure(
            guide.acting,
            guide.prep,
            seen=guide.state.last_entry,
            gloves=gloves,
            unusual=bool(unusual),
            note=unusual,
            present=also,
        )
        guide.did()
        then()

    if number == 1:
        write()
    elif number == 2:
        guide.push(words("What was unusual?", forms.unusual(guide.state), write, guide.push))
    elif number == 3:
        people = [p for p in registers.people_here(guide.acting.record) if p != guide.acting.person]
        guide.push(
            choose(
                "Who else was present?",
                (*people[:8], "nobody else"),
                lambda n, who: write(also=(*present, who) if n <= len(people[:8]) else present),
            )
        )
    else:
        guide.push(between.incident_ask(guide))
