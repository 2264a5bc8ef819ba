"""What a register row may refer to: the rows of the record, and those that come in beside it."""

from collections.abc import Collection, Mapping
from typing import Any

from store.queries import registers
from store.queries.registers import RegisterRow
from store.record.record import Record


class Known:
    """The registers as they stand, each read once.

    Parameters
    ----------
    record
        Where they are.
    beside
        Ids by register that come in together with the row looked at.
    """

    def __init__(self, record: Record, beside: Mapping[str, Collection[str]] | None = None) -> None:
        self.record = record
        self._beside = beside or {}
        self._rows: dict[str, dict[str, RegisterRow]] = {}
        self._folded: dict[str, dict[str, str]] = {}

    def rows(self, register: str) -> Mapping[str, RegisterRow]:
        """Give every row of a register by id, the retired ones too."""
        if register not in self._rows:
            self._rows[register] = {r.id: r for r in registers.rows(self.record, register, retired=True)}
        return self._rows[register]

    def has(self, register: str, id: str) -> bool:
        """Say whether a row may be referred to: it is there, and not retired."""
        row = self.rows(register).get(id)
        return (row is not None and not row.retired) or id in self._beside.get(register, ())

    def retired(self, register: str, id: str) -> bool:
        """Say whether it was there once."""
        row = self.rows(register).get(id)
        return row is not None and row.retired

    def body(self, register: str, id: str) -> Mapping[str, Any]:
        """Give a row as plain data; nothing where there is none yet."""
        row = self.rows(register).get(id)
        return row.row if row is not None else {}

    def alike(self, register: str, id: str) -> str:
        """Give another id of the register that only its capitals tell from this one, or nothing."""
        if register not in self._folded:
            self._folded[register] = {known.casefold(): known for known in self.rows(register)}
        other = self._folded[register].get(id.casefold(), "")
        return other if other != id and id not in self.rows(register) else ""

    def used(self, register: str, id: str) -> bool:
        """Say whether a prep was planned with a lot or a container."""
        where = {
            "lot": "SELECT 1 FROM prep WHERE :id IN (lot, solvent_lot) LIMIT 1",
            "container": "SELECT 1 FROM prep WHERE :id IN (container, solvent_container) LIMIT 1",
        }
        return bool(self.record.query(where[register], id=id))
