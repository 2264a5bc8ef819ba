"""Lots and containers: what is left, since when it is open, what it was made of and what was made of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from store.errors import BadInput
from store.queries import registers, taken
from store.queries.stale import stale_above
from store.queries.trace import Link, Trace, trace
from store.record.record import Record
from store.units import net, number, quantity

__all__ = [
    "Link",
    "Stock",
    "Trace",
    "first_opened",
    "last_day_of_use",
    "left_mg",
    "stale_above",
    "stock",
    "stock_of_lot",
    "thawed",
    "trace",
]


@dataclass(frozen=True, slots=True)
class Stock:
    """What the record knows of one container; None where it cannot know."""

    container: str
    lot: str
    substance: str
    content_mg: float | None
    """When it was new; None where the register gives no content."""
    used_mg: float
    """Dosed from it, usable or not; discarding gives nothing back."""
    left_mg: float | None
    """By the record, from the last stocktake on where there was one; the balance may know better."""
    times_opened: int
    opened_on: str
    """Local day; empty while it was never opened."""
    in_use_until: str
    """Last day of use once opened; empty where no limit is set or it was never opened."""
    expiry: str
    """The lot's."""
    last_day: str
    """The earlier of both; empty where there is neither."""
    counted_mg: float | None = None
    """Found left at the last stocktake."""
    counted_on: str = ""
    difference_mg: float | None = None
    """Found less what content and doses left then; None where the record could not know."""
    wasted_mg: float = 0.0
    """Of what was dosed: not usable, or discarded with what it was dosed into."""


def stock(record: Record, container: str) -> Stock:
    """Give what is left of a container, how often it was opened, and how long it may be used.

    Raises
    ------
    NotFound
        There is no such container.
    """
    row = registers.row(record, "container", container).row
    lot = registers.row(record, "lot", str(row["lot"])).row
    used = taken.of_container(record, container)
    content_mg = _content_mg(str(row.get("content", "")))
    counted = record.query(_COUNTED, container=container)
    opened_on = str(row.get("opened_on", "")) or first_opened(record, container)
    in_use_until = last_day_of_use(opened_on, str(row.get("in_use_days", "")))
    expiry = str(lot.get("expiry", ""))
    return Stock(
        container=container,
        lot=str(row["lot"]),
        substance=str(lot.get("substance", "")),
        content_mg=content_mg,
        used_mg=used.used_mg,
        left_mg=_left_mg(record, container, content_mg, used, counted),
        times_opened=used.openings,
        opened_on=opened_on,
        in_use_until=in_use_until,
        expiry=expiry,
        last_day=min((d for d in (in_use_until, expiry) if d), default=""),
        counted_mg=counted[0]["left_mg"] if counted else None,
        counted_on=counted[0]["day"] if counted else "",
        difference_mg=_difference(counted[0]["difference_mg"]) if counted else None,
        wasted_mg=used.wasted_mg,
    )


def left_mg(record: Record, container: str) -> float | None:
    """Give what is left of a container by the record [mg], None where it cannot know.

    Raises
    ------
    NotFound
        There is no such container.
    """
    content_mg = _content_mg(str(registers.row(record, "container", container).row.get("content", "")))
    used = taken.of_container(record, container)
    return _left_mg(record, container, content_mg, used, record.query(_COUNTED, container=container))


def _left_mg(
    record: Record,
    container: str,
    content_mg: float | None,
    used: taken.OfContainer,
    counted: Sequence[Mapping[str, Any]],
) -> float | None:
    if counted:
        since = taken.of_container(record, container, since=counted[0]["entry"])
        return net(counted[0]["left_mg"] - since.used_mg)
    return None if content_mg is None else net(content_mg - used.used_mg)


def _difference(found_mg: float | None) -> float | None:
    return None if found_mg is None else net(found_mg)


_COUNTED = """
    SELECT entry, day, left_mg, left_mg - by_record_mg AS difference_mg
    FROM stocktake WHERE container = :container ORDER BY entry DESC LIMIT 1
"""
"""The last stocktake."""


def stock_of_lot(record: Record, lot: str) -> tuple[Stock, ...]:
    """Give the stock of every container of a lot that is not retired."""
    found = record.query(
        """
        SELECT id FROM register_row
        WHERE register = 'container' AND NOT retired AND row ->> '$.lot' = :lot
        ORDER BY natural_order(id)
        """,
        lot=lot,
    )
    return tuple(stock(record, r["id"]) for r in found)


def first_opened(record: Record, container: str) -> str:
    """Give the local day on which a container was first opened; empty while it never was."""
    found = record.query(
        """
        SELECT h.day FROM handling AS h JOIN prep AS p ON p.prep = h.prep
        WHERE h.container = :container AND h.state != 'never happened' AND NOT p.rehearsal
        ORDER BY h.day LIMIT 1
        """,
        container=container,
    )
    return str(found[0]["day"]) if found else ""


def thawed(record: Record, container: str) -> int:
    """Give how often a container was thawed: before this record, and once for each prep it was brought to."""
    row = registers.row(record, "container", container).row
    found = record.query(
        """
        WITH its(lot) AS (
            SELECT DISTINCT row ->> '$.lot' FROM register_history
            WHERE register = 'container' AND id = :container
        ),
        brought(prep) AS (
            SELECT p.prep FROM its JOIN prep AS p ON p.lot = its.lot WHERE p.container = :container
            UNION
            SELECT p.prep FROM its JOIN prep AS p ON p.solvent_lot = its.lot
            WHERE p.solvent_container = :container
            UNION
            SELECT prep FROM handling WHERE container = :container
        )
        SELECT count(*) AS times FROM brought AS b JOIN prep AS p ON p.prep = b.prep
        WHERE NOT p.rehearsal AND EXISTS (
            SELECT 1 FROM handling AS h INDEXED BY handling_prep
            WHERE h.prep = b.prep AND h.step_name = 'transfer_in' AND h.state != 'never happened'
        )
        """,
        container=container,
    )
    before = str(row.get("thaws", ""))
    return int(found[0]["times"]) + (int(number(before)) if before else 0)


def _content_mg(text: str) -> float | None:
    """A content that an old row gives in another manner is not known, never guessed."""
    try:
        return quantity(text, "mass").to("mg") if text else None
    except BadInput:
        return None


def last_day_of_use(opened_on: str, days: str) -> str:
    """Give the last day on which an opened container may be used; empty where no limit is known.

    Examples
    --------
    >>> last_day_of_use("2026-03-02", "30"), last_day_of_use("", "30")
    ('2026-04-01', '')
    """
    if not opened_on or not days:
        return ""
    try:
        return (date.fromisoformat(opened_on) + timedelta(days=int(number(days)))).isoformat()
    except (BadInput, ValueError, OverflowError):
        return ""
