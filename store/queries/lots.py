"""Lots and containers: what is left, since when it is open, what it was made of and what was made of it."""

from dataclasses import dataclass
from datetime import date, timedelta

from store.errors import BadInput
from store.queries import registers
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
    used = record.query(
        """
        SELECT coalesce(sum(d.net_mg), 0.0) AS mg,
               coalesce(sum(CASE WHEN d.state = 'discarded' OR NOT d.usable THEN d.net_mg END), 0.0) AS wasted
        FROM dose AS d JOIN prep AS p ON p.prep = d.prep
        WHERE d.container = :container AND d.state != 'never happened' AND NOT p.rehearsal
        """,
        container=container,
    )[0]
    used_mg = net(used["mg"])
    times_opened = record.query(
        """
        SELECT count(*) AS times FROM handling AS h JOIN prep AS p ON p.prep = h.prep
        WHERE h.container = :container AND h.state != 'never happened' AND NOT p.rehearsal
        """,
        container=container,
    )[0]["times"]
    content_mg = _content_mg(str(row.get("content", "")))
    left_mg = None if content_mg is None else net(content_mg - used_mg)
    counted = record.query(_COUNTED, container=container)
    if counted:
        left_mg = net(counted[0]["left_mg"] - counted[0]["since_mg"])
    opened_on = str(row.get("opened_on", "")) or first_opened(record, container)
    in_use_until = last_day_of_use(opened_on, str(row.get("in_use_days", "")))
    expiry = str(lot.get("expiry", ""))
    return Stock(
        container=container,
        lot=str(row["lot"]),
        substance=str(lot.get("substance", "")),
        content_mg=content_mg,
        used_mg=used_mg,
        left_mg=left_mg,
        times_opened=times_opened,
        opened_on=opened_on,
        in_use_until=in_use_until,
        expiry=expiry,
        last_day=min((d for d in (in_use_until, expiry) if d), default=""),
        counted_mg=counted[0]["left_mg"] if counted else None,
        counted_on=counted[0]["day"] if counted else "",
        difference_mg=_difference(counted[0]["difference_mg"]) if counted else None,
        wasted_mg=net(used["wasted"]),
    )


def _difference(found_mg: float | None) -> float | None:
    return None if found_mg is None else net(found_mg)


_COUNTED = """
    SELECT s.day, s.left_mg, s.left_mg - s.by_record_mg AS difference_mg,
           (SELECT coalesce(sum(d.net_mg), 0.0) FROM dose AS d JOIN prep AS p ON p.prep = d.prep
            WHERE d.container = s.container AND d.entry > s.entry AND d.state != 'never happened'
              AND NOT p.rehearsal) AS since_mg
    FROM stocktake AS s WHERE s.container = :container ORDER BY s.entry DESC LIMIT 1
"""
"""The last stocktake, and what was dosed after it."""


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
        SELECT count(DISTINCT h.prep) AS times FROM prep AS p JOIN handling AS h ON h.prep = p.prep
        WHERE p.prep IN (SELECT prep FROM prep WHERE :container IN (container, solvent_container)
                         UNION SELECT prep FROM handling WHERE container = :container)
          AND h.step_name = 'transfer_in' AND h.state != 'never happened' AND NOT p.rehearsal
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
