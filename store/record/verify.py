"""Whether a record is what it was: the chain over the stored bytes, then every derived value against it.

An owner of the file can forge a whole chain, but not the labels, exports and backups that carry its digests:
`anchor` and `against` hold the file up to those, and find a cut tail as well.
"""

import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from store import events as ev
from store.errors import RecordDamaged, RecordTooNew
from store.events import Entry
from store.record import derived, schema, upgrade
from store.record.connect import connect
from store.record.faults import ours
from store.record.journal import Head, read_line
from store.record.people import digest_of_credential
from store.record.projection import Projection
from store.record.tables import differences

Progress = Callable[[int], None]
"""Called now and then with the number of entries walked."""

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


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a file verifies, how far its journal goes, and what is wrong, the first thing first."""

    ok: bool
    entries: int
    head: Head
    faults: tuple[Fault, ...]


class _Found(Exception):
    """The walk ends here."""

    def __init__(self, fault: Fault) -> None:
        self.fault = fault


def verify(
    path: Path,
    *,
    chain_only: bool = False,
    anchor: tuple[int, str] | None = None,
    against: Path | None = None,
    progress: Progress | None = None,
) -> Verdict:
    """Verify a record; it is read, never written.

    Parameters
    ----------
    path
        The record.
    chain_only
        The journal's lines and digests alone, quick enough for every day: neither the derived tables nor
        the pages and indexes that they stand on.
    anchor
        Entry and digest (16 hex digits of it or more) from a label, an export or a note.
    against
        A backup: every entry in it must be in the record, byte for byte.
    progress
        Called every 10 000 entries.

    Raises
    ------
    RecordMissing
        There is no file.
    RecordTooNew
        It was written by a newer program, so that it cannot be judged here.
    """
    walk = _Walk(path, chain_only, progress or (lambda entries: None))
    try:
        db = connect(path, write=False)
    except RecordDamaged as error:
        return Verdict(False, 0, walk.head, (Fault(0, "file", str(error)),))
    with closing(db.conn) as connection:
        connection.text_factory = bytes
        faults = walk.all_of(connection)
        if not faults and anchor is not None:
            faults += _anchored(connection, walk.head, *anchor)
        if not faults and against is not None:
            faults += _against(connection, walk.head, against)
    return Verdict(not faults, walk.head.entry, walk.head, tuple(faults[:SHOWN]))


class _Walk:
    """One pass over the journal."""

    def __init__(self, path: Path, chain_only: bool, progress: Progress) -> None:
        self.path, self.chain_only, self.progress = path, chain_only, progress
        self.head = Head(0, schema.GENESIS)
        self.pins: dict[str, tuple[int, str]] = {}

    def all_of(self, connection: sqlite3.Connection) -> list[Fault]:
        """Give every fault: of the pages, what guards the journal, its chain, the derived values."""
        faults: list[Fault] = []
        try:
            with ours(self.path):
                connection.execute("BEGIN")
                if not self.chain_only:
                    faults += _pages(connection)
                version = _version(self.path, connection)
                faults += _objects(connection, version)
                faults += self._journal(connection, compare=version == upgrade.VERSION and not faults)
        except RecordTooNew:
            raise
        except RecordDamaged as error:
            faults.append(Fault(0, "file", str(error)))
        return faults

    def _journal(self, connection: sqlite3.Connection, *, compare: bool) -> list[Fault]:
        rows = connection.execute("SELECT entry, line, digest FROM journal NOT INDEXED ORDER BY entry")
        try:
            if self.chain_only:
                for _ in self._chain(rows):
                    pass
                return [] if self.head.entry else [Fault(1, "journal", "there is no first entry")]
            with tempfile.TemporaryDirectory(prefix="tarebook-") as folder:
                with closing(sqlite3.connect(Path(folder) / "folded", isolation_level=None)) as folded:
                    self._fold(connection, folded, rows)
                    faults = self._credentials(connection)
                    if compare:
                        folded.text_factory = bytes
                        for table, entry, what in differences(connection, folded):
                            faults.append(Fault(entry, table, what))
                            if len(faults) >= SHOWN:
                                break
                return faults if self.head.entry else [Fault(1, "journal", "there is no first entry")]
        except _Found as found:
            return [found.fault]

    def _chain(self, rows: Iterator[tuple[int, bytes, bytes]]) -> Iterator[tuple[int, bytes, bytes]]:
        """Walk the chain over the stored bytes."""
        before, last = schema.GENESIS.encode(), 0
        for row in rows:
            number, line, digest = row
            if number != last + 1:
                raise _Found(Fault(last + 1, "journal", f"the entry is missing; the next is {number}"))
            if type(line) is not bytes or type(digest) is not bytes:
                raise _Found(Fault(number, "journal", "line or digest is no text"))
            if sha256(before + b"\n" + line).hexdigest().encode() != digest:
                raise _Found(Fault(number, "journal", "line and digest do not follow from the entry before"))
            before, last = digest, number
            if number % 10_000 == 0:
                self.progress(number)
            yield row
        self.head = Head(last, before.decode())

    def _fold(
        self,
        connection: sqlite3.Connection,
        folded: sqlite3.Connection,
        rows: Iterator[tuple[int, bytes, bytes]],
    ) -> None:
        folded.execute("PRAGMA journal_mode = OFF")
        folded.execute("PRAGMA synchronous = OFF")
        folded.execute("BEGIN")
        derived.create(folded)

        def of_prep(prep: str, after: int) -> Iterator[Entry]:
            found = connection.execute(
                "SELECT entry, line, digest FROM journal WHERE subject = ? AND entry > ? ORDER BY entry",
                (f"prep:{prep}", after),
            )
            for number, line, digest in found:
                yield read_line(number, line, digest.decode())

        projection = Projection(folded, of_prep, alone=True)
        for number, line, digest in self._chain(rows):
            try:
                entry = read_line(number, line, digest.decode())
                projection.fold(entry)
            except RecordTooNew:
                raise
            except (ValueError, KeyError, TypeError, IndexError, AttributeError, sqlite3.Error) as error:
                what = f"the chain holds, but the entry cannot be read ({error})"
                raise _Found(Fault(number, "journal", what)) from error
            if isinstance(entry.event, ev.PinSet):
                self.pins[entry.event.who] = (number, entry.event.digest)
        folded.execute("COMMIT")

    def _credentials(self, connection: sqlite3.Connection) -> list[Fault]:
        """Hold every credential up to the entry that set it."""
        faults, left = [], dict(self.pins)
        rows = connection.execute("SELECT person, salt, n, r, p, hash, entry FROM credential NOT INDEXED")
        for person, salt, n, r, p, hashed, number in rows:
            who = person.decode(errors="replace")
            expected = left.pop(who, None)
            if expected != (number, digest_of_credential(who, bytes(salt), n, r, p, bytes(hashed))):
                entry = expected[0] if expected else 0
                faults.append(Fault(entry, "credential", f"of {who!r} is not the one that was set"))
        faults += [Fault(n, "credential", f"of {who!r} is missing") for who, (n, _) in left.items()]
        return faults


def _pages(connection: sqlite3.Connection) -> list[Fault]:
    """Let SQLite look at its own pages, and at every index against its table: an index can answer alone."""
    try:
        rows = [
            row[0].decode(errors="replace") for row in connection.execute(f"PRAGMA integrity_check({SHOWN})")
        ]
    except sqlite3.Error as error:
        rows = [str(error)]
    return [Fault(0, "file", row) for row in rows if row != "ok"]


def _version(path: Path, connection: sqlite3.Connection) -> int:
    found = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if found > upgrade.VERSION:
        raise RecordTooNew(f"{path.name} was written by a newer Tarebook: verify it with that one.")
    if found < 1000:
        raise RecordDamaged(f"{path.name} has no version of a record.")
    return found


def _objects(connection: sqlite3.Connection, version: int) -> list[Fault]:
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


def _anchored(connection: sqlite3.Connection, head: Head, number: int, digest: str) -> list[Fault]:
    if number > head.entry:
        return [Fault(head.entry + 1, "anchor", f"the journal ends at {head.entry}: its tail is cut off")]
    row: Any = connection.execute("SELECT digest FROM journal WHERE entry = ?", (number,)).fetchone()
    if row is None or len(digest) < 16 or not row[0].decode().startswith(digest.lower()):
        return [Fault(number, "anchor", "another digest stands there: the journal was rewritten up to here")]
    return []


def _against(connection: sqlite3.Connection, head: Head, backup: Path) -> list[Fault]:
    other = verify(backup, chain_only=True)
    if not other.ok:
        return [Fault(0, "backup", f"{backup.name} does not verify itself: {other.faults[0]}")]
    lines = "SELECT entry, line, digest FROM journal NOT INDEXED ORDER BY entry"
    with closing(connect(backup, write=False).conn) as kept, ours(backup):
        kept.text_factory = bytes
        for mine, theirs in zip(connection.execute(lines), kept.execute(lines), strict=False):
            if mine != theirs:
                return [Fault(mine[0], "backup", f"{backup.name} has another entry there")]
    if other.head.entry > head.entry:
        return [
            Fault(head.entry + 1, "backup", f"{backup.name} goes on to entry {other.head.entry}: cut off")
        ]
    return []
