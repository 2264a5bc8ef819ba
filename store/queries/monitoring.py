"""Results of measurements of air and of wiped surfaces, as laboratories reported them.

They stand beside the exposure log; nothing is compared or averaged, and no result means that nothing was met.
"""

from dataclasses import dataclass

from store.queries import periods
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Measured:
    """One result, with the limit it was held against by whoever entered it."""

    entry: int
    at: str
    day: str
    person: str
    """Who entered it."""
    what: str
    """air, personal air or wipe"""
    substance: str
    value: str
    place: str
    enclosure: str
    who: str
    """Whose breathing zone; empty for a place."""
    minutes: str
    limit_value: str
    limit_source: str
    method: str
    laboratory: str
    report: str
    note: str


def of(
    record: Record,
    *,
    person: str = "",
    substance: str = "",
    since: str = "",
    until: str = "",
    limit: int = -1,
    offset: int = 0,
) -> tuple[Measured, ...]:
    """Give results, the newest first.

    Parameters
    ----------
    person
        Personal samples of this person only, beside those of places; empty for everybody's.

    Raises
    ------
    BadDate
        A period that is none.
    """
    found = record.query(
        """
        SELECT * FROM monitoring
        WHERE (:person = '' OR who IN ('', :person)) AND (:substance = '' OR substance = :substance)
            AND day >= :since AND (:until = '' OR day <= :until)
        ORDER BY day DESC, entry DESC LIMIT :limit OFFSET :offset
        """,
        person=person,
        substance=substance,
        since=periods.since(since),
        until=periods.until(until),
        limit=limit,
        offset=offset,
    )
    return tuple(Measured(**r) for r in found)


def shown(of: Measured) -> str:
    """Give a result in a line.

    >>> shown(Measured(1, "", "2026-03-04", "so-1", "personal air", "K2CR2O7", "< 0.05 ug/m3", "", "E-1",
    ...                "op-1", "120", "1 ug/m3", "local law", "", "", "R-7", ""))
    '2026-03-04 personal air < 0.05 ug/m3 in 120 min (limit 1 ug/m3, local law)'
    """
    where = of.place or (of.enclosure if not of.who else "")
    took = f" in {of.minutes} min" if of.minutes else ""
    at = f" at {where}" if where else ""
    held = f" (limit {of.limit_value}, {of.limit_source})" if of.limit_value else ""
    return f"{of.day} {of.what}{at} {of.value}{took}{held}"
