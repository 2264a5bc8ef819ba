"""The record: open it, append to it, ask it. The only way an entry gets into the file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from store.errors import BadInput, MovedOn, RecordDamaged, RecordTooNew
from store.record import derived, schema, upgrade
from store.record.asking import Asking
from store.record.connect import BULK_CACHE_KIB, CACHE_KIB, check_is_record, connect, new_file
from store.record.faults import ours
from store.record.journal import digest_of, line_of, read_line

if TYPE_CHECKING:
    from store.events import Entry, Event

CLOCK_SLACK = timedelta(minutes=1)
"""A clock that stands further back than this against the last entry is itself an entry."""


class Record(Asking):
    """One site's record, open in one process."""

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
            check_is_record(record._conn, path)
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
                from store.events import ClockStepped

                stepped = ClockStepped(back_s=f"{back.total_seconds():.0f}")
                digest = self._write(stepped, number + 1, digest, now, person, "record").digest
                number += 1
            return self._write(event, number + 1, digest, now, person, subject)

    def append_all(self, happened: Iterable[tuple[Event, str, str]]) -> int:
        """Write many entries in one transaction, and give the number of the last: all of them, or none.

        Each is an event, who did it, and its subject, at the time that the clock then gives; they come in the
        order in which they happened. Nothing is checked against what a person saw: for histories brought in
        whole, not for acts.

        Raises
        ------
        BadInput
            The clock goes back.
        """
        with self._in_bulk():
            number, digest, at = self._last()
            last = datetime.fromisoformat(at)
            for event, person, subject in happened:
                now = self._now()
                if now < last:
                    raise BadInput(f"Entry {number + 1} is earlier than the one before: put them in order.")
                number, last = number + 1, now
                digest = self._write(event, number, digest, now, person, subject).digest
        return number

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
        with self._in_bulk():
            self._projection.forget()
            derived.drop(self._conn)
            derived.create(self._conn)
            for entry in self.entries():
                self._projection.fold(entry)

    @contextmanager
    def _in_bulk(self) -> Iterator[None]:
        """Fold many entries in one transaction, with more of the file in memory."""
        self._conn.execute(f"PRAGMA cache_size = -{BULK_CACHE_KIB}")
        try:
            with self.immediate(), self._projection.in_bulk():
                yield
        finally:
            self._conn.execute(f"PRAGMA cache_size = -{CACHE_KIB}")

    def keep_credential(
        self, person: str, salt: bytes, n: int, r: int, p: int, hashed: bytes, entry: int
    ) -> None:
        """Keep what a PIN is checked against; inside `immediate`, beside its entry."""
        self._conn.execute(
            "INSERT OR REPLACE INTO credential VALUES (?, ?, ?, ?, ?, ?, ?)",
            (person, salt, n, r, p, hashed, entry),
        )
