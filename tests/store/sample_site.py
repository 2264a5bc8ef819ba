"""The sample site, taken in through the same door as any import."""

from datetime import UTC, datetime
from pathlib import Path

from store.actions import people, registers
from store.actions.acting import Acting
from store.actions.registers import Taken
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
        register: registers.take(acting, register, read_rows(file, register), file.name)
        for register in REGISTERS
        for file in (folder / f"{register}.{end}",)
    }


def rows(record: Record, register: str) -> tuple[Row, ...]:
    """Give the rows of a register as they stand."""
    return tuple(REGISTERS[register].from_body(r.row) for r in ask.rows(record, register))
