"""Rehearsals: the same steps with a harmless powder, and how well a hand does them."""

import statistics
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from store.record.record import Record

MOST = 500


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """One rehearsal that was walked to its end, for the person who weighed."""

    prep: str
    day: str
    person: str
    substance: str
    aim_mg: float
    net_mg: float
    deviation_percent: float
    """Of the net from the aim."""
    portions: int
    open_s: float
    """The container of the solid, from opened to closed."""
    estimated: bool
    """Whether an interruption lies in the time open."""
    unusual: int
    """Handlings with something unusual in their note."""
    incidents: int


@dataclass(frozen=True, slots=True)
class Practice:
    """What a person's rehearsals come to."""

    person: str
    rehearsals: int
    last_day: str
    open_s: float
    """Median time open."""
    deviation_percent: float
    """Mean deviation from the aim: a hand that doses too much, or too little."""
    scatter_percent: float | None
    """Standard deviation of the deviations; None for fewer than two."""
    incidents: int


def done(
    record: Record, *, person: str = "", substance: str = "", limit: int = MOST
) -> tuple[Rehearsal, ...]:
    """Give the rehearsals that were closed, the newest first."""
    rows = record.query(
        """
        SELECT p.prep, p.closed_day, d.person, p.substance, p.incidents,
            sum(d.net_mg) AS net_mg, count(*) AS portions,
            coalesce((SELECT sum(h.open_s) FROM handling h WHERE h.prep = p.prep AND h.what = 'container'
                AND h.state <> 'never happened'), 0.0) AS open_s,
            coalesce((SELECT max(h.estimated) FROM handling h WHERE h.prep = p.prep AND h.what = 'container'
                AND h.state <> 'never happened'), 0) AS estimated,
            (SELECT count(*) FROM handling h WHERE h.prep = p.prep AND h.unusual) AS unusual
        FROM prep p JOIN dose d ON d.prep = p.prep
        WHERE p.rehearsal AND p.status = 'closed' AND d.content = 'solid'
            AND d.state IN ('stands', 'corrected')
            AND (:person = '' OR d.person = :person) AND (:substance = '' OR p.substance = :substance)
        GROUP BY p.prep, d.person ORDER BY p.entry DESC LIMIT :limit
        """,
        person=person,
        substance=substance,
        limit=limit,
    )
    return tuple(_rehearsal(record, row) for row in rows)


def _rehearsal(record: Record, row: Mapping[str, Any]) -> Rehearsal:
    aim_mg, net_mg = float(record.prep_state(str(row["prep"])).aims["solid_mg"]), float(row["net_mg"])
    return Rehearsal(
        prep=str(row["prep"]),
        day=str(row["closed_day"]),
        person=str(row["person"]),
        substance=str(row["substance"]),
        aim_mg=aim_mg,
        net_mg=net_mg,
        deviation_percent=100.0 * (net_mg - aim_mg) / aim_mg,
        portions=int(row["portions"]),
        open_s=float(row["open_s"]),
        estimated=bool(row["estimated"]),
        unusual=int(row["unusual"]),
        incidents=int(row["incidents"]),
    )


def practice(found: Iterable[Rehearsal]) -> tuple[Practice, ...]:
    """Add rehearsals up by person, in the order of their ids.

    A part of a rehearsal that somebody else finished is no rehearsal of either: where two persons dosed into
    one vessel, its deviation belongs to nobody, and it is left out.
    """
    every = list(found)
    shared = {r.prep for r in every if sum(x.prep == r.prep for x in every) > 1}
    by_person: dict[str, list[Rehearsal]] = {}
    for one in every:
        if one.prep not in shared:
            by_person.setdefault(one.person, []).append(one)
    return tuple(_practice(person, by_person[person]) for person in sorted(by_person))


def _practice(person: str, found: list[Rehearsal]) -> Practice:
    deviations = [r.deviation_percent for r in found]
    return Practice(
        person=person,
        rehearsals=len(found),
        last_day=max(r.day for r in found),
        open_s=statistics.median(r.open_s for r in found),
        deviation_percent=statistics.fmean(deviations),
        scatter_percent=statistics.stdev(deviations) if len(deviations) > 1 else None,
        incidents=sum(r.incidents for r in found),
    )
