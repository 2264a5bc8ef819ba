"""The record: open it, append to it, ask it. The only way an entry gets into the file."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from types import MappingProxyType, TracebackType
from typing import Any, Self

from sqlite_utils import Database

from store.errors import MovedOn, NotFound, RecordDamaged, RecordTooNew
from store.events import ClockStepped, Entry, Event
from store.procedure.state import PrepState
from store.record import derived, schema, upgrade
from store.record.connect import check_is_record, connect, new_file
from store.record.faults import ours
from store.record.journal import Head, digest_of, line_of, read_line
from store.record.projection import Projection

Row = Mapping[str, Any]

CLOCK_SLACK = timedelta(minutes=1)
"""A clock that stands further back than this against the last entry is itself an entry."""


class Record:
    """One site's record, open in one process."""

    def __init__(self, path: Path, db: Database, *, now: Callable[[], datetime], terminal: str) -> None:
        self.path, self.terminal = path, terminal
        self._db, self._now = db, now
        self._conn = db.conn
        self._depth = 0
        self._projection = Projection(self._conn, self._of_prep)

    @classmethod
    def create(cls, path: Path, *, now: Callable[[], datetime], terminal: str, site: str) -> Self:
        """Begin a new record; its first entry says where, and with which program.

        Raises
        ------
        FileRefused
            Something is there already, or the place cannot be written.
        """
        new_file(path)
        try:
            record = cls(path, connect(path, write=True), now=now, terminal=terminal)
            try:
                upgrade.begin(record, site=site)
            except BaseException:
                record.close()
                raise
        except BaseException:
            for end in ("", "-wal", "-shm"):
                path.with_name(path.name + end).unlink(missing_ok=True)
            raise
        return record

    @classmethod
    def open(cls, path: Path, *, now: Callable[[], datetime], terminal: str, write: bool = True) -> Self:
        """Open a record; one written by an older program is brought up to date.

        Raises
        ------
        RecordMissing, RecordDamaged, RecordTooNew, RecordReadOnly, OldSqlite
            Each with what to do.
        """
        record = cls(path, connect(path, write=write), now=now, terminal=terminal)
        try:
            check_is_record(record._db, path)
            found = record.version()
            if found > upgrade.VERSION:
                raise RecordTooNew(f"{path.name} was written by a newer Tarebook: use that one.")
            if found < upgrade.VERSION:
                if not write:
                    cls.open(path, now=now, terminal=terminal).close()
                else:
                    upgrade.bring_up(record)
            record._check_guards()
            if write:
                record._conn.execute("PRAGMA query_only = ON")
        except BaseException:
            record.close()
            raise
        return record

    def close(self) -> None:
        """Close the file."""
        self._conn.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def version(self) -> int:
        """Give the version of the file: that of the journal × 1000 + that of the derived tables."""
        with ours(self.path):
            return int(self._conn.execute("PRAGMA user_version").fetchone()[0])

    def _check_guards(self) -> None:
        with ours(self.path):
            rows = self._conn.execute("SELECT type, name, sql FROM sqlite_schema")
            found = {name: sql for type_, name, sql in rows if type_ == "trigger" or name in schema.KEPT}
        wrong = sorted({n for n, sql in found.items() | schema.KEPT.items() if found.get(n) != sql}
                       | {n for n in found if n not in schema.KEPT})  # fmt: skip
        if wrong or len(found) != len(schema.KEPT):
            missing = sorted(schema.KEPT.keys() - found.keys())
            names = ", ".join(dict.fromkeys((*wrong, *missing)))
            raise RecordDamaged(
                f"What guards the journal of {self.path.name} was changed ({names}): "
                "run tarebook verify, then restore a backup."
            )

    # ---- time ----

    def now(self) -> datetime:
        """Give the time, aware of its offset."""
        return self._now()

    def due_now(self) -> datetime:
        """Give the later of now and the last entry: what due and expiry are judged by."""
        now, last = self._now(), self._last()
        return max(now, datetime.fromisoformat(last[2])) if last[0] else now

    # ---- writing ----

    @contextmanager
    def immediate(self) -> Iterator[None]:
        """Check and append as one: BEGIN IMMEDIATE outside, a savepoint inside.

        Raises
        ------
        RecordBusy, RecordFull, RecordReadOnly, RecordDamaged, RecordTooNew
            Nothing of what was done inside is written then.
        """
        with self.transaction():
            if self._depth == 1 and self.version() != upgrade.VERSION:
                raise RecordTooNew(
                    f"{self.path.name} was brought to another version meanwhile: "
                    "nothing was written; start Tarebook again."
                )
            yield

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Do all of it or nothing, whatever the version of the file."""
        point = f"s{self._depth}"
        begin = f"SAVEPOINT {point}" if self._depth else "BEGIN IMMEDIATE"
        end = f"RELEASE {point}" if self._depth else "COMMIT"
        with ours(self.path):
            if not self._depth:
                self._conn.execute("PRAGMA query_only = OFF")
            try:
                self._conn.execute(begin)
                self._depth += 1
                try:
                    yield
                    self._conn.execute(end)
                except BaseException:
                    self._projection.forget()
                    if self._conn.in_transaction:
                        back = f"ROLLBACK TO {point}" if self._depth > 1 else "ROLLBACK"
                        self._conn.execute(back)
                    raise
                finally:
                    self._depth -= 1
            finally:
                if not self._depth:
                    self._conn.execute("PRAGMA query_only = ON")

    def append(self, event: Event, *, person: str, subject: str, seen: int | None = None) -> Entry:
        """Write one entry and fold it into the tables: both, or neither.

        Parameters
        ----------
        event
            What happened.
        person
            Who did it.
        subject
            What it is about, such as `prep:P-7F3A-0012`.
        seen
            Last entry of the subject as the person saw it.

        Raises
        ------
        MovedOn
            The subject has a later entry than `seen`.
        """
        prep = getattr(event, "prep", "")
        if prep and subject != f"prep:{prep}":
            raise ValueError(f"{event.kind} of {prep} was filed under {subject}")
        with self.immediate():
            if seen is not None and self.last_entry(subject) != seen:
                what = subject.partition(":")[2] or subject
                raise MovedOn(f"{what} has moved on since you saw it: look again, then decide.")
            number, digest, at = self._last()
            now = self._now()
            if number and (back := datetime.fromisoformat(at) - now) > CLOCK_SLACK:
                stepped = ClockStepped(back_s=f"{back.total_seconds():.0f}")
                digest = self._write(stepped, number + 1, digest, now, person, "record").digest
                number += 1
            return self._write(event, number + 1, digest, now, person, subject)

    def _write(
        self, event: Event, number: int, before: str, at: datetime, person: str, subject: str
    ) -> Entry:
        line = line_of(event, at=at, terminal=self.terminal, person=person, subject=subject)
        digest = digest_of(before, line)
        self._conn.execute(
            "INSERT INTO journal (entry, line, digest) VALUES (?, ?, ?)", (number, line, digest)
        )
        # Folded as it will be read, not as it was made: so a rebuild cannot differ.
        entry = read_line(number, line, digest)
        self._projection.fold(entry)
        return entry

    def next_prep_id(self) -> str:
        """Give the next free id of this terminal, such as `P-7F3A-0012`; ask inside `immediate`."""
        (last,) = self._conn.execute(
            "SELECT coalesce(max(serial), 0) FROM prep WHERE terminal = ?", (self.terminal,)
        ).fetchone()
        return f"P-{self.terminal}-{last + 1:04d}"

    def rebuild(self) -> None:
        """Drop the derived tables and fold every entry anew."""
        with self.immediate():
            self._projection.forget()
            derived.drop(self._conn)
            derived.create(self._conn)
            for entry in self.entries():
                self._projection.fold(entry)

    def keep_credential(
        self, person: str, salt: bytes, n: int, r: int, p: int, hashed: bytes, entry: int
    ) -> None:
        """Keep what a PIN is checked against; inside `immediate`, beside its entry."""
        self._conn.execute(
            "INSERT OR REPLACE INTO credential VALUES (?, ?, ?, ?, ?, ?, ?)",
            (person, salt, n, r, p, hashed, entry),
        )

    def credential(self, person: str) -> tuple[bytes, int, int, int, bytes] | None:
        """Give what a person's PIN is checked against; None for one who has no PIN."""
        with ours(self.path):
            found: tuple[bytes, int, int, int, bytes] | None = self._conn.execute(
                "SELECT salt, n, r, p, hash FROM credential WHERE person = ?", (person,)
            ).fetchone()
        return found

    # ---- asking ----

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
                "SELECT max(entry) FROM journal WHERE subject = ?", (subject,)
            ).fetchone()
        return row[0] or 0

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
        where, params = ["entry > ?"], [after]
        values: list[Any] = params
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
            return [MappingProxyType(row) for row in self._db.query(sql, params)]

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
