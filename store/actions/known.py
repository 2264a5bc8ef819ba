"""What a register row may refer to: the rows of the record, and those that come in beside it."""

from collections.abc import Collection, Mapping
from typing import Any

from store.queries import register_ids, registers
from store.queries.registers import RegisterRow
from store.record.record import Record

FEW = 8
"""So many ids are looked for one by one; for more, as a file brings them, the ids are read once."""


class Known:
    """The registers as they stand; each row that is asked for is read once.

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
        self._rows: dict[tuple[str, str], RegisterRow | None] = {}
        self._asked: dict[str, int] = {}
        self._folded: dict[str, dict[str, str]] = {}

    def row(self, register: str, id: str) -> RegisterRow | None:
        """Give a row, a retired one too; None where there is none."""
        if (register, id) not in self._rows:
            self._rows[register, id] = registers.found(self.record, register, id)
        return self._rows[register, id]

    def rows(self, register: str) -> tuple[RegisterRow, ...]:
        """Give every row of a register that a site has few of, such as its people; the retired ones too."""
        return registers.rows(self.record, register, retired=True)

    def has(self, register: str, id: str) -> bool:
        """Say whether a row may be referred to: it is there, and not retired."""
        row = self.row(register, id)
        return (row is not None and not row.retired) or id in self._beside.get(register, ())

    def retired(self, register: str, id: str) -> bool:
        """Say whether it was there once."""
        row = self.row(register, id)
        return row is not None and row.retired

    def body(self, register: str, id: str) -> Mapping[str, Any]:
        """Give a row as plain data; nothing where there is none yet."""
        row = self.row(register, id)
        return row.row if row is not None else {}

    def alike(self, register: str, id: str) -> str:
        """Give another id of the register that only its capitals tell from this one, or nothing."""
        if self.row(register, id) is not None:
            return ""
        self._asked[register] = self._asked.get(register, 0) + 1
        if self._asked[register] <= FEW:
            return register_ids.alike(self.record, register, id)
        if register not in self._folded:
            self._folded[register] = {i.casefold(): i for i in register_ids.ids(self.record, register)}
        return self._folded[register].get(id.casefold(), "")

    def used(self, register: str, id: str) -> bool:
        """Say whether a prep was planned with a lot, or with a container or took from it, in any vessel."""
        where = {
            "lot": "SELECT 1 FROM used_lot WHERE lot = :id LIMIT 1",
            "container": """
                SELECT 1 FROM prep WHERE :id IN (container, solvent_container)
                UNION ALL SELECT 1 FROM handling WHERE container = :id LIMIT 1
            """,
        }
        return bool(self.record.query(where[register], id=id))
