"""Copies of the record: made while it is in use, verified, and brought back without losing what was there."""

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from store.errors import FileRefused, RecordBusy, RecordDamaged
from store.events import Restored
from store.record.connect import check_is_record, connect, new_file
from store.record.faults import ours
from store.record.journal import Head
from store.record.record import Record
from store.record.schema import GENESIS
from store.record.verify import Progress, Verdict, verify

_PATIENCE = 2
"""So many times the lock is waited for, each as long as any write waits."""


@dataclass(frozen=True, slots=True)
class Restoration:
    """What a restore did: where the record as it was is kept (None if there was none), and both heads."""

    source: Head
    aside: Path | None
    aside_head: Head
    verdict: Verdict
    """Of the record as it is now."""


def backup(path: Path, to: Path, *, progress: Progress | None = None) -> Verdict:
    """Copy a record by SQLite's online backup, also while it is in use, then verify the copy.

    The copy is one file that needs no other beside it. A copy that does not verify is left where it is, and
    the verdict says what is wrong: it may be the best there is.

    Raises
    ------
    FileRefused
        Something stands at `to` already, or it cannot be made there.
    RecordError
        The record cannot be read, or no space is left.
    """
    with closing(connect(path, write=False)) as connection:
        check_is_record(connection, path)
        _copy_out(path, connection, to)
    return verify(to, progress=progress)


def restore(
    path: Path,
    source: Path,
    *,
    now: Callable[[], datetime],
    terminal: str,
    person: str,
    progress: Progress | None = None,
) -> Restoration:
    """Bring a backup back into the record: verified first, the record as it was kept aside, then written in.

    It is copied *into* the live file: a file renamed over it would be undone by a connection that is open.
    Whoever has the record open goes on with what was restored.

    Raises
    ------
    RecordDamaged
        The backup does not verify; the record is left as it is.
    FileRefused
        The backup is the record itself.
    RecordBusy
        Somebody is writing all the time.
    """
    if path.exists() and source.exists() and os.path.samefile(path, source):
        raise FileRefused(f"{source} is the record itself: name a backup.")
    found = verify(source, progress=progress)
    if not found.ok:
        raise RecordDamaged(
            f"{source} does not verify ({found.faults[0]}): the record is left as it is; name another backup."
        )
    aside, aside_head = _copied_in(path, source, now())
    with Record.open(path, now=now, terminal=terminal) as record:
        event = Restored(
            source=source.name,
            source_entry=found.head.entry,
            source_digest=found.head.digest,
            aside=aside.name if aside is not None else "",
            aside_entry=aside_head.entry,
            aside_digest=aside_head.digest,
        )
        record.append(event, person=person, subject="record")
    return Restoration(found.head, aside, aside_head, verify(path, progress=progress))


def _copied_in(path: Path, source: Path, at: datetime) -> tuple[Path | None, Head]:
    """Write the source into the live file and keep aside what stood there; give its place and its head."""
    with closing(connect(source, write=False)) as from_:
        if not path.exists():
            _copy_out(source, from_, path)
            return None, Head(0, GENESIS)
        aside = path.with_name(f"{path.stem}-before-restore-{at:%Y%m%dT%H%M%S}{path.suffix}")
        try:
            return aside, _written_over(path, from_, aside)
        except RecordDamaged:
            # Nothing can be written into it, and nobody can have it open: it is moved as it is.
            for end in ("", "-wal", "-shm"):
                part = path.with_name(path.name + end)
                if part.exists():
                    part.rename(aside.with_name(aside.name + end))
            _copy_out(source, from_, path)
            return aside, Head(0, GENESIS)


def _written_over(path: Path, from_: sqlite3.Connection, aside: Path) -> Head:
    """Copy page by page; the first page takes the write lock, and under it the old content is kept aside."""
    live, was = connect(path, write=True), connect(path, write=False)
    with closing(live), closing(was), ours(path):
        check_is_record(live, path)
        kept: list[Head] = []
        waited = 0

        def step(status: int, remaining: int, total: int) -> None:
            nonlocal waited
            if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                waited += 1
                if waited > _PATIENCE:
                    raise RecordBusy(f"{path.name} is written to all the time: try again when it is idle.")
            elif not kept:
                kept.append(_head(was))
                _copy_out(path, was, aside)

        from_.backup(live, pages=1, progress=step, sleep=0.1)
    return kept[0]


def _head(connection: sqlite3.Connection) -> Head:
    try:
        row = connection.execute("SELECT entry, digest FROM journal ORDER BY entry DESC LIMIT 1").fetchone()
    except sqlite3.DatabaseError:
        row = None  # too damaged to say: what stood there is kept aside all the same
    return Head(*row) if row is not None else Head(0, GENESIS)


def _copy_out(path: Path, connection: sqlite3.Connection, to: Path) -> None:
    """Copy what a connection sees into a new file that stands alone."""
    new_file(to)
    try:
        with ours(to), closing(sqlite3.connect(to, isolation_level=None)) as out:
            with ours(path):
                connection.backup(out)
            out.execute("PRAGMA journal_mode = DELETE")
    except BaseException:
        to.unlink(missing_ok=True)
        raise
