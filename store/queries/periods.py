"""Periods as a person types them: a day, a month or a year, each end included."""

from contextvars import ContextVar
from datetime import date, datetime, timedelta, tzinfo

from store.errors import BadDate
from store.units import plain


def since(text: str) -> str:
    """Give the first day of what was typed; empty for no limit.

    Examples
    --------
    >>> since("2026"), since("2026-02"), since("2026-02-14"), since("")
    ('2026-01-01', '2026-02-01', '2026-02-14', '')

    Raises
    ------
    BadDate
        Not a year, a month or a day in ISO form.
    """
    return _bounds(text)[0] if text else ""


def until(text: str) -> str:
    """Give the last day of what was typed; empty for no limit.

    Examples
    --------
    >>> until("2024"), until("2024-02"), until("2024-02-14")
    ('2024-12-31', '2024-02-29', '2024-02-14')

    Raises
    ------
    BadDate
        Not a year, a month or a day in ISO form.
    """
    return _bounds(text)[1] if text else ""


def in_order(since_: str, until_: str) -> None:
    """Refuse a period that ends before it begins: it holds nothing, which reads as if nothing had been done.

    Examples
    --------
    >>> in_order("2026-02", "2026-02"), in_order("2026", "")
    (None, None)

    Raises
    ------
    BadDate
        The last day is before the first, or one of them is no date.
    """
    first, last = since(since_), until(until_)
    if first and last and last < first:
        raise BadDate(f"The period ends on {last}, before it begins on {first}: write the earlier one first.")


def _bounds(text: str) -> tuple[str, str]:
    typed = text.strip()
    form = {4: f"{typed}-01-01", 7: f"{typed}-01", 10: typed}.get(len(typed), "")
    try:
        first = date.fromisoformat(form)
        if first.isoformat() != form:  # week dates and other digits are ISO too, but not what is asked for
            raise ValueError
        if len(typed) == 4:
            last = date(first.year, 12, 31)
        elif len(typed) == 7:
            following = (first.replace(day=28) + timedelta(days=4)).replace(day=1)
            last = following - timedelta(days=1)
        else:
            last = first
    except (ValueError, OverflowError):
        raise BadDate(
            f"{plain(text)} is not a date: write a day as 2026-03-02, a month as 2026-03, or a year as 2026."
        ) from None
    return first.isoformat(), last.isoformat()


def week_of(monday: str) -> str:
    """Give the ISO week that begins on a Monday.

    Examples
    --------
    >>> week_of("2025-12-29"), week_of("2026-03-02")
    ('2026-W01', '2026-W10')
    """
    year, week, _ = date.fromisoformat(monday).isocalendar()
    return f"{year}-W{week:02d}"


def days_of(week: str) -> tuple[str, str]:
    """Give Monday and Sunday of an ISO week, the other way round than `week_of`.

    Examples
    --------
    >>> days_of("2026-W10"), days_of("2026-W01")
    (('2026-03-02', '2026-03-08'), ('2025-12-29', '2026-01-04'))
    """
    monday = date.fromisocalendar(int(week[:4]), int(week[6:]), 1)
    return monday.isoformat(), (monday + timedelta(days=6)).isoformat()


def monday_of(day: date) -> date:
    """Give the Monday of the week of a day.

    Examples
    --------
    >>> monday_of(date(2026, 3, 8)).isoformat()
    '2026-03-02'
    """
    return day - timedelta(days=day.weekday())


def days_from(day: str, today: date) -> int:
    """Give how many days from today to a day; negative when it is past.

    Examples
    --------
    >>> days_from("2026-03-05", date(2026, 3, 2))
    3
    """
    return (date.fromisoformat(day[:10]) - today).days


def local(at: str, zone: tzinfo | None = None) -> datetime:
    """Give a stored time in a zone; without one in that of `show_in`, else of this machine.

    Examples
    --------
    >>> from datetime import UTC
    >>> local("2026-03-02T08:00:00+00:00", UTC).isoformat()
    '2026-03-02T08:00:00+00:00'
    """
    return datetime.fromisoformat(at).astimezone(zone or _SHOWN.get())


def happened(at: datetime, day: str, prep: str) -> str:
    """Give when a handling or an incident was: the day alone where it was written on a later one.

    Outside a prep the time is that of writing; beside an earlier day it would tell when nothing happened.

    Examples
    --------
    >>> monday = datetime(2026, 3, 2, 9, 5)
    >>> happened(monday, "2026-03-02", ""), happened(monday, "2026-02-27", "")
    ('2026-03-02 09:05', '2026-02-27')
    >>> happened(monday, "2026-03-01", "P-7F3A-0001")
    '2026-03-02 09:05'
    """
    return day if not prep and day < f"{at:%Y-%m-%d}" else f"{at:%Y-%m-%d %H:%M}"


_SHOWN: ContextVar[tzinfo | None] = ContextVar("shown in", default=None)


def show_in(zone: tzinfo | None) -> None:
    """Say in which zone a command shows times from here on."""
    _SHOWN.set(zone)
