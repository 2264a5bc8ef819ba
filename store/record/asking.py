"""What a record is asked: entries, heads, rows, where a prep stands. Nothing here writes."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from store.errors import NotFound
from store.record import schema
from store.record.faults import ours
from store.record.journal import Head, read_line

if TYPE_CHECKING:
    from store.events import Entry
    from store.procedure.state import PrepState
    from store.record.projection import Projection

Row = Mapping[str, Any]


class Asking:
    """The half of a record that answers."""

    def __init__(
        self, path: Path, connection: sqlite3.Connection, *, now: Callable[[], datetime], terminal: str
    ) -> None:
        self.path, self.terminal = path, terminal
        self._conn, self._now = connection, now
        self._depth = 0

    @cached_property
    def _projection(self) -> Projection:
        """What folds entries; made on first use, since a question to the tables needs none."""
        from store.record.projection import Projection

        return Projection(self._conn, self._of_prep)

    def now(self) -> datetime:
        """Give the time, aware of its offset."""
        return self._now()

    def due_now(self) -> datetime:
        """Give the later of now and the last entry: what due and expiry are judged by."""
        now, last = self._now(), self._last()
        return max(now, datetime.fromisoformat(last[2])) if last[0] else now

    def version(self) -> int:
        """Give the version of the file: that of the journal × 1000 + that of the derived tables."""
        with ours(self.path):
            return int(self._conn.execute("PRAGMA user_version").fetchone()[0])

    def _last(self) -> tuple[int, str, str]:
        with ours(self.path):
            row = self._conn.execute(
                "SELECT entry, digest, at FROM journal ORDER BY entry DESC LIMIT 1"
            ).fetchone()
        return row if row is not None else (0, schema.GENESIS, "")

    def head(self) -> Head:
        """Give the last entry and its digest."""
        number, digest, _ = self._last()
        return Head(number, digest)

    def last_entry(self, subject: str) -> int:
        """Give the last entry about a subject; 0 when there is none."""
        with ours(self.path):
            row = self._conn.execute(
                "SELECT entry FROM journal WHERE subject = ? ORDER BY entry DESC LIMIT 1", (subject,)
            ).fetchone()
        return row[0] if row is not None else 0

    def entry(self, n: int) -> Entry:
        """Give one entry.

        Raises
        ------
        NotFound
            The journal ends before it.
        """
        with ours(self.path):
            row = self._conn.execute(
                "SELECT entry, line, digest FROM journal WHERE entry = ?", (n,)
            ).fetchone()
        if row is None:
            raise NotFound(f"There is no entry {n}: the journal ends at {self.head().entry}.")
        return read_line(*row)

    def entries(
        self, *, subject: str | None = None, after: int = 0, kinds: Sequence[str] = ()
    ) -> Iterator[Entry]:
        """Give entries in their order, read as they are asked for."""
        for number, line, digest in self.lines(subject=subject, after=after, kinds=kinds):
            yield read_line(number, line, digest)

    def lines(
        self, *, subject: str | None = None, after: int = 0, kinds: Sequence[str] = ()
    ) -> Iterator[tuple[int, str, str]]:
        """Give entry, line and digest as they are stored."""
        where: list[str] = ["entry > ?"]
        values: list[Any] = [after]
        if subject is not None:
            where.append("subject = ?")
            values.append(subject)
        if kinds:
            where.append(f"kind IN ({', '.join('?' * len(kinds))})")
            values.extend(kinds)
        with ours(self.path):
            yield from self._conn.execute(
                f"SELECT entry, line, digest FROM journal WHERE {' AND '.join(where)} ORDER BY entry", values
            )

    def _of_prep(self, prep: str, after: int) -> Iterator[Entry]:
        return self.entries(subject=f"prep:{prep}", after=after)

    def query(self, sql: str, /, **params: Any) -> list[Row]:
        """Ask a question in SQL; the rows cannot be changed, and neither can the record."""
        with ours(self.path):
            found = self._conn.execute(sql, params)
            names = [column[0] for column in found.description]
            # A row has a value for each name: to have it counted takes a third of making the row.
            return [MappingProxyType(dict(zip(names, row, strict=False))) for row in found]

    def each(self, sql: str, /, **params: Any) -> Iterator[Row]:
        """Ask as `query` does, with the rows read as they are asked for: for answers of any length."""
        with ours(self.path):
            found = self._conn.execute(sql, params)
            names = [column[0] for column in found.description]
            for row in found:
                yield MappingProxyType(dict(zip(names, row, strict=True)))

    def prep_state(self, prep: str) -> PrepState:
        """Give where a prep stands after its last entry.

        Raises
        ------
        NotFound
            There is no such prep.
        """
        with ours(self.path):
            state = self._projection.prep_state(prep)
        if state is None:
            raise NotFound(f"There is no prep {prep!r} in this record.")
        return state

    def credential(self, person: str) -> tuple[bytes, int, int, int, bytes] | None:
        """Give what a person's PIN is checked against; None for one who has no PIN."""
        with ours(self.path):
            found: tuple[bytes, int, int, int, bytes] | None = self._conn.execute(
                "SELECT salt, n, r, p, hash FROM credential WHERE person = ?", (person,)
            ).fetchone()
        return found
