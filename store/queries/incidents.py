"""What went wrong, or nearly did: incidents, and handlings whose note says that something was unusual."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from store.errors import NotFound
from store.queries import of_lot
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
    closed: bool
    """A safety officer closed it; an exposure note needs no closing."""

    @property
    def said(self) -> str:
        """The note as a list shows it; one that no safety officer has closed begins with OPEN."""
        return self.note if self.closed or self.what == UNUSUAL else f"OPEN; {self.note}"


def of(record: Record, which: Asked, *, limit: int = -1, families: bool = True) -> tuple[IncidentRow, ...]:
    """Give what went wrong, newest first; one outside any prep is found by person, place and period.

    Hazard families are left out where `families` is false, which is quicker.
    """
    conditions = [
        ("EXISTS (SELECT 1 FROM json_each(i.present) WHERE value = :person)", "person", which.person),
        ("i.day >= :since", "since", which.since),
        ("i.day <= :until", "until", which.until),
        ("i.enclosure = :enclosure", "enclosure", which.enclosure),
        (_OF_KIND, "what", which.what),
        (of_lot.preps(record, which.lot, "i.prep"), "lot", which.lot),
        ("EXISTS (SELECT 1 FROM json_each(i.families) WHERE value = :family)", "family", which.family),
    ]
    if which.substances is not None:
        held = "SELECT value FROM json_each(:held)"
        held = f"EXISTS (SELECT 1 FROM json_each(i.substances) WHERE value IN ({held}))"
        conditions.append((held, "held", json.dumps(which.substances)))
    where = " AND ".join(condition for condition, _, value in conditions if value) or "TRUE"
    found = record.query(
        f"""
        SELECT i.entry, i.at, i.day, i.person, i.what, i.note, i.present, i.substances, i.enclosure, i.prep,
               i.step, i.handling, i.closed_entry, {"i.families" if families else "'[]' AS families"}
        FROM ({_WRONG}) AS i WHERE {where} ORDER BY i.entry DESC LIMIT :limit
        """,
        **{name: value for _, name, value in conditions if value},
        limit=limit,
    )
    return tuple(_row(r) for r in found)


_OF_KIND = """
    EXISTS (SELECT 1 FROM handling AS w WHERE (w.what = :what OR w.step_name = :what)
            AND (w.entry = i.handling OR (i.handling = 0 AND w.prep = i.prep AND w.step = i.step)))
"""
"""It was at such a handling, or during the step of one."""

_OF_HANDLING = """
    (SELECT json_group_array(f.family) FROM handling_family AS f
     WHERE f.person = h.person AND f.day = h.day AND f.handling = h.entry)
"""
"""Hazard families of what was handled, as they were taken then."""

_WRONG = f"""
    SELECT entry, at, day, person, what, note, present, substances, enclosure, prep, step, handling,
           closed_entry, families
    FROM incident
    UNION ALL
    SELECT h.entry, h.at, h.day, h.person, '{UNUSUAL}', h.note,
           (SELECT json_group_array(person) FROM handling_person WHERE handling = h.entry),
           h.substances, h.enclosure, h.prep, h.step, h.entry, h.noted_entry, {_OF_HANDLING}
    FROM handling AS h INDEXED BY handling_unusual WHERE h.unusual AND h.prep = ''
    UNION ALL
    SELECT n.entry, n.at, n.day, n.person, '{UNUSUAL}', n.note, n.present, h.substances, n.enclosure,
           n.prep, n.step, h.entry, n.entry, {_OF_HANDLING}
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
        closed=bool(r["closed_entry"]),
    )


@dataclass(frozen=True, slots=True)
class IncidentPage:
    """One incident with all that is known of it; an earlier state of its details stands in the journal."""

    entry: int
    at: str
    day: str
    person: str
    """Who noted it."""
    what: str
    note: str
    prep: str
    enclosure: str
    present: tuple[str, ...]
    substances: tuple[str, ...]
    families: tuple[str, ...]
    detailed: int
    """Entry of its details; 0 while there are none."""
    route: str
    body_part: str
    amount: str
    first_aid: str
    referred: str
    """To a physician: yes, no, or empty while nobody said."""
    cause: str
    follow_up: str
    closed: int
    """Entry that closed it; 0 while it is open."""
    closed_by: str
    closed_at: str
    closed_reason: str

    @property
    def last(self) -> int:
        """The last entry about it after it was noted; 0 where there is none."""
        return max(self.detailed, self.closed)


def page(record: Record, incident: int) -> IncidentPage:
    """Give one incident.

    Raises
    ------
    NotFound
        The entry is no incident.
    """
    found = record.query("SELECT * FROM incident WHERE entry = :entry", entry=incident)
    if not found:
        raise NotFound(f"Entry {incident} is no incident: `tarebook exposures --incidents` lists them.")
    return _page(found[0])


def standing_open(record: Record, *, person: str = "") -> tuple[IncidentPage, ...]:
    """Give the incidents that nobody has closed, the oldest first; of one person those noted or met."""
    found = record.query(
        """
        SELECT * FROM incident WHERE closed_entry = 0
            AND (:person = '' OR person = :person
                 OR EXISTS (SELECT 1 FROM json_each(present) WHERE value = :person))
        ORDER BY entry
        """,
        person=person,
    )
    return tuple(_page(r) for r in found)


def _page(r: Mapping[str, Any]) -> IncidentPage:
    lists: dict[str, Any] = {n: tuple(json.loads(r[n])) for n in ("present", "substances", "families")}
    plain = (
        "entry", "at", "day", "person", "what", "note", "prep", "enclosure", "route", "body_part", "amount",
        "first_aid", "referred", "cause", "follow_up", "closed_by", "closed_at", "closed_reason",
    )  # fmt: skip
    return IncidentPage(
        **{name: r[name] for name in plain}, **lists, detailed=r["detailed_entry"], closed=r["closed_entry"]
    )
