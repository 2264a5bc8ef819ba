"""The exposure log by substance and hazard family, and its sums by day: of each person, of everybody."""

import sqlite3
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from store.procedure.state import NEVER

_SUMS = """count(*), sum(net_mg), sum(open_s), sum(estimated),
    sum(CASE WHEN estimated THEN open_s ELSE 0.0 END), max(open_s)"""
"""handlings, net_mg, open_s, estimated, estimated_s, longest_s."""

Tail = tuple[float, bool, bool]
"""Time open in seconds, whether it is estimated, and whether the handling counts."""


class Shares(NamedTuple):
    """What one handling adds to the sums of its day: mass in mg by substance and family."""

    substances: Mapping[str, float]
    families: Mapping[str, float]
    snapshots: Mapping[str, int]
    tail: Tail


class DaySums:
    """What handlings add to their days; kept until `settle` writes it, each day added up once then."""

    def __init__(self, conn: sqlite3.Connection) -> None:
        self._conn = conn
        self._shares: dict[int, Shares] = {}

    def put(self, handling: int, shares: Shares) -> None:
        """Take what a handling adds from now on, in the place of what it added before."""
        self._shares[handling] = shares

    def forget(self) -> None:
        """Drop what is not written."""
        self._shares.clear()

    def settle(self) -> None:
        """Write the rows of every handling, and add up anew each day that one of them touches."""
        by_substance, by_family = [], []
        persons: set[tuple[str, str]] = set()
        touched: dict[str, tuple[set[str], set[str]]] = {}
        for handling, (substances, families, snapshots, tail) in self._shares.items():
            present = self._conn.execute(
                "SELECT person, day FROM handling_person WHERE handling = ?", (handling,)
            ).fetchall()
            for person, day in present:
                persons.add((person, day))
                by_substance += [
                    (person, day, s, handling, mg, *tail, snapshots[s]) for s, mg in substances.items()
                ]
                by_family += [(person, day, f, handling, mg, *tail) for f, mg in families.items()]
            of_day = touched.setdefault(present[0][1], (set(), set()))
            of_day[0].update(substances)
            of_day[1].update(families)
        self._conn.executemany(
            "INSERT OR REPLACE INTO handling_substance VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            sorted(by_substance),
        )
        self._conn.executemany(
            "INSERT OR REPLACE INTO handling_family VALUES (?, ?, ?, ?, ?, ?, ?, ?)", sorted(by_family)
        )
        for person, day in sorted(persons):
            self._person(person, day)
        for day, keys in sorted(touched.items()):
            self._everybody(day, *keys)
        self._shares.clear()

    def _person(self, person: str, day: str) -> None:
        """Add up the day of one person."""
        for by in ("substance", "family"):
            self._conn.execute(f"DELETE FROM daily_{by} WHERE person = ? AND day = ?", (person, day))
            self._conn.execute(
                f"""
                INSERT INTO daily_{by}
                SELECT person, day, {by}, {_SUMS}
                FROM handling_{by} WHERE person = ? AND day = ? AND counts
                GROUP BY {by}
                """,
                (person, day),
            )
        self._conn.execute("DELETE FROM daily_all WHERE person = ? AND day = ?", (person, day))
        self._conn.execute(
            f"""
            INSERT INTO daily_all
            SELECT hp.person, hp.day, {_SUMS}
            FROM handling_person AS hp
            JOIN handling AS h ON h.entry = hp.handling
            WHERE hp.person = ? AND hp.day = ? AND h.state <> ?
                AND NOT coalesce((SELECT rehearsal FROM prep WHERE prep = h.prep), 0)
            GROUP BY hp.person
            """,
            (person, day, NEVER),
        )

    def _everybody(self, day: str, substances: Iterable[str], families: Iterable[str]) -> None:
        """Add up the day of everybody, each handling once; by substance and family only what was touched."""
        first, last = self._conn.execute(
            "SELECT first, last FROM handling_day WHERE day = ?", (day,)
        ).fetchone()
        for by, keys in (("substance", substances), ("family", families)):
            for key in sorted(keys):
                self._conn.execute(
                    f"DELETE FROM daily_{by} WHERE person = '' AND day = ? AND {by} = ?", (day, key)
                )
                self._conn.execute(
                    f"""
                    INSERT INTO daily_{by}
                    SELECT '', day, {by}, {_SUMS}
                    FROM (
                        SELECT day, {by}, max(net_mg) AS net_mg, max(open_s) AS open_s,
                               max(estimated) AS estimated
                        FROM handling_{by}
                        WHERE {by} = ? AND handling BETWEEN ? AND ? AND day = ? AND counts
                        GROUP BY handling
                    )
                    GROUP BY {by}
                    """,
                    (key, first, last, day),
                )
        self._conn.execute("DELETE FROM daily_all WHERE person = '' AND day = ?", (day,))
        self._conn.execute(
            f"""
            INSERT INTO daily_all
            SELECT '', h.day, {_SUMS}
            FROM handling AS h
            WHERE h.entry BETWEEN ? AND ? AND h.day = ? AND h.state <> ?
                AND NOT coalesce((SELECT rehearsal FROM prep WHERE prep = h.prep), 0)
            GROUP BY h.day
            """,
            (first, last, day, NEVER),
        )
