"""The sums of the exposure log by task: an enclosure, what was opened or done there, the step of a prep."""

import sqlite3
from collections.abc import Iterable, Mapping
from typing import Any

SUMS = "handlings, net_mg, open_s, estimated, estimated_s, longest_s"
"""What every table of sums holds, in this order."""

Key = tuple[Any, ...]
Cells = Mapping[Key, list[float]]
"""Sums by key."""

_TASK = ("enclosure", "what", "step_name")
_OF = {"": _TASK, "substance": ("snapshot", *_TASK), "family": _TASK}


def added_up(rows: Iterable[tuple[Any, ...]], *, key: int) -> dict[Key, list[float]]:
    """Add up rows that begin with a key, in their order: a sum of floats must not depend on an index."""
    sums: dict[Key, list[float]] = {}
    for row in rows:
        of, (*added, longest) = row[:key], row[key:]
        if (so_far := sums.get(of)) is None:
            sums[of] = [*added, longest]
            continue
        for n, value in enumerate(added):
            so_far[n] += value
        so_far[-1] = max(so_far[-1], longest)
    return sums


class TaskSums:
    """Writes the tasks of days, and adds up anew the years of those that changed."""

    def __init__(self, conn: sqlite3.Connection) -> None:
        self._conn = conn
        self._changed: dict[tuple[str, str, str], set[Key]] = {}
        """By substance or family or neither, which one or which person, and year: keys within it."""

    def day_of_person(self, person: str, day: str, tasks: Cells) -> None:
        """Write the tasks of one day of a person, or of everybody."""
        there = self._conn.execute(
            f"SELECT {', '.join(f'd.{c}' for c in (*_TASK, *SUMS.split(', ')))} "
            "FROM yearly_task AS y CROSS JOIN daily_task AS d ON d.person = y.person "
            "AND d.enclosure = y.enclosure AND d.what = y.what AND d.step_name = y.step_name "
            "WHERE y.person = ? AND y.year = ? AND d.day = ?",
            (person, day[:4], day),
        )
        changed = self._differ("", person, day, there, tasks)
        self._conn.executemany(
            "DELETE FROM daily_task WHERE person = ? AND enclosure = ? AND what = ? AND step_name = ? "
            "AND day = ?",
            [(person, *task, day) for task in changed],
        )
        self._conn.executemany(
            f"INSERT INTO daily_task VALUES ({marks(5)})",
            [(person, *task, day, *tasks[task]) for task in changed if task in tasks],
        )

    def day_of(self, by: str, one: str, day: str, tasks: Cells) -> None:
        """Write the tasks of one day at which everybody handled a substance, or one of a family."""
        of = _OF[by]
        there = self._conn.execute(
            f"SELECT {', '.join(of)}, {SUMS} FROM daily_task_{by} WHERE {by} = ? AND day = ?", (one, day)
        )
        changed = self._differ(by, one, day, there, tasks)
        self._conn.executemany(
            f"DELETE FROM daily_task_{by} WHERE {by} = ? AND day = ? AND {_each(of)}",
            [(one, day, *key) for key in changed],
        )
        self._conn.executemany(
            f"INSERT INTO daily_task_{by} VALUES ({marks(2 + len(of))})",
            [(one, day, *key, *tasks[key]) for key in changed if key in tasks],
        )

    def _differ(self, by: str, one: str, day: str, rows: Iterable[Key], tasks: Cells) -> list[Key]:
        """Give the keys whose sums are not those that stand there, in order, and note them for the year."""
        of = len(_OF[by])
        there = {row[:of]: list(row[of:]) for row in rows}
        changed = sorted(key for key in there.keys() | tasks.keys() if there.get(key) != tasks.get(key))
        if changed:
            self._changed.setdefault((by, one, day[:4]), set()).update(changed)
        return changed

    def settle_years(self) -> None:
        """Add up, in the order of their days, the years of every task that changed."""
        for (by, one, year), keys in sorted(self._changed.items()):
            table, whose = (f"task_{by}", by) if by else ("task", "person")
            of = _OF[by]
            cells = [(one, year, *key) for key in sorted(keys)]
            self._conn.executemany(
                f"DELETE FROM yearly_{table} WHERE {whose} = ? AND year = ? AND {_each(of)}", cells
            )
            days = (
                f"SELECT {SUMS} FROM daily_{table} WHERE {whose} = ?1 "
                f"AND day BETWEEN ?2 || '-01-01' AND ?2 || '-12-31' "
                f"AND {' AND '.join(f'{c} = ?{n}' for n, c in enumerate(of, 3))} ORDER BY day"
            )
            self._conn.executemany(
                f"INSERT INTO yearly_{table} VALUES ({marks(2 + len(of))})",
                [
                    (*cell, *added)
                    for cell in cells
                    for added in added_up(self._conn.execute(days, cell), key=0).values()
                ],
            )
        self.forget()

    def forget(self) -> None:
        """Drop what is noted."""
        self._changed.clear()


def marks(keys: int) -> str:
    """Give the marks for a row of sums that begins with so many keys."""
    return ", ".join("?" * (keys + len(SUMS.split(", "))))


def _each(of: Iterable[str]) -> str:
    return " AND ".join(f"{column} = ?" for column in of)
