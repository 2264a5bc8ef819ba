"""Whether the file around the journal is as this edition makes it: pages, version, tables and triggers."""

import re
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
    found, faults = {}, []
    rows = connection.execute(f"SELECT name, sql, type, tbl_name, {_ALL_TEXT} FROM sqlite_schema")
    for *of, is_text in rows.fetchall():
        name, sql, kind, table = ("" if value is None else value.decode(errors="replace") for value in of)
        if not is_text or (sql and (kind, table) != _place(name, sql)):
            faults.append(Fault(0, "schema", f"{name} is not listed as SQLite lists it"))
        if sql:
            found[name] = sql
    expected = dict(schema.KEPT)
    if version == upgrade.VERSION:
        expected |= derived.objects()
    elif version // 1000 < schema.VERSION:
        return faults
    else:
        found = {name: sql for name, sql in found.items() if name in expected}
    return faults + [
        Fault(0, "schema", f"{name} is {_odd(name in found, name in expected)}")
        for name in sorted({*found, *expected})
        if found.get(name) != expected.get(name)
    ]


_ALL_TEXT = (
    "typeof(name) || typeof(type) || typeof(tbl_name) || typeof(coalesce(sql, '')) = 'texttexttexttext'"
)


def _place(name: str, sql: str) -> tuple[str, str]:
    """Give the kind of an object and the table that it is listed under, as its own text says."""
    kind = re.sub(r"^CREATE (UNIQUE |VIRTUAL )?", "", sql).split(maxsplit=1)[0].lower()
    on = re.search(r" ON (\w+)", sql) if kind in ("index", "trigger") else None
    return kind, on[1] if on else name


def _odd(found: bool, expected: bool) -> str:
    if found and expected:
        return "changed"
    return "not of Tarebook" if found else "missing"
