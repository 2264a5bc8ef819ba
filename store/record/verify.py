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
from store.record.connect import BULK_CACHE_KIB, connect
from store.record.faults import ours
from store.record.file_checks import SHOWN, Fault, objects, pages, version_of
from store.record.journal import Head, read_line
from store.record.people import digest_of_credential
from store.record.projection import Projection
from store.record.tables import differences

Progress = Callable[[int], None]
"""Called now and then with the number of entries walked."""


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
        opened = connect(path, write=False)
    except RecordDamaged as error:
        return Verdict(False, 0, walk.head, (Fault(0, "file", str(error)),))
    with closing(opened) as connection:
        connection.text_factory = bytes
        connection.execute(f"PRAGMA cache_size = -{BULK_CACHE_KIB}")
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
                    faults += pages(connection)
                version = version_of(self.path, connection)
                faults += objects(connection, version)
                faults += self._journal(connection, compare=version == upgrade.VERSION and not faults)
        except RecordTooNew:
            raise
        except RecordDamaged as error:
            faults.append(Fault(0, "file", str(error)))
        return faults

    def _journal(self, connection: sqlite3.Connection, *, compare: bool) -> list[Fault]:
        try:
            if self.chain_only:
                for _ in self._chain(connection):
                    pass
                return [] if self.head.entry else [Fault(1, "journal", "there is no first entry")]
            with tempfile.TemporaryDirectory(prefix="tarebook-") as folder:
                with closing(self._folded(connection, Path(folder))) as folded:
                    faults = self._credentials(connection)
                    if compare:
                        for table, entry, what in differences(connection, folded):
                            faults.append(Fault(entry, table, what))
                            if len(faults) >= SHOWN:
                                break
                return faults if self.head.entry else [Fault(1, "journal", "there is no first entry")]
        except _Found as found:
            return [found.fault]

    def _chain(self, connection: sqlite3.Connection) -> Iterator[tuple[int, bytes, bytes]]:
        """Walk the chain over the stored bytes."""
        rows = connection.execute("SELECT entry, line, digest FROM journal NOT INDEXED ORDER BY entry")
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

    def _folded(self, connection: sqlite3.Connection, folder: Path) -> sqlite3.Connection:
        """Give a file with every entry folded.

        Where something cannot be folded, and what was to be written with it for many entries at once cannot
        be written either, the first wrong entry is looked for one by one.
        """
        careful_after: int | None = None
        while True:
            name = folder / f"folded-{careful_after}"
            folded = sqlite3.connect(name, isolation_level=None)
            projection = _empty(connection, folded)
            try:
                self._fold(connection, projection, careful_after)
                folded.execute("COMMIT")
                return folded
            except _Found:
                try:
                    projection.settle()
                except _UNREADABLE:
                    if careful_after is None:
                        careful_after = projection.settled
                        continue
                raise
            finally:
                if folded.in_transaction:
                    folded.close()

    def _fold(
        self, connection: sqlite3.Connection, projection: Projection, careful_after: int | None
    ) -> None:
        def unreadable(number: int, error: Exception) -> _Found:
            return _Found(
                Fault(number, "journal", f"the chain holds, but the entry cannot be read ({error})")
            )

        projection.hold()
        number = 0
        for number, line, digest in self._chain(connection):
            try:
                entry = read_line(number, line, digest.decode())
                projection.fold(entry)
                if careful_after is not None and number > careful_after:
                    projection.settle()
            except RecordTooNew:
                raise
            except _UNREADABLE as error:
                raise unreadable(number, error) from error
            if isinstance(entry.event, ev.PinSet):
                self.pins[entry.event.who] = (number, entry.event.digest)
        try:
            projection.settle()
        except _UNREADABLE as error:
            raise unreadable(number, error) from error

    def _credentials(self, connection: sqlite3.Connection) -> list[Fault]:
        """Hold every credential up to the entry that set it."""
        faults, left = [], dict(self.pins)
        rows = connection.execute("SELECT person, salt, n, r, p, hash, entry FROM credential NOT INDEXED")
        for person, salt, n, r, p, hashed, number in rows:
            who = person.decode(errors="replace") if isinstance(person, bytes) else str(person)
            expected = left.pop(who, None)
            # A file that was damaged can hold anything here, whatever its columns are declared to hold.
            whole = isinstance(salt, bytes) and isinstance(hashed, bytes)
            if not whole or expected != (number, digest_of_credential(who, salt, n, r, p, hashed)):
                entry = expected[0] if expected else 0
                faults.append(Fault(entry, "credential", f"of {who!r} is not the one that was set"))
        faults += [Fault(n, "credential", f"of {who!r} is missing") for who, (n, _) in left.items()]
        return faults


_UNREADABLE = (ValueError, KeyError, TypeError, IndexError, AttributeError, sqlite3.Error)
"""What comes of folding a line that no edition of this program wrote."""


def _empty(connection: sqlite3.Connection, folded: sqlite3.Connection) -> Projection:
    """Lay out the derived tables in a file that is thrown away, to fold the entries of `connection` into."""
    for name, value in (
        ("journal_mode", "OFF"),
        ("synchronous", "OFF"),
        ("cache_size", f"-{BULK_CACHE_KIB}"),
    ):
        folded.execute(f"PRAGMA {name} = {value}")
    folded.execute("BEGIN")
    derived.create(folded)

    def of_prep(prep: str, after: int) -> Iterator[Entry]:
        found = connection.execute(
            "SELECT entry, line, digest FROM journal WHERE subject = ? AND entry > ? ORDER BY entry",
            (f"prep:{prep}", after),
        )
        for number, line, digest in found:
            yield read_line(number, line, digest.decode())

    return Projection(folded, of_prep, alone=True)


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
    with closing(connect(backup, write=False)) as kept, ours(backup):
        kept.text_factory = bytes
        for mine, theirs in zip(connection.execute(lines), kept.execute(lines), strict=False):
            if mine != theirs:
                return [Fault(mine[0], "backup", f"{backup.name} has another entry there")]
    if other.head.entry > head.entry:
        return [
            Fault(head.entry + 1, "backup", f"{backup.name} goes on to entry {other.head.entry}: cut off")
        ]
    return []
