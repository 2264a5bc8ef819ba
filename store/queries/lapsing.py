"""Training and fit tests of those who work here, each with its last day."""

from collections.abc import Iterator
from dataclasses import dataclass

from store.queries import registers
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Held:
    """One thing that a person holds until a day; the newest of its kind."""

    person: str
    name: str
    what: str
    until: str


def lapsing(record: Record) -> Iterator[Held]:
    """Give what lapses some day; a clearance is between the person and the site, and stands in no list."""
    here = set(registers.people_here(record))
    for found in registers.rows(record, "person"):
        if found.id not in here:
            continue
        last: dict[str, str] = {}
        for text in found.row.get("training", ()):
            what, _, days = str(text).partition(":")
            last[what] = max(last.get(what, ""), days.rpartition(" to ")[2].strip())
        held = {f"training for {what}": until for what, until in last.items()}
        held["training"] = str(found.row.get("trained_until", ""))
        held["fit test"] = str(found.row.get("fit_until", ""))
        for what, until in held.items():
            if until:
                yield Held(found.id, str(found.row.get("name", "")), what, until)
