"""What a lot was made of, and all that was made of it, to any depth, with the masses that went in.

Of a lot that is in nearly every prep, a screen shows the newest that was made of it and how much was taken in
all; a file gets every link, read as it is written.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any, Literal

from store.errors import NotFound
from store.queries import register_ids, spread, taken
from store.queries.stale import DEPTH, STANDS, UP, stale_of
from store.record.record import Record
from store.units import net


@dataclass(frozen=True, slots=True)
class Link:
    """One lot that went into another through one prep; or into a prep that has made none (yet).

    `depth` counts generations from the lot asked for; `content` is solid, solvent or aliquot.
    """

    direction: Literal["up", "down"]
    depth: int
    parent: str
    child: str
    """Empty where the prep made no lot."""
    prep: str
    prep_status: str
    content: str
    net_mg: float
    """Of the parent, standing in the vessel at the end."""
    doses: int
    discarded_mg: float
    substance: str
    """Of the far end: the parent going up, the child going down."""
    concentration: str
    lot_status: str
    expiry: str
    stale: str
    """Why the child rests on something withdrawn, itself or through what it was made of."""
    day: str


@dataclass(frozen=True, slots=True)
class Trace:
    """One lot with what stands above and below it, the nearest first."""

    lot: str
    substance: str
    concentration: str
    status: str
    made_by: str
    stale: str
    """Why it rests on something withdrawn, itself or through what it was made of; empty where it does not."""
    taken: taken.OfLot
    """What was taken of the lot itself, by every prep."""
    whole: bool
    """Whether `down` holds every link; else the newest of the nearest."""
    up: tuple[Link, ...]
    down: tuple[Link, ...]


_DOWN = f"""
    {spread.BELOW},
    near AS (SELECT lot, min(depth) + 1 AS depth FROM reach WHERE lot != '' GROUP BY lot)
    SELECT near.depth, d.lot AS parent, coalesce(m.lot, '') AS child, p.prep,
           p.status AS prep_status, d.content,
           sum(CASE WHEN d.state IN {STANDS} THEN d.net_mg ELSE 0 END) AS net_mg,
           count(*) AS doses,
           sum(CASE WHEN d.state = 'discarded' THEN d.net_mg ELSE 0 END) AS discarded_mg,
           p.stale, p.planned_day AS day
    FROM near JOIN dose AS d ON d.lot = near.lot JOIN prep AS p ON p.prep = d.prep
    LEFT JOIN made AS m ON m.prep = d.prep AND m.part = d.part
    WHERE d.state != 'never happened' AND NOT p.rehearsal
    GROUP BY near.depth, p.prep, coalesce(m.lot, ''), d.lot, d.content
    ORDER BY near.depth, p.entry, min(d.entry)
"""


def trace(record: Record, lot: str, *, newest: int = 0) -> Trace:
    """Follow a lot up and down.

    Parameters
    ----------
    newest
        So many links down are enough where more preps than that rest on the lot; 0 gives all.

    Raises
    ------
    NotFound
        No register row and no prep knows the lot.
    """
    up = record.query(UP, lot=lot, most=DEPTH)
    whole = not newest or spread.few(record, lot, most=newest)
    down = record.query(_DOWN, lot=lot, most=DEPTH) if whole else spread.newest(record, lot, limit=newest)
    rows = _lots(record, {lot, *(r["parent"] for r in up), *(r["child"] for r in down)})
    if lot not in rows and not up and not down:
        near = ", ".join(register_ids.nearest(record, "lot", lot))
        raise NotFound(f"There is no lot {lot!r} in the record{near and f'; near it: {near}'}.")
    own = rows.get(lot, {})
    stale = stale_of(record, {lot, *(r["child"] for r in down)})
    return Trace(
        lot=lot,
        substance=str(own.get("substance", "")),
        concentration=str(own.get("concentration", "")),
        status=str(own.get("status", "")),
        made_by=str(own.get("made_by", "")),
        stale=stale.get(lot, ""),
        taken=taken.of_lot(record, lot),
        whole=whole,
        up=tuple(_link("up", r, rows.get(r["parent"], {}), stale) for r in up),
        down=tuple(_link("down", r, rows.get(r["child"], {}), stale) for r in down),
    )


def each(record: Record, lot: str) -> Iterator[Link]:
    """Give every link below a lot, the nearest first; of many, those of one parent begin with the newest.

    However many they are, no more than a few hundred are in memory.
    """
    if spread.few(record, lot):
        yield from trace(record, lot).down
        return
    for rows in _chunks(spread.each(record, lot)):
        children = {r["child"] for r in rows}
        of, stale = _lots(record, children), stale_of(record, children)
        yield from (_link("down", r, of.get(r["child"], {}), stale) for r in rows)


def _chunks(rows: Iterator[Mapping[str, Any]]) -> Iterator[list[Mapping[str, Any]]]:
    while chunk := list(islice(rows, spread.CHUNK)):
        yield chunk


def _lots(record: Record, ids: Iterable[str]) -> dict[str, Mapping[str, Any]]:
    found = record.query(
        """
        SELECT lot.id, lot.substance, lot.concentration, lot.status, lot.expiry, lot.made_by
        FROM json_each(:ids) AS asked CROSS JOIN lot ON lot.id = asked.value
        """,
        ids=json.dumps(sorted(ids)),
    )
    return {r["id"]: r for r in found}


def _link(
    direction: Literal["up", "down"], r: Mapping[str, Any], far: Mapping[str, Any], stale: Mapping[str, str]
) -> Link:
    return Link(
        direction=direction,
        substance=str(far.get("substance", "")),
        concentration=str(far.get("concentration", "")),
        lot_status=str(far.get("status", "")),
        expiry=str(far.get("expiry", "")),
        **{
            **{name: value for name, value in r.items() if name != "last"},
            "net_mg": net(r["net_mg"]),
            "discarded_mg": net(r["discarded_mg"]),
            "stale": stale.get(r["child"]) or r["stale"],
        },
    )
