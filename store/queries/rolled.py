"""The SQL over the sums of days and years, for what they can answer; the handlings answer the rest.

A period is whole years, and the days at its two edges. Sums of several substances hold a handling once for
each of them, so what they have in common is taken out again.
"""

from collections.abc import Iterator
from typing import Literal, NamedTuple

from store.queries.asked import LISTED, Asked
from store.record.task_sums import SUMS

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

_ADDED = "(substance, snapshot) IN (SELECT value ->> 0, value ->> 1 FROM json_each(:added))"
_TASKS = "person, enclosure, what, step_name"
_ANYBODY = "IN (SELECT DISTINCT person FROM yearly_all WHERE person <> '')"
"""Each person by name, so that an index which begins with the person is walked for each."""


def sql(which: Asked, by: By, added: str | None = None) -> str:
    """Give the SQL, up to its GROUP BY; empty where the sums cannot answer.

    `added` are the substances, each with a snapshot, that make the family as classified then the one of now,
    as JSON, for the parameter of this name; None where nothing does.
    """
    sources = _sources(which, by, added)
    who = _who(which, by)
    rows = [row for source in sources for row in _rows(which, by, source, who)]
    if which.substances is not None and len(which.substances) > 1 and by != "substance" and added is None:
        rows.append(_in_common(which, by))
    if not sources:
        return ""
    return f"""
        SELECT key, sum(handlings) AS handlings, sum(net_mg) AS net_mg, sum(open_s) AS open_s,
               sum(estimated) AS estimated, sum(estimated_s) AS estimated_s, max(longest_s) AS longest_s
        FROM ({" UNION ALL ".join(rows)})
    """


def people(which: Asked, by: By) -> str:
    """Give the SQL of how many people stand behind each substance or family of a period."""
    rows = [row for source in _sources(which, by, None) for row in _rows(which, by, source, _ANYBODY)]
    return f"SELECT key, count(DISTINCT person) AS n FROM ({' UNION ALL '.join(rows)}) GROUP BY key"


class _Source(NamedTuple):
    """Sums of days and years that answer, and what of them; conditions have a leading AND."""

    table: str
    where: str = ""

    @property
    def of_task(self) -> str:
        """What was handled at each task, of everybody alone; empty for sums of persons."""
        return self.table.removeprefix("task_") if self.table.startswith("task_") else ""


def _sources(which: Asked, by: By, added: str | None) -> tuple[_Source, ...]:
    """Give the sums that answer; none where only the handlings can."""
    if which.lot or which.incidents or (which.substances is not None and which.family):
        return ()
    if added is not None:
        sources = [_Source("family", " AND family = :now")]
        if added != "[]":
            sources.append(_Source("substance", f" AND {_ADDED}"))
    elif which.substances is not None:
        one = "substance" in which.params
        sources = [
            _Source("substance", " AND substance = :substance" if one else f" AND substance IN ({LISTED})")
        ]
    elif by == "substance":
        sources = [_Source("substance", f" AND +snapshot IN ({SNAPSHOTS})" if which.family else "")]
    elif which.family or by == "family":
        sources = [_Source("family", " AND family = :family" if which.family else "")]
    else:
        sources = [_Source("all")]
    if by == "family" and sources[0].table != "family":
        return ()
    return tuple(sources) if not which.task else _at_task(which, by, tuple(sources), added)


def _at_task(which: Asked, by: By, sources: tuple[_Source, ...], added: str | None) -> tuple[_Source, ...]:
    """Give the sums by task in the place of those of all tasks; none where there are none."""
    of_persons = bool(which.person) or by == "person"
    several = which.substances is not None and len(which.substances) > 1 and added is None
    if sources[0].table == "all":
        return (_Source("task", which.task),)
    if of_persons or (several and by != "substance"):
        return ()
    return tuple(_Source(f"task_{table}", f"{where}{which.task}") for table, where in sources)


def _rows(which: Asked, by: By, source: _Source, who: str) -> Iterator[str]:
    """Give the SQL of the years, and of the days that no whole year holds."""
    first, last = _years(which)
    person = "person" if not source.of_task else "'' AS person"
    whose = f"person {who}" if not source.of_task else "TRUE"
    if not _by_day(by) and not (first and last and first > last):
        period = (f" AND year >= '{first}'" if first else "") + (f" AND year <= '{last}'" if last else "")
        key = "year" if by == "year" else KEYS[by].format(of="")
        yield (
            f"SELECT {key} AS key, {person}, {SUMS} FROM yearly_{source.table} "
            f"WHERE {whose}{source.where}{period}"
        )
    for since, until in _edges(which, by):
        # Everybody's days of one substance or family stand together in an index that holds their sums.
        walk, where = "", source.where
        if source.table == "task":
            where = f" AND ({_TASKS}) IN (SELECT {_TASKS} FROM yearly_task WHERE {whose}{source.where})"
        elif source.of_task and not _looked_up(source):
            of = source.of_task
            where += f" AND {of} IN (SELECT DISTINCT {of} FROM yearly_{of} WHERE person = '')"
        elif who == "= ''" and _looked_up(source):
            walk = f" INDEXED BY daily_{source.table}_day" if not source.of_task else ""
        key = KEYS[by].format(of="")
        yield (
            f"SELECT {key} AS key, {person}, {SUMS} FROM daily_{source.table}{walk} "
            f"WHERE {whose}{where}{since}{until}"
        )


def _looked_up(source: _Source) -> bool:
    """Say whether an index finds the substances or the family that it is of."""
    return any(f" AND {how}" in source.where for how in ("substance ", "family ", "(substance"))


def _who(which: Asked, by: By) -> str:
    return "= :person" if which.person else (_ANYBODY if by == "person" else "= ''")


def _by_day(by: By) -> bool:
    return by in ("day", "week", "month")


def _years(which: Asked) -> tuple[str, str]:
    """Give the first and the last whole year of the period; empty for no limit."""
    first, last = which.since[:4], which.until[:4]
    if which.since and which.since != f"{first}-01-01":
        # Years are compared as text: a colon stands after all of them, which 10000 would not.
        first = f"{int(first) + 1:04}" if first < "9999" else ":"
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
