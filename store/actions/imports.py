"""A whole file into a register: all of its rows or none, or only looked at."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from store.actions import row_checks
from store.actions.acting import Acting
from store.actions.known import Known
from store.actions.registers import enter_row, keep_a_keeper, looked_at, same
from store.exchange.raw import Faults, RawRow
from store.model.registers import Row
from store.model.words import Role
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Taken:
    """What an import did, by id."""

    new: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    unchanged: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    """What does not fit together in rows that were taken all the same, each with its line."""


def take(acting: Acting, register: str, rows: Sequence[RawRow], file: str, *, reason: str = "") -> Taken:
    """Take every row of a file, or none.

    Parameters
    ----------
    rows
        As `read_rows` gave them.
    file
        Name of the file, for the sentence and, where no reason is given, for the entries of changed rows.

    Raises
    ------
    NotAllowed
        No keeper.
    ImportRefused
        Every fault by line and column; nothing was taken.
    """
    acting.must(Role.KEEPER)
    record = acting.record
    # Looked at before the write lock is held, so that a large file keeps nobody waiting.
    seen = record.head().entry
    known, checked = _checked(record, register, rows, file)
    with record.immediate():
        if record.head().entry != seen:
            known, checked = _checked(record, register, rows, file)
        keep_a_keeper(known, register, {row.id: row for row in checked})
        taken = _sorted(known, register, rows, checked)
        why = dict.fromkeys(taken.new, "")
        why |= dict.fromkeys(taken.changed, reason.strip() or f"import of {file}")
        for row in checked:
            if row.id in why:
                enter_row(acting, register, row, why[row.id])
    return taken


def look(record: Record, register: str, rows: Sequence[RawRow], file: str) -> Taken:
    """Say what taking a file would do, and write nothing; anybody may ask.

    Raises
    ------
    ImportRefused
        Every fault by line and column.
    """
    known, checked = _checked(record, register, rows, file)
    keep_a_keeper(known, register, {row.id: row for row in checked})
    return _sorted(known, register, rows, checked)


def _sorted(known: Known, register: str, rows: Sequence[RawRow], checked: Sequence[Row]) -> Taken:
    ids: dict[str, dict[str, None]] = {"new": {}, "changed": {}, "unchanged": {}}
    for row in checked:
        old = known.row(register, row.id)
        ids["new" if old is None else "unchanged" if same(old, row) else "changed"][row.id] = None
    remarks = tuple(
        f"line {raw.line_of('classification')}, {row.id}: {what}"
        for raw, row in zip(rows, checked, strict=True)
        for what in row_checks.remarks(row)
    )
    return Taken(tuple(ids["new"]), tuple(ids["changed"]), tuple(ids["unchanged"]), remarks)


def _checked(record: Record, register: str, rows: Iterable[RawRow], file: str) -> tuple[Known, list[Row]]:
    known, faults = Known(record), Faults(file)
    good: list[Row] = []
    lines: dict[str, int] = {}
    for raw in rows:
        row, wrong = looked_at(known, register, raw.cells)
        for error in wrong:
            faults.add(raw.line_of(error.field), error.field, error.what)
        if not wrong:
            first = lines.setdefault(row.id.casefold(), raw.line)
            if first != raw.line:
                faults.add(
                    raw.line_of("id"), "id", f"{row.id} stands in line {first} already: keep one of them."
                )
            good.append(row)
    faults.settle()
    return known, good
