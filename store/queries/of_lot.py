"""Handlings and preps of a lot and of what was made of it, by the table that the record keeps of them."""

from dataclasses import replace

from store.queries.asked import MADE_OF, USED_IN, Asked
from store.record.record import Record

WIDE = 12_000
"""Handlings of a lot that are looked up all at once; of more, each is asked for as the walk meets it."""

_LOT = "SELECT l.handling FROM lot_handling AS l WHERE l.lot = :lot"

_USES = """EXISTS (
    WITH RECURSIVE above(lot) AS (
        SELECT lot FROM used_lot WHERE prep = {prep}
        UNION
        SELECT u.lot FROM above AS a JOIN made AS m ON m.lot = a.lot JOIN used_lot AS u ON u.prep = m.prep
    )
    SELECT 1 FROM above WHERE lot = :lot
)"""
"""Whether one prep used the lot, or what was made of it: as `USED_IN`, looked at from the other end."""


def walked(record: Record, which: Asked) -> Asked:
    """Give the same question with the lot looked up in `lot_handling`, the newest handlings first.

    What asks for a lot and nothing narrower walks the handlings of the lot themselves.
    """
    slow = f"{which.key} IN ({MADE_OF})"
    if not which.lot or slow not in which.where:
        return which
    if which.key == "h.entry" and not which.or_where:
        return replace(
            which,
            source="lot_handling AS l CROSS JOIN handling AS h ON h.entry = l.handling",
            key="l.handling",
            where=which.where.replace(slow, "l.lot = :lot").replace("h.entry", "l.handling"),
        )
    one = f"EXISTS ({_LOT} AND l.handling = {which.key})"
    quick = one if _wide(record, which.lot) else f"{which.key} IN ({_LOT})"
    return replace(
        which, where=which.where.replace(slow, quick), or_where=which.or_where.replace(slow, quick)
    )


def preps(record: Record, lot: str, prep: str) -> str:
    """Give the condition that a prep, by the name of its column, used a lot or what was made of it."""
    if lot and _wide(record, lot):
        return _USES.format(prep=prep)
    return f"{prep} IN ({USED_IN.format('u.prep')})"


def _wide(record: Record, lot: str) -> bool:
    found = record.query(f"SELECT count(*) AS n FROM ({_LOT} LIMIT {WIDE})", lot=lot)
    return bool(found[0]["n"] >= WIDE)
