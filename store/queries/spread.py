"""How far a lot spread: whether few preps rest on it, the newest of many, and every one without holding them.

Each gives rows as `trace` makes links of them: depth, parent, child, prep, and what went in.
"""

import json
from collections.abc import Iterator, Mapping
from typing import Any

from store.queries.stale import DEPTH, STANDS
from store.record.record import Record

FEW = 500
"""So many preps are followed to any depth at once; more are read as they are asked for."""

CHUNK = 200
"""Preps read at once where all are wanted."""

NO_END = 2**62
"""After every entry."""

Row = Mapping[str, Any]

_NEXT = f"""
    SELECT DISTINCT m.lot FROM dose AS d JOIN prep AS p ON p.prep = d.prep
    JOIN made AS m ON m.prep = d.prep AND m.part = d.part
    WHERE d.lot IN (SELECT value FROM json_each(:lots)) AND d.state IN {STANDS} AND NOT p.rehearsal
"""
"""What was made of some lots."""

_TAKING = f"""
    WITH picked AS MATERIALIZED (
        SELECT d.entry AS last, d.prep FROM dose AS d INDEXED BY dose_lot JOIN prep AS p ON p.prep = d.prep
        WHERE d.lot = :lot AND d.entry < :before AND d.state <> 'never happened' AND NOT p.rehearsal
          AND NOT EXISTS (
            SELECT 1 FROM dose AS o INDEXED BY dose_prep
            WHERE o.prep = d.prep AND o.lot = d.lot AND o.entry > d.entry AND o.entry <= :head
              AND o.state <> 'never happened'
          )
        ORDER BY d.entry DESC LIMIT :limit
    )
    SELECT picked.last, d.lot AS parent, coalesce(m.lot, '') AS child, p.prep, p.status AS prep_status,
           d.content, sum(CASE WHEN d.state IN {STANDS} THEN d.net_mg ELSE 0 END) AS net_mg,
           count(*) AS doses,
           sum(CASE WHEN d.state = 'discarded' THEN d.net_mg ELSE 0 END) AS discarded_mg,
           p.stale, p.planned_day AS day
    FROM picked CROSS JOIN dose AS d INDEXED BY dose_prep ON d.prep = picked.prep
    JOIN prep AS p ON p.prep = d.prep LEFT JOIN made AS m ON m.prep = d.prep AND m.part = d.part
    WHERE d.lot = :lot AND d.state <> 'never happened'
    GROUP BY picked.last, coalesce(m.lot, ''), d.content ORDER BY picked.last DESC, min(d.entry)
"""
"""Preps that took from a lot, the one that took last first; only its own doses, whatever else a prep has."""

BELOW = f"""
    WITH RECURSIVE reach(lot, depth) AS (
        SELECT :lot, 0
        UNION
        SELECT m.lot, r.depth + 1
        FROM reach AS r JOIN dose AS d ON d.lot = r.lot JOIN prep AS p ON p.prep = d.prep
        JOIN made AS m ON m.prep = d.prep AND m.part = d.part
        WHERE r.lot <> '' AND d.state IN {STANDS} AND NOT p.rehearsal AND r.depth < :most
    )
"""
"""A lot and all that was made of it, each with how many generations on: `reach`."""

_FURTHER = f"""
    {BELOW}
    SELECT lot, min(depth) AS depth FROM reach WHERE lot <> '' GROUP BY lot
    HAVING min(depth) > 0 AND EXISTS (SELECT 1 FROM dose AS t WHERE t.lot = reach.lot)
    ORDER BY min(depth), lot
"""
"""Lots made of a lot from which something was taken again, the nearest first."""

_ABOVE = f"""
    WITH RECURSIVE above(lot, depth) AS (
        SELECT :child, 0
        UNION
        SELECT d.lot, a.depth + 1
        FROM above AS a JOIN made AS m ON m.lot = a.lot JOIN prep AS p ON p.prep = m.prep
        JOIN dose AS d INDEXED BY dose_prep ON d.prep = m.prep AND d.part = m.part
        WHERE a.lot <> '' AND d.lot <> '' AND d.state IN {STANDS} AND NOT p.rehearsal AND a.depth < :most
    )
    SELECT min(depth) AS depth FROM above WHERE lot = :lot
"""

_PARENTS = """
    SELECT DISTINCT d.lot FROM dose AS d INDEXED BY dose_prep
    LEFT JOIN made AS m ON m.prep = d.prep AND m.part = d.part
    WHERE d.prep = :prep AND coalesce(m.lot, '') = :child AND d.lot <> '' AND d.state <> 'never happened'
"""


def few(record: Record, lot: str, *, most: int = FEW) -> bool:
    """Say whether no more than so many preps rest on a lot; the answer never takes more than so many rows."""
    seen, level, preps = {lot}, [lot], 0
    for _generation in range(DEPTH):
        lots = json.dumps(level)
        taken = (
            "SELECT coalesce(sum(preps), 0) AS n FROM taken WHERE lot IN (SELECT value FROM json_each(:lots))"
        )
        preps += record.query(taken, lots=lots)[0]["n"]
        if preps > most:
            return False
        level = [r["lot"] for r in record.query(_NEXT, lots=lots) if r["lot"] not in seen]
        seen.update(level)
        if not level:
            break
    return True


def newest(record: Record, lot: str, *, limit: int) -> tuple[Row, ...]:
    """Give so many links that rest on a lot, the nearest first, and of each parent the newest first."""
    out: list[Row] = []
    seen, level = {lot}, [lot]
    for depth in range(1, DEPTH + 1):
        further: dict[str, None] = {}
        for parent in level:
            found = _taking(record, parent, depth, limit=limit - len(out))
            out += found
            further |= dict.fromkeys(r["child"] for r in found if r["child"] and r["net_mg"])
            if len(out) >= limit:
                return tuple(out[:limit])
        level = [child for child in further if child not in seen]
        seen.update(level)
        if not level:
            break
    return tuple(out)


def each(record: Record, lot: str) -> Iterator[Row]:
    """Give every link that rests on a lot, the nearest first, read as it is asked for."""
    yield from _all_taking(record, lot, 1)
    for r in record.each(_FURTHER, lot=lot, most=DEPTH):
        yield from _all_taking(record, r["lot"], r["depth"] + 1)


def vessels(record: Record, lot: str) -> Iterator[Row]:
    """Give each vessel that rests on a lot, once, by its nearest parent; read as it is asked for."""
    prep: str = ""
    given: set[str] = set()
    for row in each(record, lot):
        if row["prep"] != prep:
            prep, given = row["prep"], set()
        # What took of one lot as a solute and as a solvent comes twice, with other vessels between.
        if row["child"] not in given and first_in(record, lot, row):
            given.add(row["child"])
            yield row


def first_in(record: Record, lot: str, row: Row) -> bool:
    """Say whether what a prep filled rests on the lot through no nearer parent, so that it counts once."""
    if row["depth"] == 1:
        return True
    others = [r["lot"] for r in record.query(_PARENTS, prep=row["prep"], child=row["child"])]
    own = (row["depth"] - 1, row["parent"])
    return all(depth is None or own <= (depth, other) for other, depth in _depths(record, lot, others))


def _depths(record: Record, lot: str, parents: list[str]) -> Iterator[tuple[str, int | None]]:
    return ((parent, depth(record, parent, lot)) for parent in parents)


def depth(record: Record, child: str, lot: str) -> int | None:
    """Give how many generations a lot stands above a child; None where the child does not rest on it."""
    found = record.query(_ABOVE, child=child, lot=lot, most=DEPTH)
    return None if found[0]["depth"] is None else int(found[0]["depth"])


def _all_taking(record: Record, lot: str, depth: int) -> Iterator[Row]:
    # What is dosed while this is read moves no prep out of its place, so that none is left out.
    head = record.query("SELECT coalesce(max(entry), 0) AS entry FROM dose")[0]["entry"]
    before = head + 1
    while found := _taking(record, lot, depth, head=head, before=before, limit=CHUNK):
        yield from found
        before = found[-1]["last"]


def _taking(
    record: Record, lot: str, depth: int, *, limit: int, head: int = NO_END, before: int = NO_END
) -> list[Row]:
    found = record.query(_TAKING, lot=lot, head=head, before=before, limit=limit)
    return [{"depth": depth, **r} for r in found]
