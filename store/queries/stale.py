"""Why a lot rests on something withdrawn: carried down from what it was made of."""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from store.record.record import Record

DEPTH = 50
"""Generations looked at; more than any real dilution, and an end where a record contradicts itself."""

STANDS = "('stands', 'corrected')"
"""States of a dose that is still in what it was dosed into, as SQL."""

_UP = """
    WITH RECURSIVE reach(lot, depth) AS (
        {of}
        UNION
        SELECT d.lot, r.depth + 1
        FROM reach AS r JOIN made AS m ON m.lot = r.lot JOIN prep AS p ON p.prep = m.prep
        JOIN dose AS d ON d.prep = m.prep AND d.part = m.part
        WHERE r.lot != '' AND d.lot != '' AND d.state IN {stands} AND NOT p.rehearsal
          AND r.depth < :most
    ),
    pair AS (
        SELECT min(r.depth) + 1 AS depth, m.lot, m.prep, m.part
        FROM reach AS r CROSS JOIN made AS m ON m.lot = r.lot
        WHERE r.lot != '' GROUP BY m.prep, m.part
    )
    SELECT pair.depth, d.lot AS parent, pair.lot AS child, p.prep, p.status AS prep_status, d.content,
           sum(CASE WHEN d.state IN {stands} THEN d.net_mg ELSE 0 END) AS net_mg,
           count(*) AS doses,
           sum(CASE WHEN d.state = 'discarded' THEN d.net_mg ELSE 0 END) AS discarded_mg,
           p.stale, p.planned_day AS day
    FROM pair JOIN prep AS p ON p.prep = pair.prep
    JOIN dose AS d ON d.prep = pair.prep AND d.part = pair.part
    WHERE d.state != 'never happened' AND NOT p.rehearsal
    GROUP BY pair.depth, p.prep, pair.lot, d.lot, d.content ORDER BY pair.depth, p.entry, min(d.entry)
"""

UP = _UP.format(of="SELECT :lot, 0", stands=STANDS)
"""What a lot was made of, generation by generation."""

_UP_OF_EACH = _UP.format(of="SELECT value, 0 FROM json_each(:lots)", stands=STANDS)
"""The same of many lots at once."""


def stale_above(record: Record, lot: str) -> str:
    """Say why a lot rests on something withdrawn, itself or through what it was made of; empty if not."""
    return stale_in(record.query(UP, lot=lot, most=DEPTH)).get(lot, "")


def stale_of(record: Record, lots: Iterable[str]) -> dict[str, str]:
    """Say of lots, and of all that they were made of, why they rest on something withdrawn: lot -> why.

    All that went into each is looked at: what a lot has in common with another one is only part of it.
    """
    return stale_in(record.query(_UP_OF_EACH, lots=json.dumps(sorted(lots)), most=DEPTH))


def stale_in(links: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Carry what is stale from parent to child: lot -> why."""
    why: dict[str, str] = {}
    for r in links:
        if r["child"] and r["stale"]:
            why[r["child"]] = f"{r['prep']}: {r['stale']}"
    changed = True
    while changed:
        changed = False
        for r in links:
            if r["child"] and r["parent"] in why and r["child"] not in why and r["net_mg"]:
                why[r["child"]] = f"made of lot {r['parent']}; {why[r['parent']]}"
                changed = True
    return why
