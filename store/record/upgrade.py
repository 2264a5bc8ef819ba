"""Begin a file, and bring an older one up to date: journal steps only add, derived tables are made anew."""

import platform
import sqlite3
from typing import TYPE_CHECKING

from store.record import derived, schema

if TYPE_CHECKING:
    from store.record.record import Record

VERSION = schema.VERSION * 1000 + derived.VERSION
"""What stands in `user_version` of a file of this edition."""

BY_ITSELF = "tarebook"
"""Who writes what no person did."""


def libraries() -> dict[str, str]:
    """Give the versions that decide how numbers and texts come out."""
    found = {"python": platform.python_version(), "sqlite": sqlite3.sqlite_version}
    for name in ("sqlite-utils", "pint", "uncertainties", "molmass"):
        found[name] = _version(name)
    return found


def _version(name: str) -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"


def begin(record: "Record", *, site: str) -> None:
    """Lay out an empty file and write its first entry."""
    from store.events import RecordBegun

    with record.transaction():
        record._conn.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
        _steps(record, 0)
        derived.create(record._conn)
        record._conn.execute(f"PRAGMA user_version = {VERSION}")
        begun = RecordBegun(site=site, program=_version("tarebook"), libraries=libraries())
        record.append(begun, person=BY_ITSELF, subject="record")


def bring_up(record: "Record") -> None:
    """Bring a file of an older edition to this one, in one transaction."""
    with record.transaction():
        found = record.version()
        if found >= VERSION:
            return
        _steps(record, found // 1000)
        record._conn.execute(f"PRAGMA user_version = {VERSION}")
        record.rebuild()


def _steps(record: "Record", have: int) -> None:
    for number, statements in schema.STEPS.items():
        if number > have:
            for statement in statements:
                record._conn.execute(statement)
