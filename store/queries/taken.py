"""What was taken of one container or one lot: sums that the record keeps, however many doses there are."""

from dataclasses import dataclass

from store.record.record import Record
from store.record.taken_shape import LARGE_MG, TENTH_NG
from store.units import net, weighed


@dataclass(frozen=True, slots=True)
class OfContainer:
    """What was taken of a container; rehearsals and what never happened are left out."""

    openings: int
    doses: int
    used_mg: float
    wasted_mg: float
    """Of what was dosed: not usable, or discarded with what it was dosed into."""


@dataclass(frozen=True, slots=True)
class OfLot:
    """What was taken of a lot; rehearsals and what never happened are left out."""

    preps: int
    """So many preps took from it."""
    doses: int
    net_mg: float
    """Standing in vessels."""
    discarded_mg: float


def of_container(record: Record, container: str, *, since: int = 0) -> OfContainer:
    """Add up what was taken of a container; `since` is the entry of a stocktake, and counts from there."""
    (kept,) = record.query(
        """
        SELECT coalesce(sum(openings), 0) AS openings, coalesce(sum(doses), 0) AS doses,
               coalesce(sum(used_tenth_ng), 0) AS used, coalesce(sum(wasted_tenth_ng), 0) AS wasted,
               coalesce(sum(large), 0) AS large
        FROM taken WHERE container = :container AND since >= :since
        """,
        container=container,
        since=since,
    )
    used_mg, wasted_mg = kept["used"] / TENTH_NG, kept["wasted"] / TENTH_NG
    if kept["large"]:
        (more,) = record.query(
            """
            SELECT sum(d.net_mg) AS used,
                   sum(CASE WHEN d.state = 'discarded' OR NOT d.usable THEN d.net_mg ELSE 0.0 END) AS wasted
            FROM dose AS d JOIN prep AS p ON p.prep = d.prep
            WHERE d.container = :container AND d.entry > :since AND abs(d.net_mg) >= :large
              AND d.state <> 'never happened' AND NOT p.rehearsal
            """,
            container=container,
            since=since,
            large=LARGE_MG,
        )
        used_mg, wasted_mg = used_mg + more["used"], wasted_mg + more["wasted"]
    return OfContainer(kept["openings"], kept["doses"], net(used_mg), net(wasted_mg))


def of_lot(record: Record, lot: str) -> OfLot:
    """Add up what was taken of a lot, of whichever container."""
    (kept,) = record.query(
        """
        SELECT coalesce(sum(preps), 0) AS preps, coalesce(sum(doses), 0) AS doses,
               coalesce(sum(used_tenth_ng - discarded_tenth_ng), 0) AS stands,
               coalesce(sum(discarded_tenth_ng), 0) AS discarded, coalesce(sum(large), 0) AS large
        FROM taken WHERE lot = :lot AND lot <> ''
        """,
        lot=lot,
    )
    net_mg, discarded_mg = kept["stands"] / TENTH_NG, kept["discarded"] / TENTH_NG
    if kept["large"]:
        (more,) = record.query(
            """
            SELECT coalesce(sum(CASE WHEN d.state <> 'discarded' THEN d.net_mg END), 0.0) AS stands,
                   coalesce(sum(CASE WHEN d.state = 'discarded' THEN d.net_mg END), 0.0) AS discarded
            FROM dose AS d JOIN prep AS p ON p.prep = d.prep
            WHERE d.lot = :lot AND abs(d.net_mg) >= :large AND d.state <> 'never happened' AND NOT p.rehearsal
            """,
            lot=lot,
            large=LARGE_MG,
        )
        net_mg, discarded_mg = net_mg + more["stands"], discarded_mg + more["discarded"]
    return OfLot(kept["preps"], kept["doses"], net(net_mg), net(discarded_mg))


def people(record: Record, lot: str) -> tuple[str, ...]:
    """Give everybody who took from a lot, rehearsals among it."""
    found = record.query(
        """
        SELECT person FROM taken WHERE lot = :lot AND lot <> ''
        GROUP BY person HAVING sum(doses) + sum(rehearsed) > 0 ORDER BY person
        """,
        lot=lot,
    )
    return tuple(r["person"] for r in found)


def said(found: OfLot) -> str:
    """Say how much was taken of a lot itself; what rests on it further on is not in these numbers."""
    lost = f", {weighed(found.discarded_mg)} more discarded" if found.discarded_mg else ""
    preps = f"{found.preps} preps" if found.preps != 1 else "1 prep"
    mass = weighed(found.net_mg)
    return f"{preps} took {mass} of it in {found.doses} doses{lost}, and more may rest on what these made."
