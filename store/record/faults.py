"""Every `sqlite3.Error` becomes one of ours, with a sentence that says what to do."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from store.errors import (
    RecordBusy,
    RecordDamaged,
    RecordError,
    RecordFull,
    RecordReadOnly,
)

_BUSY = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
_READ_ONLY = {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_AUTH}
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
_CUT = {sqlite3.SQLITE_IOERR_SHORT_READ}
_NO_SPACE = {
    sqlite3.SQLITE_IOERR_WRITE,
    sqlite3.SQLITE_IOERR_TRUNCATE,
    sqlite3.SQLITE_IOERR_FSYNC,
    sqlite3.SQLITE_IOERR_SHMSIZE,
}
_SHARED_MEMORY = {
    sqlite3.SQLITE_IOERR_SHMOPEN,
    sqlite3.SQLITE_IOERR_SHMMAP,
    sqlite3.SQLITE_IOERR_SHMLOCK,
    sqlite3.SQLITE_IOERR_LOCK,
}

LOCAL_DISK = (
    "{} must lie on a local disk: a network file system keeps neither its locks nor what was written."
)


def named(error: sqlite3.Error, path: Path) -> RecordError:
    """Give our error for one of SQLite's."""
    code = getattr(error, "sqlite_errorcode", 0) or 0
    primary = code & 0xFF
    if primary in _BUSY:
        return RecordBusy(
            f"Another program held {path.name} for too long: nothing was written; wait a moment, try again."
        )
    if primary == sqlite3.SQLITE_FULL or code in _NO_SPACE:
        return RecordFull(
            f"The disk has no space left for {path.name}: nothing was written; free some space, try again."
        )
    if primary in _READ_ONLY:
        return RecordReadOnly(
            f"{path} cannot be written: nothing was written; make the file and its folder writable."
        )
    if primary in _DAMAGED or code in _CUT or isinstance(error, sqlite3.IntegrityError):
        return RecordDamaged(f"{path} is damaged or is not a record ({error}): run tarebook verify on it.")
    if primary == sqlite3.SQLITE_PROTOCOL or code in _SHARED_MEMORY:
        return RecordError(LOCAL_DISK.format(path))
    if primary == sqlite3.SQLITE_IOERR:
        return RecordError(f"{path} could not be read or written ({error}): check the disk, try again.")
    return RecordDamaged(f"{path} does not hold what it should ({error}): run tarebook verify on it.")


@contextmanager
def ours(path: Path) -> Iterator[None]:
    """Turn what SQLite raises inside into our errors."""
    try:
        yield
    except sqlite3.Error as error:
        raise named(error, path) from error
    except UnicodeDecodeError as error:
        # A damaged name in the schema stands in SQLite's message, which then cannot be read either.
        raise RecordDamaged(
            f"{path} is damaged, a text in it cannot be read: run tarebook verify on it."
        ) from error
