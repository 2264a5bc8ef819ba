"""Who handled what, how long it was open, and what went wrong.

A handling counts for everybody present. It counts for a substance and a hazard family where an opened
container or vessel held it, alone or dissolved. What never happened leaves the totals and stays in the lists.
This is evidence of use and identity; it is no measurement of exposure.
"""

import json
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Unpack

from store.model.words import Role
from store.queries import classified
from store.queries.asked import Asked, Filters, asked
from store.record.record import Record
from store.units import net


@dataclass(frozen=True, slots=True)
class HandlingRow:
    """One handling, with everybody present and the hazards as they were classified then."""

    entry: int
    prep: str
    step: int
    step_name: str
    at: str
    """UTC."""
    day: str
    """Local."""
    person: str
    """Who opened or did it."""
    present: tuple[str, ...]
    what: str
    enclosure: str
    gloves: str
    substances: tuple[str, ...]
    families: tuple[str, ...]
    statements: tuple[str, ...]
    signal_word: str
    container: str
    lot: str
    net_mg: float
    """Dosed while it was open."""
    open_s: float
    estimated: bool
    """The time open is estimated, across an interruption."""
    closed: bool
    noted: bool
    """Its exposure note is written."""
    unusual: bool
    note: str
    incidents: int
    state: str
    rehearsal: bool


def may_see(roles: Collection[str], person: str, asked_person: str) -> bool:
    """Say whether a person may see this exposure log: everybody their own, a safety officer everybody's.

    Examples
    --------
    >>> may_see(("operator",), "op-1", "op-1"), may_see(("operator",), "op-1", "op-2")
    (True, False)
    >>> may_see(("operator",), "op-1", ""), may_see(("safety officer",), "so-1", "")
    (False, True)
    """
    return Role.SAFETY_OFFICER in roles or (bool(asked_person) and asked_person == person)


def of(
    record: Record, *, limit: int = 200, offset: int = 0, **filters: Unpack[Filters]
) -> tuple[HandlingRow, ...]:
    """Give handlings, newest first; a limit of -1 gives all."""
    return rows(record, asked(record, **filters), limit=limit, offset=offset)


def each(record: Record, which: Asked, *, chunk: int = 500) -> Iterator[HandlingRow]:
    """Give every handling that is asked for, newest first, a chunk at a time: for exports of any length."""
    before = 0
    while True:
        found = rows(record, which.before(before) if before else which, limit=chunk, offset=0)
        yield from found
        if len(found) < chunk:
            return
        before = found[-1].entry


def rows(record: Record, which: Asked, *, limit: int, offset: int = 0) -> tuple[HandlingRow, ...]:
    """Give the handlings that are asked for, newest first; a limit of -1 gives all."""
    found = record.query(
        f"""
        WITH picked AS MATERIALIZED (
            {which.entries} ORDER BY entry DESC LIMIT :limit OFFSET :offset
        )
        SELECT h.entry, h.prep, h.step, h.step_name, h.at, h.day, h.person, h.what, h.enclosure, h.gloves,
               h.substances, h.container, h.lot, h.net_mg, h.open_s, h.estimated, h.closed_entry,
               h.noted_entry, h.unusual, h.note, h.state, coalesce(p.rehearsal, 0) AS rehearsal,
               (SELECT json_group_array(person) FROM handling_person WHERE handling = h.entry) AS present,
               (SELECT count(*) FROM incident WHERE prep = h.prep AND handling = h.entry) AS incidents
        FROM picked CROSS JOIN handling AS h ON h.entry = picked.entry
        LEFT JOIN prep AS p ON p.prep = h.prep
        ORDER BY h.entry DESC
        """,
        **which.params,
        limit=limit,
        offset=offset,
    )
    hazards = _hazards(record, [r["entry"] for r in found])
    return tuple(_row(r, hazards.get(r["entry"], ())) for r in found)


def _hazards(record: Record, entries: Sequence[int]) -> dict[int, tuple[Mapping[str, Any], ...]]:
    """Give the hazard snapshots of each handling, as its prep took them."""
    found = record.query(
        """
        SELECT h.entry, s.signal_word, s.statements, s.families
        FROM json_each(:entries) AS asked
        JOIN handling AS h ON h.entry = asked.value
        JOIN json_each(h.substances) AS held
        JOIN handling_substance AS hs ON hs.person = h.person AND hs.day = h.day
            AND hs.substance = held.value AND hs.handling = h.entry
        JOIN hazard_snapshot AS s ON s.id = hs.snapshot
        """,
        entries=json.dumps(entries),
    )
    out: dict[int, tuple[Mapping[str, Any], ...]] = {}
    for r in found:
        out[r["entry"]] = (*out.get(r["entry"], ()), r)
    return out


def _row(r: Mapping[str, Any], hazards: tuple[Mapping[str, Any], ...]) -> HandlingRow:
    words = {h["signal_word"].lower(): h["signal_word"] for h in hazards}
    return HandlingRow(
        entry=r["entry"],
        prep=r["prep"],
        step=r["step"],
        step_name=r["step_name"],
        at=r["at"],
        day=r["day"],
        person=r["person"],
        present=tuple(json.loads(r["present"])),
        what=r["what"],
        enclosure=r["enclosure"],
        gloves=r["gloves"],
        substances=tuple(json.loads(r["substances"])),
        families=classified.codes(_all(hazards, "families")),
        statements=classified.codes(_all(hazards, "statements")),
        signal_word=words.get("danger") or words.get("warning", ""),
        container=r["container"],
        lot=r["lot"],
        net_mg=net(r["net_mg"]),
        open_s=r["open_s"],
        estimated=bool(r["estimated"]),
        closed=bool(r["closed_entry"]),
        noted=bool(r["noted_entry"]),
        unusual=bool(r["unusual"]),
        note=r["note"],
        incidents=r["incidents"],
        state=r["state"],
        rehearsal=bool(r["rehearsal"]),
    )


def _all(hazards: tuple[Mapping[str, Any], ...], key: str) -> Iterator[Any]:
    """Give what the JSON lists of several snapshots name."""
    return (item for h in hazards for item in json.loads(h[key]))
