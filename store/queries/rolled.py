"""The SQL over the sums of days and years, for what they can answer; the handlings answer the rest.

A period is whole years, and the days at its two edges. Sums of several substances hold a handling once for
each of them, so what they have in common is taken out again.
"""

from typing import Literal

from store.queries.asked import LISTED, Asked

By = Literal["all", "day", "week", "month", "year", "person", "substance", "family"]

KEYS = {
    "all": "'all'",
    "day": "{of}day",
    "week": "date({of}day, '-6 days', 'weekday 1')",
    "month": "substr({of}day, 1, 7)",
    "year": "substr({of}day, 1, 4)",
    "person": "{of}person",
    "substance": "substance",
    "family": "family",
}
"""What is added up by, as SQL over the day, the person, the substance or the family of a row."""

SNAPSHOTS = """
    SELECT s.id FROM hazard_snapshot AS s JOIN json_each(s.families) AS f WHERE f.value = :family
"""

_SUMS = "handlings, net_mg, open_s, estimated, estimated_s, longest_s"
_ANYBODY = "IN (SELECT DISTINCT person FROM yearly_all WHERE person <> '')"
"""Each person by name, so that an index which begins with the person is walked for each."""


def sql(which: Asked, by: By) -> str:
    """Give the SQL, up to its GROUP BY; empty where the sums cannot answer."""
    if which.narrowed or (which.substances is not None and (which.family or by == "family")):
        return ""
    who = _who(which, by)
    rows = [_of_years(which, by, who), *(_of_days(which, by, *edge, who) for edge in _edges(which, by))]
    if which.substances is not None and len(which.substances) > 1 and by != "substance":
        rows.append(_in_common(which, by))
    return f"""
        SELECT key, sum(handlings) AS handlings, sum(net_mg) AS net_mg, sum(open_s) AS open_s,
               sum(estimated) AS estimated, sum(estimated_s) AS estimated_s, max(longest_s) AS longest_s
        FROM ({" UNION ALL ".join(row for row in rows if row)})
    """


def people(which: Asked, by: By) -> str:
    """Give the SQL of how many people stand behind each substance or family of a period."""
    rows = [
        _of_years(which, by, _ANYBODY),
        *(_of_days(which, by, *edge, _ANYBODY) for edge in _edges(which, by)),
    ]
    every = " UNION ALL ".join(row for row in rows if row)
    return f"SELECT key, count(DISTINCT person) AS n FROM ({every}) GROUP BY key"


def _of(which: Asked, by: By) -> tuple[str, str]:
    """Give of what the sums are, and the condition on it."""
    if which.substances is not None:
        one = "substance" in which.params
        return "substance", " AND substance = :substance" if one else f" AND substance IN ({LISTED})"
    if by == "substance":
        return "substance", f" AND +snapshot IN ({SNAPSHOTS})" if which.family else ""
    if which.family:
        return "family", " AND family = :family"
    return ("family" if by == "family" else "all"), ""


def _who(which: Asked, by: By) -> str:
    return "= :person" if which.person else (_ANYBODY if by == "person" else "= ''")


def _by_day(by: By) -> bool:
    return by in ("day", "week", "month")


def _years(which: Asked) -> tuple[str, str]:
    """Give the first and the last whole year of the period; empty for no limit."""
    first, last = which.since[:4], which.until[:4]
    if which.since and which.since != f"{first}-01-01":
        first = f"{int(first) + 1:04}"
    if which.until and which.until != f"{last}-12-31":
        last = f"{int(last) - 1:04}"
    return first, last


def _edges(which: Asked, by: By) -> tuple[tuple[str, str], ...]:
    """Give the days that no whole year holds, as conditions with a leading AND, first and last."""
    since = " AND day >= :since" if which.since else ""
    until = " AND day <= :until" if which.until else ""
    first, last = _years(which)
    if _by_day(by) or (first and last and first > last):
        return ((since, until),)
    return (
        *([(since, f" AND day < '{first}-01-01'")] if first > which.since[:4] else []),
        *([(f" AND day > '{last}-12-31'", until)] if last < which.until[:4] else []),
    )


def _of_years(which: Asked, by: By, who: str) -> str:
    first, last = _years(which)
    if _by_day(by) or (first and last and first > last):
        return ""
    table, of = _of(which, by)
    period = (f" AND year >= '{first}'" if first else "") + (f" AND year <= '{last}'" if last else "")
    key = "year" if by == "year" else KEYS[by].format(of="")
    return f"SELECT {key} AS key, person, {_SUMS} FROM yearly_{table} WHERE person {who}{of}{period}"


def _of_days(which: Asked, by: By, since: str, until: str, who: str) -> str:
    table, of = _of(which, by)
    # Everybody's days of one substance or family stand together in an index that holds their sums.
    walk = f" INDEXED BY daily_{table}_day" if who == "= ''" and _looked_up(of) else ""
    key = KEYS[by].format(of="")
    return (
        f"SELECT {key} AS key, person, {_SUMS} FROM daily_{table}{walk} WHERE person {who}{of}{since}{until}"
    )


def _looked_up(of: str) -> bool:
    return bool(of) and "+" not in of


def _in_common(which: Asked, by: By) -> str:
    """Give, as negative sums, what sets of several of the substances were counted for too often."""
    period = which.on("", "d.day")
    return f"""
        SELECT {KEYS[by].format(of="d.")} AS key, d.person, -more * d.handlings, 0.0, -more * d.open_s,
               -more * d.estimated, -more * d.estimated_s, 0.0
        FROM (SELECT t.id, count(*) - 1 AS more FROM together AS t JOIN json_each(t.substances) AS s
              WHERE s.value IN ({LISTED}) GROUP BY t.id HAVING count(*) > 1) AS several
        CROSS JOIN daily_together AS d ON d.together = several.id
        WHERE d.person {_who(which, by)}{period}
    """
