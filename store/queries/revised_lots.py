"""Which preps of a list rest on a certificate that was revised since: one question for all of them."""

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from store.model.registers import Lot
from store.procedure.state import PrepState
from store.queries.stale import DEPTH, STANDS
from store.record.record import Record

CERTIFICATE = (
    "assay", "assay_u", "basis", "assay_method", "assay_formula", "water", "water_u", "loss_on_drying",
    "loss_on_drying_u", "dried_before_use", "density", "concentration", "concentration_u",
)  # fmt: skip
"""Fields of a lot that a result rests on."""

AT_ONCE = 500
"""Preps of one question; it holds all that they rest on in memory."""

_DIFFERS = " OR ".join(
    # A field that is left out, an empty one and a plain no say the same.
    f"coalesce(nullif(had.row ->> '$.{name}', 0), '') <> coalesce(nullif(now.row ->> '$.{name}', 0), '')"
    for name in CERTIFICATE
)
_REVISED = f"""
    WITH RECURSIVE asked(prep) AS MATERIALIZED (SELECT DISTINCT value FROM json_each(:preps)),
    reach(root, lot, depth) AS (
        SELECT a.prep, u.lot, 0 FROM asked AS a CROSS JOIN used_lot AS u ON u.prep = a.prep
        UNION
        SELECT r.root, d.lot, r.depth + 1
        FROM reach AS r CROSS JOIN made AS m ON m.lot = r.lot CROSS JOIN prep AS p ON p.prep = m.prep
        CROSS JOIN dose AS d ON d.prep = m.prep AND d.part = m.part
        WHERE d.lot <> '' AND d.state IN {STANDS} AND NOT p.rehearsal AND r.depth < :most
    ),
    via(root, prep) AS (
        SELECT prep, prep FROM asked
        UNION
        SELECT r.root, m.prep FROM reach AS r CROSS JOIN made AS m ON m.lot = r.lot
        CROSS JOIN prep AS p ON p.prep = m.prep WHERE NOT p.rehearsal
    ),
    touched AS MATERIALIZED (
        SELECT via.root, via.prep, u.lot, p.entry
        FROM via CROSS JOIN prep AS p ON p.prep = via.prep CROSS JOIN used_lot AS u ON u.prep = via.prep
        CROSS JOIN register_row AS now ON now.register = 'lot' AND now.id = u.lot
        WHERE now.entry > p.entry AND coalesce(now.row ->> '$.made_by', '') <> via.prep
    ),
    since AS MATERIALIZED (
        SELECT t.root, t.prep, t.lot, coalesce((
            SELECT max(j.entry) FROM journal AS j
            WHERE j.subject = 'prep:' || t.prep AND j.kind = 'prep_closed'
              AND j.line ->> '$.body.result.certificates' IS NOT NULL
        ), t.entry) AS entry
        FROM touched AS t
    )
    SELECT s.root, s.prep, s.lot
    FROM since AS s CROSS JOIN register_row AS now ON now.register = 'lot' AND now.id = s.lot
    CROSS JOIN register_history AS had ON had.entry = (
        SELECT max(h.entry) FROM register_history AS h
        WHERE h.register = 'lot' AND h.id = s.lot AND h.entry < s.entry
    )
    WHERE {_DIFFERS}
    ORDER BY s.root, s.prep <> s.root, s.prep, s.lot
"""
"""A prep took the row of a lot as it stood when it was planned, or when its result was last written anew."""


def certificate(row: Mapping[str, Any]) -> dict[str, Any]:
    """Give what a result rests on, of a lot's row."""
    whole = Lot.from_body(row)
    return {name: getattr(whole, name) for name in CERTIFICATE}


def certificates(state: PrepState) -> dict[str, dict[str, Any]]:
    """Give what a prep takes of the certificate of every lot that it rests on; not of what it made itself."""
    rows = (state.basis, *state.basis.get("parts", {}).values())
    held = [own[key] for own in rows for key in ("lot", "solvent_lot") if own.get(key, {}).get("id")]
    return {str(row["id"]): certificate(row) for row in held if row.get("made_by") != state.prep}


def of(record: Record, preps: Iterable[str]) -> dict[str, str]:
    """Name the lots that were revised since, of each prep that rests on any: prep -> lots, in words.

    What stands otherwise, old and new, is on the prep's page (`revised_since.of`).
    """
    said: dict[str, list[str]] = {}
    for root, prep, lot in _found(record, preps):
        said.setdefault(root, []).append(f"lot {lot}" if prep == root else f"lot {lot}, through {prep}")
    return {prep: "; ".join(lots) for prep, lots in said.items()}


def _found(record: Record, preps: Iterable[str]) -> Iterator[tuple[str, str, str]]:
    asked = list(preps)
    for n in range(0, len(asked), AT_ONCE):
        for r in record.query(_REVISED, preps=json.dumps(asked[n : n + AT_ONCE]), most=DEPTH):
            yield r["root"], r["prep"], r["lot"]
