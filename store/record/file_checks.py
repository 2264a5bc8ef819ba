"""Whether the file around the journal is as this edition makes it: pages, version, tables and triggers."""

import sqlite3
from dataclasses import dataclass
from pathlib import Path

from store.errors import RecordDamaged, RecordTooNew
from store.record import derived, schema, upgrade

SHOWN = 20
"""So many faults are named; one is enough to know."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong: the entry it concerns (0 if none can be named), where, and what."""

    entry: int
    where: str
    what: str

    def __str__(self) -> str:
        at = f"entry {self.entry}, " if self.entry else ""
        return f"{at}{self.where}: {self.what}"


def pages(connection: sqlite3.Connection) -> list[Fault]:
    """Let SQLite look at its own pages, and at every index against its table: an index can answer alone."""
    try:
        rows = [
            row[0].decode(errors="replace") for row in connection.execute(f"PRAGMA integrity_check({SHOWN})")
        ]
    except sqlite3.Error as error:
        rows = [str(error)]
    return [Fault(0, "file", row) for row in rows if row != "ok"]


def version_of(path: Path, connection: sqlite3.Connection) -> int:
    """Give the version of the file, as `PRAGMA user_version` has it."""
    found = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if found > upgrade.VERSION:
        raise RecordTooNew(f"{path.name} was written by a newer Tarebook: verify it with that one.")
    if found < 1000:
        raise RecordDamaged(f"{path.name} has no version of a record.")
    return found


def objects(connection: sqlite3.Connection, version: int) -> list[Fault]:
    """Compare every table, index, view and trigger with what this edition makes, word for word."""
    if connection.execute("PRAGMA application_id").fetchone()[0] != schema.APPLICATION_ID:
        return [Fault(0, "file", "it is not marked as a record")]
    rows = connection.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL")
    found = {name.decode(errors="replace"): sql.decode(errors="replace") for name, sql in rows}
    expected = dict(schema.KEPT)
    if version == upgrade.VERSION:
        expected |= derived.objects()
    elif version // 1000 < schema.VERSION:
        return []
    else:
        found = {name: sql for name, sql in found.items() if name in expected}
    return [
        Fault(0, "schema", f"{name} is {_odd(name in found, name in expected)}")
        for name in sorted({*found, *expected})
        if found.get(name) != expected.get(name)
    ]


def _odd(found: bool, expected: bool) -> str:
    if found and expected:
        return "changed"
    return "not of Tarebook" if found else "missing"
