"""How the file is opened: the settings that durability, the chain and several writers need.

Local disks only: a write-ahead log needs memory that its readers share, and locks that hold. On a network
file system nothing of what the record promises is promised.
"""

import os
import sqlite3
from pathlib import Path

from store.errors import FileRefused, OldSqlite, RecordDamaged, RecordError, RecordMissing
from store.model.naming import natural
from store.record.faults import LOCAL_DISK, ours
from store.record.journal import digest_of
from store.record.schema import APPLICATION_ID

CACHE_KIB = 65_536
"""Pages kept in memory at most; they are taken as they are read. In SQLite's own 2 MB, writing into twenty
indexes of a large record reads every page again and again."""

BULK_CACHE_KIB = 262_144
"""The same while a whole history is folded."""

BUSY_S = 5.0
"""How long a write waits for another program's."""


def check_library(version: tuple[int, ...] = sqlite3.sqlite_version_info) -> None:
    """Refuse a SQLite library without STRICT tables and `->>`.

    Raises
    ------
    OldSqlite
        It is older than 3.38.
    """
    if version < (3, 38, 0):
        raise OldSqlite(
            f"This Python carries SQLite {'.'.join(map(str, version))}; Tarebook needs 3.38 or newer: "
            "install a newer Python."
        )


def new_file(path: Path) -> None:
    """Make an empty file that only its owner can read.

    Raises
    ------
    FileRefused
        Something is there already, or the folder cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except FileExistsError:
        raise FileRefused(f"{path} exists already and is left as it is: name another file.") from None
    except OSError as error:
        raise FileRefused(f"{path} cannot be made ({error.strerror}): name another place.") from None


def connect(path: Path, *, write: bool, timeout_s: float = BUSY_S) -> sqlite3.Connection:
    """Open an existing file with the settings every connection has.

    Raises
    ------
    RecordMissing
        There is no file.
    RecordError
        As SQLite finds it.
    """
    check_library()
    if not path.is_file():
        raise RecordMissing(f"There is no record at {path}: name another with --record FILE.")
    with ours(path):
        return _opened(path, "mode=rw", timeout_s) if write else _reading(path, timeout_s)


def _opened(path: Path, mode: str, timeout_s: float) -> sqlite3.Connection:
    uri = f"{path.absolute().as_uri()}?{mode}"
    connection = sqlite3.connect(uri, uri=True, timeout=timeout_s, isolation_level=None)
    try:
        connection.create_function("tarebook_digest", 2, digest_of, deterministic=True)
        connection.create_function("natural_order", 1, natural, deterministic=True)
        connection.execute("PRAGMA recursive_triggers = ON")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
        if mode == "mode=rw":
            if connection.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
                (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
                if mode != "wal":
                    raise RecordError(LOCAL_DISK.format(path))
            connection.execute("PRAGMA synchronous = FULL")
        else:
            connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def _reading(path: Path, timeout_s: float) -> sqlite3.Connection:
    """Open for reading; on a medium without a writable folder the file stands alone and cannot change."""
    try:
        return _opened(path, "mode=ro", timeout_s)
    except sqlite3.OperationalError as error:
        wal = path.with_name(path.name + "-wal")
        alone = not wal.exists() or wal.stat().st_size == 0
        if error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY) and alone:
            return _opened(path, "mode=ro&immutable=1", timeout_s)
        raise


def check_is_record(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse a file that is not a record.

    Raises
    ------
    RecordDamaged
        Another SQLite file, or not one at all.
    """
    with ours(path):
        found = connection.execute("PRAGMA application_id").fetchone()[0]
    if found != APPLICATION_ID:
        raise RecordDamaged(f"{path} is not a record of Tarebook: name another with --record FILE.")
