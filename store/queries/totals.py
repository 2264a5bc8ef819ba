"""The exposure log added up: how often, how much, how long open, the longest opening, what went wrong."""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from operator import itemgetter
from typing import Any, Unpack, cast

from store.errors import BadInput
from store.queries import incidents, periods, reclassified, rolled
from store.queries.asked import LISTED, Asked, Filters, asked
from store.queries.incidents import UNUSUAL, IncidentRow
from store.queries.rolled import KEYS, SNAPSHOTS, By
from store.record.record import Record
from store.units import net

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


def totals(record: Record, by: By = "month", **filters: Unpack[Filters]) -> tuple[Total, ...]:
    """Add the exposure log up by one key; the filters are those of `exposures.of`.

    By person, substance or family a handling counts once for each of them: such totals do not add up to the
    number of handlings. What never happened is not in them.

    Raises
    ------
    BadInput
        A key that is none.
    """
    of_key = by_key(by)
    return of(record, asked(record, **filters), of_key)


def by_key(text: str) -> By:
    """Give a key that can be added up by.

    Raises
    ------
    BadInput
        It is none.
    """
    if text not in KEYS:
        raise BadInput(f"{text!r}: add up by {', '.join(KEYS)}.")
    return cast(By, text)


def of(record: Record, which: Asked, by: By) -> tuple[Total, ...]:
    """Add up what is asked: from the sums of days and years where they can answer, else from handlings."""
    if by == "family" and which.now:
        # What is in a family by the register of today is not told apart by those of then.
        return tuple(replace(total, key=which.now) for total in of(record, which, "all"))
    added = reclassified.added(record, which) if by != "substance" else None
    rows = rolled.sql(which, by, added) or _of_handlings(which, by)
    also = {"now": which.now, "added": added} if added is not None else {}
    found = record.query(f"{rows} GROUP BY key ORDER BY key", **which.params, **also)
    sums = {r["key"]: r for r in found}
    wrong, unusual = _wrong(record, which, by)
    return tuple(
        _total(periods.week_of(key) if by == "week" else key, sums.get(key), wrong[key], unusual[key])
        for key in sorted({*sums, *wrong, *unusual})
    )


_SUMMED = itemgetter("handlings", "net_mg", "open_s", "estimated", "estimated_s", "longest_s")
_NOTHING = (0, 0, 0, 0, 0, 0)


def _total(key: str, sums: Mapping[str, Any] | None, incidents: int, unusual: int) -> Total:
    handlings, net_mg, open_s, estimated, estimated_s, longest_s = _SUMMED(sums) if sums else _NOTHING
    # Times are kept to a tenth of a second: what a difference of floats adds is no time.
    measured_s, estimated_s = round(open_s - estimated_s, 3), round(float(estimated_s), 3)
    longest_s = round(float(longest_s), 3)
    # In the order of its fields: to name them takes a sixth of making the thousands of rows of ten years.
    return Total(
        key, handlings, net(net_mg), measured_s, estimated, estimated_s, longest_s, incidents, unusual
    )


def _of_handlings(which: Asked, by: By) -> str:
    """Give the SQL over the handlings, one row a key and handling first."""
    return f"""
        WITH counted AS ({_counted(which, by)})
        SELECT key, count(*) AS handlings, sum(net_mg) AS net_mg, sum(open_s) AS open_s,
               sum(estimated) AS estimated, sum(CASE WHEN estimated THEN open_s ELSE 0 END) AS estimated_s,
               max(open_s) AS longest_s
        FROM counted
    """


_AT_ONCE = "max(d.open_s) AS open_s, max(d.estimated) AS estimated"


def _counted(which: Asked, by: By) -> str:
    """Give the SQL of every handling once a key, each looked up by its entry, person and day."""
    each = by == "person"
    # The entries are those of the person asked for: only a sum by person needs everybody who was there.
    person = "p.person" if each else (":person" if which.person else "h.person")
    there = f"FROM ({which.entries}) AS c CROSS JOIN handling AS h ON h.entry = c.entry"
    if each:
        there += " CROSS JOIN handling_person AS p ON p.handling = c.entry"
        there += " AND p.person = :person" if which.person else ""
    key, more = KEYS[by].format(of="p." if each else "h."), ""
    held = ""
    if which.substances is not None:
        # Each of a long list is not looked for among the rows of a day, which are few.
        one = "d.substance = :substance" if "substance" in which.params else f"+d.substance IN ({LISTED})"
        held = f" AND {one}"
    if by == "family" or (which.family and by != "substance" and not held):
        more += " AND d.family = :family" if which.family else ""
        table, net = "handling_family", "max(d.net_mg)"
    elif by == "substance" or held:
        more += held or (f" AND d.snapshot IN ({SNAPSHOTS})" if which.family else "")
        table, net = "handling_substance", "sum(d.net_mg)"
    else:
        return f"""
            SELECT {key} AS key, h.entry, h.net_mg, h.open_s, h.estimated
            {there} LEFT JOIN prep AS q ON q.prep = h.prep
            WHERE h.state <> 'never happened' AND NOT coalesce(q.rehearsal, 0){more}
        """
    if which.person and which.of_one_table(by):
        # The rows of a person are walked as they stand; a handling may have several.
        one_each = table == f"handling_{by}" or not {"substance", "family"}.isdisjoint(which.params)
        sums = "d.net_mg, d.open_s, d.estimated" if one_each else f"{net} AS net_mg, {_AT_ONCE}"
        return f"""
            SELECT {KEYS[by].format(of="d.")} AS key, {sums}
            FROM {table} AS d CROSS JOIN handling AS h ON h.entry = d.handling
            WHERE d.person = :person{which.on("", "d.day")} AND d.counts{more}{which.task}
            {"" if one_each else "GROUP BY key, d.handling"}
        """
    return f"""
        SELECT {key} AS key, c.entry, {net} AS net_mg, {_AT_ONCE}
        {there} CROSS JOIN {table} AS d ON d.person = {person} AND d.day = h.day AND d.handling = c.entry
        WHERE d.counts{more} GROUP BY key, c.entry
    """


def _wrong(record: Record, which: Asked, by: By) -> tuple[Counter[str], Counter[str]]:
    """Count incidents, and what was noted as unusual, by the same key."""
    wrong: Counter[str] = Counter()
    unusual: Counter[str] = Counter()
    for found in incidents.of(record, which, families=by == "family"):
        (unusual if found.what == UNUSUAL else wrong).update(_wanted(which, by, _INCIDENT_KEYS[by](found)))
    return wrong, unusual


def _wanted(which: Asked, by: By, keys: tuple[str, ...]) -> tuple[str, ...]:
    """Leave only the person, substances or family asked for, as the sums do."""
    only = {"person": (which.person,), "family": (which.family,), "substance": which.substances or ()}.get(
        by, ()
    )
    asked_for = tuple(o for o in only if o)
    return tuple(k for k in keys if k in asked_for) if asked_for else keys
