"""Whether a person may do a step with a substance: training, fit test, clearance, each with its day. Pure."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from store.errors import BadInput, UnknownCode
from store.hazards.families import asked
from store.model.registers import Person
from store.model.site_rows import dated
from store.model.words import StepName

ALL = "all"
_EVER = "0001-01-01", "9999-12-31"


@dataclass(frozen=True, slots=True)
class Trained:
    """What for, and between which days."""

    what: frozenset[str]
    """A substance, hazard families, a step, or `all`."""
    since: str
    until: str


def trained(person: Person) -> tuple[Trained, ...]:
    """Give everything that a person was ever trained for."""
    found = [Trained(_meant(text), _EVER[0], person.trained_until or _EVER[1]) for text in person.trained_for]
    for text in person.training:
        try:
            what, since, until = dated(text)
        except BadInput:
            continue  # a row of an older edition: what cannot be read trains for nothing
        found.append(Trained(_meant(what), since, until))
    return tuple(found)


def _meant(text: str) -> frozenset[str]:
    try:
        return frozenset((text, *asked(text)))
    except UnknownCode:
        return frozenset((text,))  # a substance, a step, or `all`


def against(
    person: Person, *, substance: str, families: Sequence[str], step: str, steps_count: bool, today: date
) -> Iterator[str]:
    """Say what stands against a person doing a step with a substance.

    Parameters
    ----------
    families
        Hazard families of the substance; training for each of them is training for it.
    step
        Name of the step; empty at the plan.
    steps_count
        Whether the site asks for training in the step too.
    """
    day, every = today.isoformat(), trained(person)
    live = [t for t in every if t.since <= day <= t.until]
    if not _covers(live, substance, families):
        yield _says(person.id, substance, [t for t in every if _touches(t, substance, families)], day, every)
    if step and step in {name for t in every for name in t.what} | (set(StepName) if steps_count else set()):
        named = {name for t in live for name in t.what}
        if step not in named and ALL not in named:
            yield _says(person.id, step, [t for t in every if step in t.what], day, every)
    if person.fit_until and person.fit_until < day:
        yield f"the fit test of {person.id} held until {person.fit_until}"
    if person.cleared_until and person.cleared_until < day:
        yield f"{person.id} was cleared until {person.cleared_until}"


def _covers(found: Iterable[Trained], substance: str, families: Sequence[str]) -> bool:
    names = {name for t in found for name in t.what}
    return ALL in names or substance in names or all(f in names for f in families)


def _touches(t: Trained, substance: str, families: Sequence[str]) -> bool:
    return bool(t.what & {ALL, substance, *families})


def _says(person: str, what: str, touching: list[Trained], day: str, every: Sequence[Trained]) -> str:
    """Never trained for it, not yet, or not any more."""
    lapsed = sorted(t.until for t in touching if t.until < day)
    coming = sorted(t.since for t in touching if t.since > day)
    if lapsed:
        return f"the training of {person} for {what} held until {lapsed[-1]}"
    if coming:
        return f"the training of {person} for {what} begins on {coming[0]}"
    return f"{person} is not trained for {what}"
