"""The exposure log by substance and hazard family; its sums by day and year, of each and of everybody."""

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from store.procedure.done import NEVER
from store.record.journal import canonical
from store.record.task_sums import SUMS, TaskSums, added_up, marks

_EACH = """1, h.net_mg, h.open_s, h.estimated, CASE WHEN h.estimated THEN h.open_s ELSE 0.0 END,
    h.open_s"""
"""handlings, net_mg, open_s, estimated, estimated_s, longest_s of one handling.

They are added up here, never by SQL: how it adds floats differs from one version of SQLite to another, and a
record that was folded with one is verified with the next.
"""

_OF = {"substance": "substance, snapshot", "family": "family"}
"""What the sums are of, beside person and day."""

_WITHIN: Mapping[str, tuple[str, ...]] = {"substance": ("snapshot",), "family": ()}
"""What they are of beside the substance or family itself."""

_TASK = "h.enclosure, h.what, h.step_name"
"""As in the tables by task."""

_COUNTS = f"h.state <> '{NEVER}' AND NOT coalesce((SELECT rehearsal FROM prep WHERE prep = h.prep), 0)"

Tail = tuple[float, bool, bool]
"""Time open in seconds, whether it is estimated, and whether the handling counts."""


class Shares(NamedTuple):
    """What one handling adds to the sums of its day: mass in mg by substance and family."""

    substances: Mapping[str, float]
    families: Mapping[str, float]
    snapshots: Mapping[str, int]
    tail: Tail


@dataclass(slots=True)
class _Touched:
    """What must be added up anew of a day or a year."""

    substances: set[str] = field(default_factory=set)
    families: set[str] = field(default_factory=set)
    together: set[int] = field(default_factory=set)

    def add(self, substances: Iterable[str], families: Iterable[str], together: Iterable[int] = ()) -> None:
        self.substances.update(substances)
        self.families.update(families)
        self.together.update(together)

    def by(self) -> tuple[tuple[str, list[str]], ...]:
        return ("substance", sorted(self.substances)), ("family", sorted(self.families))


_Days = dict[tuple[str, str], _Touched]
"""By person, or nobody for everybody, and day or year."""


class DaySums:
    """What handlings add to their days; kept until `settle` writes it, each day added up once then."""

    def __init__(self, conn: sqlite3.Connection) -> None:
        self._conn = conn
        self._tasks = TaskSums(conn)
        self._shares: dict[int, Shares] = {}

    def together(self, handling: int, substances: Iterable[str]) -> int:
        """Give the number of a set of several substances, the first handling that held it; 0 for fewer."""
        held = sorted(set(substances))
        if len(held) < 2:
            return 0
        text = canonical(held)
        found = self._conn.execute("SELECT id FROM together WHERE substances = ?", (text,)).fetchone()
        if found is None:
            self._conn.execute("INSERT INTO together VALUES (?, ?)", (handling, text))
        return found[0] if found is not None else handling

    def put(self, handling: int, shares: Shares) -> None:
        """Take what a handling adds from now on, in the place of what it added before."""
        self._shares[handling] = shares

    def forget(self) -> None:
        """Drop what is not written."""
        self._shares.clear()
        self._tasks.forget()

    def settle(self) -> None:
        """Write the rows of every handling, and add up anew each day and year that one of them touches."""
        by_substance, by_family = [], []
        days: _Days = {}
        for handling, (substances, families, snapshots, tail) in self._shares.items():
            present = self._conn.execute(
                "SELECT hp.person, hp.day, h.together FROM handling_person AS hp "
                "CROSS JOIN handling AS h ON h.entry = hp.handling WHERE hp.handling = ?",
                (handling,),
            ).fetchall()
            for person, day, _ in present:
                by_substance += [
                    (person, day, s, handling, mg, *tail, snapshots[s]) for s, mg in substances.items()
                ]
                by_family += [(person, day, f, handling, mg, *tail) for f, mg in families.items()]
            _, of_day, together = present[0]
            for someone in ("", *(person for person, _, _ in present)):
                touched = days.setdefault((someone, of_day), _Touched())
                touched.add(substances, families, (together,) if together else ())
        self._conn.executemany(
            "INSERT OR REPLACE INTO handling_substance VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            sorted(by_substance),
        )
        self._conn.executemany(
            "INSERT OR REPLACE INTO handling_family VALUES (?, ?, ?, ?, ?, ?, ?, ?)", sorted(by_family)
        )
        for (person, day), touched in sorted(days.items(), key=_place):
            if person:
                self._person(person, day)
                self._together_of(person, day, touched.together)
            else:
                self._everybody(day, touched)
        years: _Days = {}
        for (person, day), touched in days.items():
            year = years.setdefault((person, day[:4]), _Touched())
            year.add(touched.substances, touched.families)
        for (person, of), touched in sorted(years.items(), key=_place):
            self._year(person, of, touched)
        self._tasks.settle_years()
        self._shares.clear()

    def _person(self, person: str, day: str) -> None:
        """Add up the day of one person."""
        for by, of in _OF.items():
            rows = self._conn.execute(
                f"SELECT {of}, {_EACH} FROM handling_{by} AS h "
                "WHERE h.person = ? AND h.day = ? AND h.counts ORDER BY h.handling",
                (person, day),
            )
            sums = added_up(rows, key=1 + len(_WITHIN[by]))
            self._conn.execute(f"DELETE FROM daily_{by} WHERE person = ? AND day = ?", (person, day))
            self._conn.executemany(
                f"INSERT INTO daily_{by} VALUES ({marks(3 + len(_WITHIN[by]))})",
                [(person, day, *key, *sums[key]) for key in sorted(sums)],
            )
        rows = self._conn.execute(
            f"SELECT {_TASK}, {_EACH} FROM handling_person AS hp CROSS JOIN handling AS h "
            f"ON h.entry = hp.handling WHERE hp.person = ? AND hp.day = ? AND {_COUNTS} ORDER BY h.entry",
            (person, day),
        )
        self._all(person, day, rows)

    def _all(self, person: str, day: str, rows: Iterable[tuple[Any, ...]]) -> None:
        """Write the day of a person, or of everybody, and its tasks: each handling with its task."""
        tasks = added_up(rows, key=3)
        self._tasks.day_of_person(person, day, tasks)
        self._conn.execute("DELETE FROM daily_all WHERE person = ? AND day = ?", (person, day))
        for of in added_up((tuple(tasks[task]) for task in sorted(tasks)), key=0).values():
            self._conn.execute(f"INSERT INTO daily_all VALUES ({marks(2)})", (person, day, *of))

    def _together_of(self, person: str, day: str, touched: set[int]) -> None:
        """Add up, of one person's day, what several substances had in common."""
        if touched:
            rows = self._conn.execute(
                f"SELECT h.together, h.open_s, h.estimated "
                f"FROM handling_person AS hp CROSS JOIN handling AS h ON h.entry = hp.handling "
                f"WHERE hp.person = ? AND hp.day = ? "
                f"AND h.together IN (SELECT value FROM json_each(?)) AND {_COUNTS} ORDER BY h.entry",
                (person, day, json.dumps(sorted(touched))),
            )
            self._put_together(person, day, touched, rows)

    def _put_together(self, person: str, day: str, touched: set[int], rows: Iterable[Any]) -> None:
        """Write, of one day, what several substances had in common: rows of set, time open, estimated."""
        self._conn.executemany(
            "DELETE FROM daily_together WHERE together = ? AND person = ? AND day = ?",
            [(together, person, day) for together in sorted(touched)],
        )
        sums = added_up(
            ((of, 1, open_s, estimated, open_s if estimated else 0.0, 0.0) for of, open_s, estimated in rows),
            key=1,
        )
        self._conn.executemany(
            "INSERT INTO daily_together VALUES (?, ?, ?, ?, ?, ?, ?)",
            [(of, person, day, *added[:-1]) for (of,), added in sums.items()],
        )

    def _everybody(self, day: str, touched: _Touched) -> None:
        """Add up the day of everybody, each handling once; by substance and family only what was touched."""
        first, last = self._conn.execute(
            "SELECT first, last FROM handling_day WHERE day = ?", (day,)
        ).fetchone()
        for by, keys in touched.by():
            for key in keys:
                self._everybody_of(by, key, day, first, last)
        tasks = self._conn.execute(
            f"SELECT {_TASK}, {_EACH} FROM handling AS h WHERE h.entry BETWEEN ? AND ? AND h.day = ? "
            f"AND {_COUNTS} ORDER BY h.entry",
            (first, last, day),
        )
        self._all("", day, tasks)
        if touched.together:
            rows = self._conn.execute(
                f"SELECT h.together, h.open_s, h.estimated FROM handling AS h "
                f"WHERE h.entry BETWEEN ? AND ? AND h.day = ? "
                f"AND h.together IN (SELECT value FROM json_each(?)) AND {_COUNTS} ORDER BY h.entry",
                (first, last, day, json.dumps(sorted(touched.together))),
            )
            self._put_together("", day, touched.together, rows)

    def _everybody_of(self, by: str, one: str, day: str, first: int, last: int) -> None:
        """Add up, of everybody's day, what was handled of one substance or family; each handling once."""
        within = _WITHIN[by]
        rows = self._conn.execute(
            f"""
            SELECT {"".join(f"d.{c}, " for c in within)}{_TASK}, {_EACH.replace("h.", "d.")}
            FROM (
                SELECT handling, {"".join(f"{c}, " for c in within)}max(net_mg) AS net_mg,
                       max(open_s) AS open_s, max(estimated) AS estimated
                FROM handling_{by}
                WHERE {by} = ? AND handling BETWEEN ? AND ? AND day = ? AND counts
                GROUP BY handling
            ) AS d CROSS JOIN handling AS h ON h.entry = d.handling ORDER BY d.handling
            """,
            (one, first, last, day),
        ).fetchall()
        key = len(within)
        self._tasks.day_of(by, one, day, added_up(rows, key=key + 3))
        self._conn.execute(f"DELETE FROM daily_{by} WHERE person = '' AND day = ? AND {by} = ?", (day, one))
        sums = added_up(((*row[:key], *row[key + 3 :]) for row in rows), key=key)
        self._conn.executemany(
            f"INSERT INTO daily_{by} VALUES ({marks(3 + key)})",
            [("", day, one, *of, *added) for of, added in sums.items()],
        )

    def _year(self, person: str, year: str, touched: _Touched) -> None:
        """Add up the year of a person, or of everybody: only what was touched, in the order of its days."""
        span = (f"{year}-01-01", f"{year}-12-31")
        for by, keys in touched.by():
            self._conn.executemany(
                f"DELETE FROM yearly_{by} WHERE person = ? AND {by} = ? AND year = ?",
                [(person, key, year) for key in keys],
            )
            # Everybody has an index by key and day; of one person, the days of a year are few enough.
            walk = "" if person else f"INDEXED BY daily_{by}_day"
            whose = "person = :person" if person else "person = ''"
            rows = self._conn.execute(
                f"SELECT {_OF[by]}, {SUMS} "
                f"FROM daily_{by} {walk} WHERE {whose} AND day BETWEEN :first AND :last "
                f"AND {by} IN (SELECT value FROM json_each(:keys)) ORDER BY {by}, day",
                {"person": person, "first": span[0], "last": span[1], "keys": json.dumps(keys)},
            )
            sums = added_up(rows, key=1 + len(_WITHIN[by]))
            self._conn.executemany(
                f"INSERT INTO yearly_{by} VALUES ({marks(3 + len(_WITHIN[by]))})",
                [(person, key[0], year, *key[1:], *of) for key, of in sums.items()],
            )
        self._conn.execute("DELETE FROM yearly_all WHERE person = ? AND year = ?", (person, year))
        days = self._conn.execute(
            f"SELECT {SUMS} FROM daily_all WHERE person = ? AND day BETWEEN ? AND ? ORDER BY day",
            (person, *span),
        )
        for of in added_up(days, key=0).values():
            self._conn.execute(f"INSERT INTO yearly_all VALUES ({marks(2)})", (person, year, *of))


def _place(item: tuple[tuple[str, str], _Touched]) -> tuple[str, str]:
    return item[0]
