"""Compare the derived tables of two files, value by value, over the stored bytes."""

import marshal
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing
from itertools import chain
from typing import Any

from sqlite_utils import Database

from store.record import derived
from store.record.found_shape import BEHIND, FOUND

MANY = 500
"""So many rows are held against each other at once, until some differ."""

_NAMES_ENTRY = ("entry", "last_entry", "handling", "snapshot", "rowid")
"""Columns that say which entry a row came from, the best first."""


def names() -> tuple[str, ...]:
    """Give the names of the derived tables."""
    return tuple(s.split(maxsplit=3)[2] for s in derived.TABLES if s.startswith("CREATE TABLE"))


def differences(stored: sqlite3.Connection, folded: sqlite3.Connection) -> Iterator[tuple[str, int, str]]:
    """Give table, entry and what differs, for each row that is not as the journal has it."""
    db = Database(folded, recursive_triggers=True, execute_plugins=False)
    shapes = {
        name: ([column.name for column in db.table(name).columns], db.table(name).pks) for name in names()
    }
    folded.text_factory = bytes
    for table, (columns, key) in shapes.items():
        yield from _of_table(stored, folded, table, columns, key)
    for table, found in FOUND.items():
        yield from _of_table(stored, folded, table, [*found, _types(found)], ["rowid"])
    for table in FOUND:
        yield from _of_index(stored, folded, table)


def _rows(connection: sqlite3.Connection, table: str, columns: list[str], key: list[str]) -> sqlite3.Cursor:
    if table in FOUND:
        return connection.execute(f"SELECT {', '.join(columns)} FROM {table} ORDER BY rowid")
    return connection.execute(
        f"SELECT {', '.join(columns)} FROM {table} NOT INDEXED ORDER BY {', '.join(key)}"
    )


def _types(columns: Iterable[str]) -> str:
    """Give the SQL of what kind of value stands in each column: such a table holds any, bytes look alike."""
    return " || ' ' || ".join(f"typeof({column})" for column in columns)


def _of_index(
    stored: sqlite3.Connection, folded: sqlite3.Connection, table: str
) -> Iterator[tuple[str, int, str]]:
    """Say whether the index behind a table of words fits the words that were folded.

    Its pages are laid out by their history, so that no two are alike: the stored ones are put behind the
    folded words, where SQLite holds one against the other.
    """
    (path,) = (row[2] for row in folded.execute("PRAGMA database_list"))
    with closing(sqlite3.connect(path.decode(), isolation_level=None)) as put:
        put.execute("BEGIN")
        for name in BEHIND:
            if name.rpartition("_")[0] != table or name == f"{table}_content":
                continue
            put.execute(f"DELETE FROM {name}")
            rows = stored.execute(f"SELECT * FROM {name}")
            marks = ", ".join("?" * len(rows.description))
            put.executemany(f"INSERT INTO {name} VALUES ({marks})", (_as_kept(name, row) for row in rows))
        put.execute("COMMIT")
    with closing(sqlite3.connect(path.decode(), isolation_level=None)) as put:
        try:
            put.execute(f"INSERT INTO {table} ({table}) VALUES ('integrity-check')")
        except sqlite3.Error as error:
            yield table, 0, f"the index behind it does not fit its words ({error})"


def _as_kept(name: str, row: Any) -> Any:
    """Text comes as bytes here; only the settings of the index hold text."""
    if not name.endswith("_config"):
        return row
    return tuple(value.decode(errors="replace") if isinstance(value, bytes) else value for value in row)


def _of_table(
    stored: sqlite3.Connection, folded: sqlite3.Connection, table: str, columns: list[str], key: list[str]
) -> Iterator[tuple[str, int, str]]:
    places = [columns.index(name) for name in key]

    def key_of(row: Any) -> tuple[Any, ...]:
        return tuple(row[place] for place in places)

    kept, made = _rows(stored, table, columns, key), _rows(folded, table, columns, key)
    # marshal tells 0.0 from -0.0 and 1 from 1.0, which == does not.
    while marshal.dumps(first := kept.fetchmany(MANY), 2) == marshal.dumps(second := made.fetchmany(MANY), 2):
        if not first:
            return
    there, right = chain(first, kept), chain(second, made)
    have, want = next(there, None), next(right, None)
    while have is not None or want is not None:
        if want is None or (have is not None and key_of(have) < key_of(want)):
            yield table, _entry(columns, have), f"{_shown(key_of(have))} is in no entry"
            have = next(there, None)
        elif have is None or key_of(want) < key_of(have):
            yield table, _entry(columns, want), f"{_shown(key_of(want))} is missing"
            want = next(right, None)
        else:
            if marshal.dumps(have, 2) != marshal.dumps(want, 2):
                for name, was, should in zip(columns, have, want, strict=True):
                    if marshal.dumps(was, 2) != marshal.dumps(should, 2):
                        what = f"{name} of {_shown(key_of(want))} is {_shown([was])}, not {_shown([should])}"
                        yield table, _entry(columns, want), what
            have, want = next(there, None), next(right, None)


def _entry(columns: list[str], row: Any) -> int:
    for name in _NAMES_ENTRY:
        if name in columns and isinstance(found := row[columns.index(name)], int):
            return found
    return 0


def _shown(values: Any) -> str:
    """Give stored values for a person; outside text loses its control characters."""
    out = []
    for value in values:
        text = value.decode(errors="replace") if isinstance(value, bytes) else str(value)
        out.append("".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)[:60])
    return "/".join(out)
