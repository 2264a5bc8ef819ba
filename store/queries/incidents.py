"""What went wrong, or nearly did: incidents, and handlings whose note says that something was unusual."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from store.queries.asked import Asked
from store.record.record import Record

UNUSUAL = "unusual"
"""Kind of a row that is an exposure note, not an incident."""


@dataclass(frozen=True, slots=True)
class IncidentRow:
    """One incident, or one exposure note that says that something was unusual."""

    entry: int
    at: str
    day: str
    person: str
    what: str
    note: str
    present: tuple[str, ...]
    substances: tuple[str, ...]
    families: tuple[str, ...]
    enclosure: str
    prep: str
    """Empty where it happened outside a prep."""
    step: int
    handling: int
    """Entry of what was open then; 0 where nothing was."""


def of(record: Record, which: Asked, *, limit: int = -1, families: bool = True) -> tuple[IncidentRow, ...]:
    """Give what went wrong, newest first; one outside any prep is found by person, place and period.

    Hazard families are left out where `families` is false, which is quicker.
    """
    in_families = (
        f"(SELECT json_group_array(DISTINCT f.value) FROM ({_FAMILIES}) AS f)" if families else "'[]'"
    )
    conditions = [
        ("EXISTS (SELECT 1 FROM json_each(i.present) WHERE value = :person)", "person", which.person),
        ("i.day >= :since", "since", which.since),
        ("i.day <= :until", "until", which.until),
        ("i.enclosure = :enclosure", "enclosure", which.enclosure),
        ("i.prep IN (SELECT prep FROM prep WHERE :lot IN (lot, solvent_lot))", "lot", which.lot),
        (f"EXISTS ({_FAMILIES} WHERE f.value = :family)", "family", which.family),
    ]
    if which.substances is not None:
        held = "SELECT value FROM json_each(:held)"
        held = f"EXISTS (SELECT 1 FROM json_each(i.substances) WHERE value IN ({held}))"
        conditions.append((held, "held", json.dumps(which.substances)))
    where = " AND ".join(condition for condition, _, value in conditions if value) or "TRUE"
    found = record.query(
        f"""
        SELECT i.*, {in_families} AS families
        FROM ({_WRONG}) AS i WHERE {where} ORDER BY i.entry DESC LIMIT :limit
        """,
        **{name: value for _, name, value in conditions if value},
        limit=limit,
    )
    return tuple(_row(r) for r in found)


_FAMILIES = """
    SELECT f.value FROM json_each(i.substances) AS held
    JOIN prep_hazard AS ph ON ph.prep = i.prep AND ph.substance = held.value
    JOIN hazard_snapshot AS s ON s.id = ph.snapshot JOIN json_each(s.families) AS f
"""
"""Hazard families of what was open in an incident `i`, as its prep took them."""

_WRONG = f"""
    SELECT entry, at, day, person, what, note, present, substances, enclosure, prep, step, handling
    FROM incident
    UNION ALL
    SELECT n.entry, n.at, n.day, n.person, '{UNUSUAL}', n.note, n.present, h.substances, n.enclosure,
           n.prep, n.step, h.entry
    FROM exposure_note AS n CROSS JOIN handling AS h ON h.prep = n.prep AND h.noted_entry = n.entry
    WHERE n.unusual
"""
"""Incidents, and unusual notes once for each handling that they are about."""


def _row(r: Mapping[str, Any]) -> IncidentRow:
    return IncidentRow(
        entry=r["entry"],
        at=r["at"],
        day=r["day"],
        person=r["person"],
        what=r["what"],
        note=r["note"],
        present=tuple(json.loads(r["present"])),
        substances=tuple(json.loads(r["substances"])),
        families=tuple(json.loads(r["families"])),
        enclosure=r["enclosure"],
        prep=r["prep"],
        step=r["step"],
        handling=r["handling"],
    )
