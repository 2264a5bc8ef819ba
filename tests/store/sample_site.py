"""The sample site, taken in through the same door as any import."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from store.actions import imports, people
from store.actions.acting import Acting
from store.actions.imports import Taken
from store.actions.registers import check_row
from store.errors import BadField
from store.exchange.tables import read_rows
from store.model.registers import REGISTERS, Row
from store.queries import registers as ask
from store.record import people as pins
from store.record.record import Record

SAMPLES = Path(__file__).parents[2] / "samples"
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def empty(path: Path) -> Acting:
    """Begin a record with nobody but its keeper."""
    cost, pins.N = pins.N, 2
    try:
        record = Record.create(path, now=lambda: NOW, terminal="7F3A", site="test")
        return people.first_keeper(record, id="re-1", name="N. K.", pin="4444")
    finally:
        pins.N = cost


def take_all(acting: Acting, folder: Path = SAMPLES, end: str = "toml") -> dict[str, Taken]:
    """Take every register of a folder, in their order."""
    return {
        register: imports.take(acting, register, read_rows(file, register), file.name)
        for register in REGISTERS
        for file in (folder / f"{register}.{end}",)
    }


def rows(record: Record, register: str) -> tuple[Row, ...]:
    """Give the rows of a register as they stand."""
    return tuple(REGISTERS[register].from_body(r.row) for r in ask.rows(record, register))


def cells(site: Acting, kind: str, id: str, **changed: Any) -> dict[str, Any]:
    """Give a row as it would be typed, with some fields changed."""
    return as_typed(ask.body(site.record, kind, id)) | changed


def as_typed(body: dict[str, Any]) -> dict[str, Any]:
    return {k: "yes" if v is True else tuple(v) if isinstance(v, list) else v for k, v in body.items()}


def refused(site: Acting, kind: str, id: str, **changed: Any) -> str:
    """Give the field that a changed row is refused for."""
    with pytest.raises(BadField) as caught:
        check_row(site.record, kind, cells(site, kind, id, **changed))
    assert "\n" not in caught.value.what
    return caught.value.field
