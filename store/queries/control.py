"""Whether preparing a substance is in control: achieved over target, prep after prep, on a chart."""

from dataclasses import dataclass

from store.calc.chart import Chart, individuals
from store.record.record import Record

FEWEST = 3
"""Fewer points make no chart."""


@dataclass(frozen=True, slots=True)
class Point:
    """One prep on the chart."""

    prep: str
    day: str
    by: str
    balance: str
    target: str
    ratio: float
    """Achieved over target; 1 is what was wanted."""
    u_rel: float | None
    status: str
    stale: bool


@dataclass(frozen=True, slots=True)
class Control:
    """The points, the oldest first, and what the chart says; no chart of fewer than `FEWEST`."""

    substance: str
    target: str
    """The one target shown; empty for all, each over its own."""
    points: tuple[Point, ...]
    chart: Chart | None


def of(record: Record, substance: str, *, target: str = "", last: int = 60) -> Control:
    """Give the last preps of a substance that came to a result, no rehearsals, none that was given up.

    Parameters
    ----------
    target
        Only preps of this target, as typed in their plans.
    last
        So many of the newest.
    """
    found = record.query(
        """
        SELECT prep, planned_day AS day, planned_by AS by, balance, target, deviation, u_rel, status, stale
        FROM prep
        WHERE substance = :substance AND deviation IS NOT NULL AND NOT rehearsal AND status <> 'abandoned'
            AND (:target = '' OR target = :target)
        ORDER BY entry DESC LIMIT :last
        """,
        substance=substance,
        target=target,
        last=last,
    )
    points = tuple(
        Point(
            prep=r["prep"],
            day=r["day"],
            by=r["by"],
            balance=r["balance"],
            target=r["target"],
            ratio=1.0 + r["deviation"],
            u_rel=r["u_rel"],
            status=r["status"],
            stale=bool(r["stale"]),
        )
        for r in reversed(found)
    )
    chart = individuals([p.ratio for p in points]) if len(points) >= FEWEST else None
    return Control(substance, target, points, chart)
