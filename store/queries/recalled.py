"""Where a lot and all that was made of it is now: containers that are not retired, and who took from them."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain

from store.queries import lots, registers, spread, taken, trace
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Holder:
    """One container of what was made, and what is left in it by the record."""

    container: str
    place: str
    left_mg: float | None


@dataclass(frozen=True, slots=True)
class Recalled:
    """One container to be taken back: of the lot itself, or of something made of it."""

    lot: str
    container: str
    place: str
    left_mg: float | None
    substance: str
    concentration: str
    lot_status: str
    made_by: str
    who: tuple[str, ...]
    """Who made it or took from it."""
    open_preps: tuple[str, ...]
    """Preps under way that take from it."""


def of(record: Record, lot: str) -> tuple[Recalled, ...]:
    """Give every container of a lot and of all that was made of it that is not retired, the nearest first.

    Raises
    ------
    NotFound
        Nobody knows the lot.
    """
    return tuple(each(record, lot))


def each(record: Record, lot: str) -> Iterator[Recalled]:
    """Give what `of` gives as it is asked for; of a lot in nearly every prep, with only a part in memory.

    Raises
    ------
    NotFound
        Nobody knows the lot.
    """
    if spread.few(record, lot):
        links = trace.trace(record, lot).down
        yield from _containers(record, dict.fromkeys((lot, *(link.child for link in links))))
    else:
        made = (r["child"] for r in spread.vessels(record, lot) if r["child"] != lot)
        yield from _containers(record, chain((lot,), made))


def newest(record: Record, lot: str, limit: int) -> tuple[Recalled, ...]:
    """Give what a screen shows: all that `of` gives where so few preps rest on the lot, else the newest.

    Raises
    ------
    NotFound
        Nobody knows the lot.
    """
    if spread.few(record, lot, most=limit):
        return of(record, lot)
    made = dict.fromkeys(r["child"] for r in spread.newest(record, lot, limit=limit))
    return tuple(_containers(record, (lot, *(id for id in made if id != lot))))


def _containers(record: Record, ids: Iterable[str]) -> Iterator[Recalled]:
    for id in ids:
        if (found := registers.found(record, "lot", id)) is None:
            continue
        maker = str(found.row.get("made_by", ""))
        made_by = record.query("SELECT planned_by FROM prep WHERE prep = :prep", prep=maker)
        people = dict.fromkeys((*(r["planned_by"] for r in made_by), *taken.people(record, id)))
        under_way = record.query(
            """
            SELECT p.prep FROM prep AS p WHERE p.status = 'open'
              AND EXISTS (SELECT 1 FROM used_lot AS u WHERE u.lot = :lot AND u.prep = p.prep)
            ORDER BY p.entry
            """,
            lot=id,
        )
        taken_in = {r["prep"]: record.prep_state(r["prep"]).plan.containers for r in under_way}
        for holder in holders(record, id):
            yield Recalled(
                lot=id,
                container=holder.container,
                place=holder.place,
                left_mg=holder.left_mg,
                substance=str(found.row.get("substance", "")),
                concentration=str(found.row.get("concentration", "")),
                lot_status=str(found.row.get("status", "")),
                made_by=maker,
                who=tuple(people),
                open_preps=tuple(prep for prep, taken in taken_in.items() if holder.container in taken),
            )


def holders(record: Record, lot: str) -> tuple[Holder, ...]:
    """Give the containers of one lot that are not retired."""
    found = record.query(
        "SELECT id, row ->> '$.place' AS place FROM register_row "
        "WHERE register = 'container' AND NOT retired AND row ->> '$.lot' = :lot ORDER BY natural_order(id)",
        lot=lot,
    )
    return tuple(Holder(r["id"], r["place"] or "", lots.left_mg(record, r["id"])) for r in found)
