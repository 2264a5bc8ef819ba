"""The exposure log added up: how often, how much, how long open, the longest opening, what went wrong."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, cast

from store.errors import BadInput
from store.queries import incidents, periods
from store.queries.asked import Asked, Edition, asked
from store.queries.incidents import UNUSUAL, IncidentRow
from store.record.record import Record

By = Literal["all", "day", "week", "month", "year", "person", "substance", "family"]

_KEYS = {
    "all": "'all'",
    "day": "{of}day",
    "week": "date({of}day, '-6 days', 'weekday 1')",
    "month": "substr({of}day, 1, 7)",
    "year": "substr({of}day, 1, 4)",
    "person": "{of}person",
    "substance": "substance",
    "family": "family",
}

_SNAPSHOTS = """
    SELECT s.id FROM hazard_snapshot AS s JOIN json_each(s.families) AS f WHERE f.value = :family
"""

_INCIDENT_KEYS: dict[str, Callable[[IncidentRow], tuple[str, ...]]] = {
    "all": lambda i: ("all",),
    "day": lambda i: (i.day,),
    "week": lambda i: (periods.monday_of(date.fromisoformat(i.day)).isoformat(),),
    "month": lambda i: (i.day[:7],),
    "year": lambda i: (i.day[:4],),
    "person": lambda i: i.present,
    "substance": lambda i: i.substances,
    "family": lambda i: i.families,
}


@dataclass(frozen=True, slots=True)
class Total:
    """What one key adds up to. Times that are estimated, across an interruption, are counted apart."""

    key: str
    handlings: int
    net_mg: float
    """Dosed while it was open; by substance and family only what was of it."""
    open_s: float
    """Measured."""
    estimated: int
    """So many handlings have an estimated time."""
    estimated_s: float
    longest_s: float
    """The longest single opening, measured or estimated."""
    incidents: int
    unusual: int


@dataclass(frozen=True, slots=True)
class Week:
    """The time that a person had something open in one week."""

    week: str
    monday: str
    handlings: int
    minutes: float
    estimated_minutes: float


def totals(
    record: Record,
    by: By = "month",
    *,
    person: str = "",
    substance: str = "",
    lot: str = "",
    family: str = "",
    enclosure: str = "",
    what: str = "",
    since: str = "",
    until: str = "",
    incidents: bool = False,
    as_classified: Edition = "then",
) -> tuple[Total, ...]:
    """Add the exposure log up by one key; the filters are those of `exposures.of`.

    By person, substance or family a handling counts once for each of them: such totals do not add up to the
    number of handlings. What never happened is not in them.

    Raises
    ------
    BadInput
        A key that is none.
    """
    of_key = by_key(by)
    which = asked(
        record,
        person=person,
        substance=substance,
        lot=lot,
        family=family,
        enclosure=enclosure,
        what=what,
        since=since,
        until=until,
        incidents=incidents,
        as_classified=as_classified,
    )
    return of(record, which, of_key)


def by_key(text: str) -> By:
    """Give a key that can be added up by.

    Raises
    ------
    BadInput
        It is none.
    """
    if text not in _KEYS:
        raise BadInput(f"{text!r}: add up by {', '.join(_KEYS)}.")
    return cast(By, text)


def of(record: Record, which: Asked, by: By) -> tuple[Total, ...]:
    """Add up what is asked."""
    found = record.query(
        f"""
        WITH counted AS ({_counted(which, by)})
        SELECT key, count(*) AS handlings, sum(net_mg) AS net_mg,
               sum(CASE WHEN estimated THEN 0 ELSE open_s END) AS open_s,
               sum(estimated) AS estimated, sum(CASE WHEN estimated THEN open_s ELSE 0 END) AS estimated_s,
               max(open_s) AS longest_s
        FROM counted GROUP BY key ORDER BY key
        """,
        **which.params,
    )
    sums = {r["key"]: r for r in found}
    wrong, unusual = _wrong(record, which, by)
    return tuple(
        Total(
            key=periods.week_of(key) if by == "week" else key,
            handlings=sums[key]["handlings"] if key in sums else 0,
            net_mg=sums[key]["net_mg"] if key in sums else 0.0,
            open_s=sums[key]["open_s"] if key in sums else 0.0,
            estimated=sums[key]["estimated"] if key in sums else 0,
            estimated_s=sums[key]["estimated_s"] if key in sums else 0.0,
            longest_s=sums[key]["longest_s"] if key in sums else 0.0,
            incidents=wrong[key],
            unusual=unusual[key],
        )
        for key in sorted({*sums, *wrong, *unusual})
    )


def _counted(which: Asked, by: By) -> str:
    """Give the SQL of one row a key and handling."""
    key = _KEYS[by].format(of="")
    more = _narrowed(which)
    held = (
        " AND substance IN (SELECT value FROM json_each(:substances))" if "substances" in which.params else ""
    )
    if by == "substance" or (held and by != "family"):
        more += held
        if held and which.family:
            more += " AND handling IN (SELECT handling FROM handling_family WHERE family = :family)"
        elif which.family:
            more += f" AND snapshot IN ({_SNAPSHOTS})"
        # Everybody present has a row a substance: the masses of one person's rows are those of the handling.
        return f"""
            SELECT {key} AS key, handling, sum(net_mg) / count(DISTINCT person) AS net_mg, open_s, estimated
            FROM handling_substance WHERE counts{which.on("person", "day")}{more} GROUP BY key, handling
        """
    if by == "family" or which.family:
        more += " AND family = :family" if which.family else ""
        more += f" AND handling IN (SELECT handling FROM handling_substance WHERE TRUE{held})" if held else ""
        once = "" if by == "person" or which.person else " GROUP BY key, handling"
        return f"""
            SELECT {key} AS key, handling, net_mg, open_s, estimated
            FROM handling_family WHERE counts{which.on("person", "day")}{more}{once}
        """
    if by == "person" or which.person:
        more += which.on("hp.person", "hp.day")
        return f"""
            SELECT {_KEYS[by].format(of="hp.")} AS key, handling, net_mg, open_s, estimated
            FROM handling_person AS hp JOIN handling AS h ON h.entry = hp.handling
            WHERE h.state != 'never happened'{more}
        """
    more = which.on("", "day") + more.replace("handling IN", "entry IN")
    return f"""
        SELECT {key} AS key, entry AS handling, net_mg, open_s, estimated
        FROM handling AS h WHERE h.state != 'never happened'{more}
    """


def _narrowed(which: Asked) -> str:
    """Give the condition on a handling that only its own row can answer; empty where none is asked."""
    if not (which.lot or which.enclosure or which.what or which.incidents):
        return ""
    return f" AND handling IN (SELECT h.entry FROM handling AS h WHERE {which.where})"


def _wrong(record: Record, which: Asked, by: By) -> tuple[Counter[str], Counter[str]]:
    """Count incidents, and what was noted as unusual, by the same key."""
    wrong: Counter[str] = Counter()
    unusual: Counter[str] = Counter()
    for found in incidents.of(record, which):
        (unusual if found.what == UNUSUAL else wrong).update(_wanted(which, by, _INCIDENT_KEYS[by](found)))
    return wrong, unusual


def _wanted(which: Asked, by: By, keys: tuple[str, ...]) -> tuple[str, ...]:
    """Leave only the person, substances or family asked for, as the sums do."""
    only = {"person": (which.person,), "family": (which.family,), "substance": which.substances}.get(by, ())
    asked_for = tuple(o for o in only if o)
    return tuple(k for k in keys if k in asked_for) if asked_for else keys


def weekly_minutes(record: Record, *, person: str, until: date, weeks: int = 12) -> tuple[Week, ...]:
    """Give the time that a person had something open, week by week, weeks without any included.

    Parameters
    ----------
    person
        Present at the handlings.
    until
        A day of the last week.
    weeks
        So many weeks, the last one included.
    """
    last = periods.monday_of(until)
    first = last - timedelta(weeks=weeks - 1)
    found = totals(
        record, "week", person=person, since=first.isoformat(), until=(last + timedelta(days=6)).isoformat()
    )
    sums = {t.key: t for t in found}
    mondays = [first + timedelta(weeks=n) for n in range(weeks)]
    return tuple(
        _week(monday.isoformat(), sums.get(periods.week_of(monday.isoformat()))) for monday in mondays
    )


def _week(monday: str, total: Total | None) -> Week:
    return Week(
        week=periods.week_of(monday),
        monday=monday,
        handlings=total.handlings if total else 0,
        minutes=total.open_s / 60 if total else 0.0,
        estimated_minutes=total.estimated_s / 60 if total else 0.0,
    )
