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


def of(record: Record, which: Asked, *, limit: int = -1) -> tuple[IncidentRow, ...]:
    """Give what went wrong, newest first; one outside any prep is found by person, place and period."""
    where = f"TRUE{which.on('', 'i.day')}"
    params: dict[str, Any] = {**which.scope}
    params.setdefault("person", "")
    for condition, name, value in (
        ("EXISTS (SELECT 1 FROM json_each(i.present) WHERE value = :person)", "person", which.person),
        ("i.enclosure = :enclosure", "enclosure", which.enclosure),
        ("i.prep IN (SELECT prep FROM prep WHERE :lot IN (lot, solvent_lot))", "lot", which.lot),
        (
            """EXISTS (SELECT 1 FROM json_each(i.substances)
                       WHERE value IN (SELECT value FROM json_each(:held)))""",
            "held",
            json.dumps(which.substances) if "substances" in which.params else "",
        ),
        (
            """EXISTS (SELECT 1 FROM json_each(i.substances) AS held
                       JOIN prep_hazard AS ph ON ph.prep = i.prep AND ph.substance = held.value
                       JOIN hazard_snapshot AS s ON s.id = ph.snapshot JOIN json_each(s.families) AS f
                       WHERE f.value = :family)""",
            "family",
            which.family,
        ),
    ):
        if value:
            where += f" AND {condition}"
            params[name] = value
    found = record.query(
        f"""
        WITH wrong AS (
            SELECT entry, at, day, person, what, note, present, substances, enclosure, prep, step, handling
            FROM incident
            UNION ALL
            SELECT n.entry, n.at, n.day, n.person, '{UNUSUAL}', n.note, n.present, h.substances, n.enclosure,
                   n.prep, n.step, h.entry
            FROM exposure_note AS n JOIN handling AS h ON h.prep = n.prep AND h.noted_entry = n.entry
            WHERE n.unusual
        )
        SELECT i.*,
               (SELECT json_group_array(DISTINCT f.value)
                FROM json_each(i.substances) AS held
                JOIN prep_hazard AS ph ON ph.prep = i.prep AND ph.substance = held.value
                JOIN hazard_snapshot AS s ON s.id = ph.snapshot JOIN json_each(s.families) AS f) AS families
        FROM wrong AS i
        WHERE {where}
        ORDER BY i.entry DESC LIMIT :limit
        """,
        **params,
        limit=limit,
    )
    return tuple(_row(r) for r in found)


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
