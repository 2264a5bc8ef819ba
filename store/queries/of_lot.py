"""Handlings and preps of a lot and of what was made of it, by the table that the record keeps of them."""

from store.record.record import Record

WIDE = 12_000
"""Handlings of a lot that are looked up all at once; of more, each is asked for as the walk meets it."""

_LOT = "SELECT l.handling FROM lot_handling AS l WHERE l.lot = :lot"

_USED_IN = """
    WITH RECURSIVE made_of(lot) AS (
        SELECT :lot
        UNION
        SELECT made.lot FROM made_of AS m JOIN used_lot AS u ON u.lot = m.lot JOIN made ON made.prep = u.prep
    )
    SELECT u.prep FROM made_of AS m JOIN used_lot AS u ON u.lot = m.lot
"""
"""Preps that used the lot, or what was made of it."""

_USES = """EXISTS (
    WITH RECURSIVE above(lot) AS (
        SELECT lot FROM used_lot WHERE prep = {prep}
        UNION
        SELECT u.lot FROM above AS a JOIN made AS m ON m.lot = a.lot JOIN used_lot AS u ON u.prep = m.prep
    )
    SELECT 1 FROM above WHERE lot = :lot
)"""
"""Whether one prep used the lot, or what was made of it: as `_USED_IN`, looked at from the other end."""


def handlings(record: Record, lot: str, entry: str) -> str:
    """Give the condition that a handling, by its column, had a lot open or what was made of it."""
    return f"EXISTS ({_LOT} AND l.handling = {entry})" if _wide(record, lot) else f"{entry} IN ({_LOT})"


def preps(record: Record, lot: str, prep: str) -> str:
    """Give the condition that a prep, by the name of its column, used a lot or what was made of it."""
    if lot and _wide(record, lot):
        return _USES.format(prep=prep)
    return f"{prep} IN ({_USED_IN})"


def _wide(record: Record, lot: str) -> bool:
    found = record.query(f"SELECT count(*) AS n FROM ({_LOT} LIMIT {WIDE})", lot=lot)
    return bool(found[0]["n"] >= WIDE)
