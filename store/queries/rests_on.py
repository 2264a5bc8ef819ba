"""What stands against a container through what went into it: said at the plan and before it is opened."""

from collections.abc import Iterator

from store.model.words import LotStatus
from store.queries import registers, revised_since, stale, storage
from store.record.record import Record

STOPPED = (LotStatus.BLOCKED, LotStatus.RECALLED)


def of(record: Record, container: str) -> tuple[str, ...]:
    """Say why what is in a container is in doubt though its own lot is released; empty where nothing is.

    A lot that it was made of was blocked or recalled, a dose was withdrawn, a certificate was revised and the
    result not written anew, or its sealed gross says that it leaked.

    Raises
    ------
    NotFound
        There is no such container.
    """
    lot = str(registers.row(record, "container", container).row.get("lot", ""))
    doubt = storage.of(record, container).doubt
    sealed = (f"container {container}: what is in it is not known, {doubt}",) if doubt else ()
    return (*of_lot(record, lot), *sealed)


def of_lot(record: Record, lot: str) -> tuple[str, ...]:
    """Say why a lot is in doubt through what it was made of; empty where nothing is, and for a bought one."""
    return tuple(dict.fromkeys(_above(record, lot)))


def _above(record: Record, lot: str) -> Iterator[str]:
    made = registers.found(record, "lot", lot)
    if made is None or not made.row.get("made_by"):
        return  # bought: nothing is above it
    links = record.query(stale.UP, lot=lot, most=stale.DEPTH)
    for link in links:
        parent = registers.found(record, "lot", str(link["parent"])) if link["net_mg"] else None
        if parent is not None and parent.row.get("status") in STOPPED:
            why = f" ({parent.row['status_reason']})" if parent.row.get("status_reason") else ""
            yield f"lot {lot} was made of lot {parent.id}, which is {parent.row['status']}{why}"
    if why := stale.stale_in(links).get(lot, ""):
        yield f"lot {lot} is stale: {why}"
    by = next((str(link["prep"]) for link in links if link["child"] == lot), "")
    if by:
        yield from (
            f"lot {lot} rests on the old value: {x}" for x in revised_since.of(record, record.prep_state(by))
        )
