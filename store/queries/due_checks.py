"""Checks that are due: balances, enclosures, training. One row says what is due, whatever it is."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from store.errors import BadInput
from store.queries import periods, registers
from store.queries.lapsing import lapsing
from store.record.record import Record
from store.units import number


@dataclass(frozen=True, slots=True)
class Due:
    """One thing that is due."""

    group: str
    """owed, open, decide, due, expiring, review, incident, sheets."""
    what: str
    """For example `daily check`, `filter change`, `expiry`."""
    register: str
    """Where the subject stands: balance, enclosure, lot, container, substance, prep."""
    id: str
    name: str
    day: str
    """When it is or was due, or since when it waits; local, ISO. Empty where it never was done."""
    days: int | None
    """From today; negative when it is past, None where there is no day."""
    person: str = ""
    why: str = ""


def checks(record: Record, *, within_days: int) -> tuple[Due, ...]:
    """Give checks, calibrations, tests, filter and glove changes, training; the most overdue first."""
    found = [
        *_balances(record, within_days),
        *_enclosures(record, within_days),
        *_people(record, within_days),
    ]
    return tuple(sorted(found, key=lambda d: (d.day != "", d.day, d.id)))


def _balances(record: Record, within_days: int) -> Iterator[Due]:
    now = record.due_now()
    for found in registers.rows(record, "balance"):
        row, name = found.row, str(found.row.get("name", ""))
        if row.get("check_mass"):
            yield from _check(
                record, found.id, name, _hours(str(row.get("check_hours", ""))), now, within_days
            )
        yield from dated(
            "balance", found.id, name, "calibration", row.get("calibration_due"), now, within_days
        )


def _hours(text: str) -> float:
    try:
        return float(number(text)) if text else 24.0
    except BadInput:
        return 24.0


def _check(
    record: Record, balance: str, name: str, hours: float, now: datetime, within_days: int
) -> Iterator[Due]:
    """The last check holds for its hours; out of its limit, or before an adjustment, for none."""
    last = record.query(
        """
        SELECT entry, at, within FROM reading WHERE balance = :balance AND what = 'check'
        ORDER BY entry DESC LIMIT 1
        """,
        balance=balance,
    )
    if not last:
        yield Due("due", "check", "balance", balance, name, "", None, why="never checked")
        return
    at = datetime.fromisoformat(last[0]["at"]).astimezone(now.tzinfo)
    due_at = at + timedelta(hours=hours) if last[0]["within"] else at
    why = f"last check {at:%Y-%m-%d %H:%M}" + ("" if last[0]["within"] else ", out of its limit")
    if adjusted := record.query(
        "SELECT at FROM adjustment WHERE balance = :balance AND entry > :entry ORDER BY entry LIMIT 1",
        balance=balance,
        entry=last[0]["entry"],
    ):
        due_at = datetime.fromisoformat(adjusted[0]["at"]).astimezone(now.tzinfo)
        why += ", adjusted since"
    if due_at <= now + timedelta(days=within_days if hours > 24 else 0):
        days = (due_at.date() - now.date()).days
        yield Due("due", "check", "balance", balance, name, due_at.date().isoformat(), days, why=why)


def _enclosures(record: Record, within_days: int) -> Iterator[Due]:
    now = record.due_now()
    for found in registers.rows(record, "enclosure"):
        name = str(found.row.get("name", ""))
        for what, key in (
            ("leak or air flow test", "test_due"),
            ("filter change", "filter_due"),
            ("glove change", "glove_due"),
        ):
            yield from dated("enclosure", found.id, name, what, found.row.get(key), now, within_days)


def _people(record: Record, within_days: int) -> Iterator[Due]:
    now = record.due_now()
    for held in lapsing(record):
        yield from dated("person", held.person, held.name, held.what, held.until, now, within_days)


def dated(
    register: str, id: str, name: str, what: str, day: object, now: datetime, within_days: int
) -> Iterator[Due]:
    """Yield what has a day in the register and is due within the days asked."""
    if not day:
        return
    days = periods.days_from(str(day), now.date())
    if days <= within_days:
        group = "due" if register in ("balance", "enclosure", "person") else "expiring"
        yield Due(group, what, register, id, name, str(day), days)
