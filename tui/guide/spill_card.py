"""The spill and first-aid card as text: what to do now, from the hazards of all that is open."""

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from store.hazards import cautions, families
from store.hazards.classification import Classification, classifications
from store.hazards.responses import responses
from store.procedure.state import PrepState
from store.queries import preps, registers
from store.record.record import Record

NO_NUMBERS = (
    "This site has set no emergency numbers (setting `emergency`): use those that hang where you work."
)
NOTHING_OPEN = "No prep is open in this record: what spilled is not known here, so the strictest text stands."


@dataclass(frozen=True, slots=True)
class Card:
    """What the card is composed from."""

    preps: tuple[PrepState, ...]
    substances: tuple[str, ...]
    names: tuple[str, ...]
    families: tuple[str, ...]
    classes: tuple[Classification, ...]
    no_data: bool


def of(record: Record, prep: str = "") -> Card:
    """Put together what is open: one prep, or every open prep of the record; unknown where there is none."""
    numbers = [prep] if prep else [p.prep for p in preps.open_preps(record)]
    states = tuple(record.prep_state(n) for n in numbers)
    found: dict[str, None] = {}
    names: dict[str, str] = {}
    classes: list[Classification] = []
    no_data = not states
    for state in states:
        for id, taken in state.basis["hazards"].items():
            names[id] = str(state.basis["substances"][id].get("name", id))
            found |= dict.fromkeys(taken["families"])
            no_data = no_data or families.UNKNOWN in taken["families"]
            classes += classifications(taken["classes"], taken["edition"])
        if state.basis["enclosure"].get("gas", "air") != "air":
            found["INERT_GAS"] = None
    if not states:
        found[families.UNKNOWN] = None
    return Card(states, tuple(names), tuple(names.values()), families.ranked(found), tuple(classes), no_data)


def lines(record: Record, card: Card, width: int) -> Iterator[str]:
    """Give the card's lines: numbers to call, what to do, first aid, what it is made of."""
    yield from wrapped((registers.settings(record)["emergency"] or NO_NUMBERS,), width)
    yield ""
    rules = registers.rules_for(record, step="spill", substances=card.substances, families=card.families)
    page = cautions.compose(
        "spill", card.families, tuple((f"{r.id} (since {r.since})", r.sentence) for r in rules)
    )
    for number, block in enumerate(page.blocks, 1):
        parts = block.sentences if block.kind == "first_aid" else (" ".join(block.sentences),)
        for n, part in enumerate(wrapped(parts, width - 4)):
            yield f"{f'{number}' if n == 0 else '':>2}  {part}"
    for line in (page.fold_line, *page.rule_lines):
        if line:
            yield from wrapped((line,), width)
    yield ""
    yield from wrapped((page.note,), width)
    yield from _responses(card, width)
    yield ""
    yield from _made_of(card, width)


def wrapped(lines: Sequence[str], width: int, *, indent: str = "") -> Iterator[str]:
    """Break every line to a width."""
    for line in lines:
        yield from textwrap.wrap(line, width, subsequent_indent=indent, drop_whitespace=True) or [""]


def _responses(card: Card, width: int) -> Iterator[str]:
    found = responses(card.classes, no_data=card.no_data)
    for kind, title in (
        ("first aid", "First aid, by the statements of the substances"),
        ("spill", "Spill, by the statements"),
        ("fire", "Fire, by the statements"),
    ):
        own = [r for r in found if r.kind == kind]
        if own:
            yield ""
            yield title
        for r in own:
            yield from wrapped((f"  {r.text}  ({r.code}, for {', '.join(r.because)})",), width, indent="  ")


def _made_of(card: Card, width: int) -> Iterator[str]:
    yield "This card is composed from"
    if not card.preps:
        yield from wrapped((f"  {NOTHING_OPEN}",), width, indent="  ")
        return
    for state in card.preps:
        open_now = ", ".join(h.what for h in state.open_handlings)
        what = f"open now: {open_now}" if open_now else "nothing open now"
        names = ", ".join(str(s.get("name", id)) for id, s in state.basis["substances"].items())
        yield from wrapped(
            (f"  {state.prep} in {state.plan.enclosure}: {names}; {what}",), width, indent="    "
        )
    yield from wrapped(
        (f"  hazards: {', '.join(map(families.name, card.families)) or 'none classified'}",),
        width,
        indent="    ",
    )
