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


_LATE = "(SELECT coalesce(max(entry), 0) FROM taken_upto)"
"""After this entry doses are in no sum yet: those since the last entry that was no dose."""


def of_container(record: Record, container: str, *, since: int = 0) -> OfContainer:
    """Add up what was taken of a container; `since` is the entry of a stocktake, and counts from there."""
    (kept,) = record.query(
        f"""
        SELECT total(openings) AS openings, total(doses) AS doses, total(large) AS large,
               coalesce(sum(used_tenth_ng), 0) AS used, coalesce(sum(wasted_tenth_ng), 0) AS wasted,
               {_LATE} AS upto
        FROM taken WHERE container = :container AND since >= :since
        """,
        container=container,
        since=since,
    )
    (more,) = record.query(
        f"""
        SELECT count(CASE WHEN d.entry > :upto THEN 1 END) AS doses, total(d.net_mg) AS used,
               total(CASE WHEN d.state = 'discarded' OR NOT d.usable THEN d.net_mg END) AS wasted
        FROM dose AS d JOIN prep AS p ON p.prep = d.prep
        WHERE d.container = :container AND d.entry > :since AND {_large(kept["large"])}
          AND d.state <> 'never happened' AND NOT p.rehearsal
        """,
        container=container,
        since=since if kept["large"] else max(since, kept["upto"]),
        upto=kept["upto"],
        large=LARGE_MG,
    )
    return OfContainer(
        openings=int(kept["openings"]),
        doses=int(kept["doses"]) + more["doses"],
        used_mg=net(kept["used"] / TENTH_NG + more["used"]),
        wasted_mg=net(kept["wasted"] / TENTH_NG + more["wasted"]),
    )


def _large(any_large: float) -> str:
    """Give the condition for doses that stand in no sum of masses: the last ones, and large ones."""
    return "(d.entry > :upto OR abs(d.net_mg) >= :large)" if any_large else ":large > 0"


def of_lot(record: Record, lot: str) -> OfLot:
    """Add up what was taken of a lot, of whichever container."""
    (kept,) = record.query(
        f"""
        SELECT total(preps) AS preps, total(doses) AS doses, total(large) AS large,
               coalesce(sum(used_tenth_ng - discarded_tenth_ng), 0) AS stands,
               coalesce(sum(discarded_tenth_ng), 0) AS discarded, {_LATE} AS upto
        FROM taken WHERE lot = :lot AND lot <> ''
        """,
        lot=lot,
    )
    (more,) = record.query(
        f"""
        SELECT count(CASE WHEN d.entry > :upto THEN 1 END) AS doses,
               count(DISTINCT CASE WHEN d.entry > :upto AND NOT EXISTS (
                   SELECT 1 FROM dose AS o INDEXED BY dose_prep
                   WHERE o.prep = d.prep AND o.lot = d.lot AND o.entry <= :upto
                     AND o.state <> 'never happened'
               ) THEN d.prep END) AS preps,
               total(CASE WHEN d.state <> 'discarded' THEN d.net_mg END) AS stands,
               total(CASE WHEN d.state = 'discarded' THEN d.net_mg END) AS discarded
        FROM dose AS d JOIN prep AS p ON p.prep = d.prep
        WHERE d.lot = :lot AND d.lot <> '' AND d.entry > :first AND {_large(kept["large"])}
          AND d.state <> 'never happened' AND NOT p.rehearsal
        """,
        lot=lot,
        first=0 if kept["large"] else kept["upto"],
        upto=kept["upto"],
        large=LARGE_MG,
    )
    return OfLot(
        preps=int(kept["preps"]) + more["preps"],
        doses=int(kept["doses"]) + more["doses"],
        net_mg=net(kept["stands"] / TENTH_NG + more["stands"]),
        discarded_mg=net(kept["discarded"] / TENTH_NG + more["discarded"]),
    )


def people(record: Record, lot: str) -> tuple[str, ...]:
    """Give everybody who took from a lot, rehearsals among it."""
    found = record.query(
        f"""
        SELECT person FROM taken WHERE lot = :lot AND lot <> ''
        GROUP BY person HAVING sum(doses) + sum(rehearsed) > 0
        UNION
        SELECT person FROM dose
        WHERE lot = :lot AND lot <> '' AND entry > {_LATE} AND state <> 'never happened'
        ORDER BY person
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
