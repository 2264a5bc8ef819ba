"""Questions that come between the acts of a step: who lets it through, and what went wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from store.actions import incidents, notes
from store.actions.acting import LetThrough, second_person
from store.actions.gloves import change_gloves
from store.queries import registers
from tui.guide.asks import Ask, choose, words
from tui.guide.texts import INCIDENT_WORDS, SECOND_REASONS
from tui.guide.view import WIDTH

if TYPE_CHECKING:
    from tui.guide.guide import Guide


MOST_PEOPLE = 8
"""People offered by digit."""


def second_ask(guide: Guide, what: tuple[str, ...], verb: Callable[[LetThrough], None]) -> Ask:
    """Ask who lets it through, for the PIN, and for the reason."""
    people = [p for p in registers.people_here(guide.acting.record) if p != guide.acting.person][:MOST_PEOPLE]
    lines = ("A second person must let this through:", *(f"  {w}" for w in what))
    if not people:
        return Ask(
            text=(*lines, "", "Nobody else is in the register."), then=lambda _n, _t: None, read_only=True
        )

    def with_pin(number: int, _: str) -> None:
        second = people[number - 1]
        guide.push(
            Ask(
                text=(*lines, "", f"{second}: type your PIN."),
                prompt="PIN",
                secret=True,
                then=lambda _n, pin: guide.push(
                    words("Why may it go on?", SECOND_REASONS, lambda why: go(second, pin, why), guide.push)
                ),
            )
        )

    def go(second: str, pin: str, why: str) -> None:
        verb(second_person(guide.acting, second=second, pin=pin, reason=why, what=what))
        guide.did()

    return choose(
        (*lines, "", "Who lets it through?"),
        (*people, "nobody: go back"),
        lambda n, t: with_pin(n, t) if n <= len(people) else None,
    )


PLAIN_NOTE = "What is to be noted? It stands on the page of the prep, and is no incident."


def incident_ask(guide: Guide) -> Ask:
    """Ask what went wrong, kind first."""
    kinds = tuple(INCIDENT_WORDS)

    def kind(number: int, what: str) -> None:
        if number == len(kinds) + 1:
            change_gloves(guide.acting, guide.prep, seen=guide.state.last_entry)
            guide.did()
            guide.said = "Gloves changed: their clock starts anew. Put it into the next exposure note too."
        elif number == len(kinds) + 2:
            guide.push(
                Ask(text=(PLAIN_NOTE,), prompt="note", then=lambda _n, typed: remark(typed)),
            )
        elif number == len(kinds) + 3:
            guide.push(_spill_card(guide))
        elif number <= len(kinds):
            guide.push(
                words(
                    f"{what.capitalize()}: what happened?",
                    INCIDENT_WORDS[what],
                    lambda w: write(what, w),
                    guide.push,
                )
            )

    def remark(note: str) -> None:
        notes.remark(guide.acting, guide.prep, seen=guide.state.last_entry, note=note)
        guide.did()
        guide.said = "Note written."

    def write(what: str, note: str) -> None:
        entry = notes.note_incident(guide.acting, guide.prep, what=what, note=note)
        guide.did()
        guide.said = "Incident written. The cautions are shown in full again."
        _near_ask(guide, entry.entry, (guide.acting.person,))

    return choose(
        "What went wrong? See to people first; the entry can wait.",
        (
            *kinds,
            "gloves changed, nothing wrong",
            "a note, nothing wrong",
            "what to do now: the spill card",
            "nothing: go back",
        ),
        kind,
    )


def _near_ask(guide: Guide, incident: int, known: tuple[str, ...]) -> None:
    """Ask who else was near, once the incident stands in the record: whoever just goes on loses nothing."""
    others = [p for p in registers.people_here(guide.acting.record) if p not in known][:MOST_PEOPLE]
    if not others:
        return

    def near(number: int, _: str) -> None:
        if number > len(others):
            return
        person = others[number - 1]
        incidents.was_near(guide.acting, incident, person)
        guide.said = f"{person} was near: written."
        _near_ask(guide, incident, (*known, person))

    text = ("The incident is written. Who else was near?",)
    guide.push(replace(choose(text, (*others, "nobody else"), near), passes=True))


def _spill_card(guide: Guide) -> Ask:
    """The card as a text to be read; the incident is asked for afterwards."""
    from tui.guide import spill_card

    record = guide.acting.record
    lines = tuple(spill_card.lines(record, spill_card.of(record, guide.prep), WIDTH))
    return Ask(text=lines, then=lambda _n, _t: guide.push(incident_ask(guide)), read_only=True)
