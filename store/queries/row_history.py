"""What became of a register row, entry by entry."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from store.queries.registers import read, text_of
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Change:
    """One entry of a row's history: what differs from the entry before it."""

    entry: int
    at: str
    by: str
    reason: str
    retired: bool
    differs: tuple[tuple[str, str, str], ...]
    """Field, text before, text after; none at the first entry."""


def history(record: Record, register: str, id: str) -> tuple[Change, ...]:
    """Give every entry of a row, the oldest first."""
    found = record.query(
        """
        SELECT entry, row, retired, reason, at, by FROM register_history
        WHERE register = :register AND id = :id ORDER BY entry
        """,
        register=register,
        id=id,
    )
    out: list[Change] = []
    before: Mapping[str, Any] | None = None
    for r in found:
        now = read(r["row"])
        differs = () if before is None else tuple(_differs(before, now))
        out.append(Change(r["entry"], r["at"], r["by"], r["reason"], bool(r["retired"]), differs))
        before = now
    return tuple(out)


def _differs(before: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    for name in dict.fromkeys((*before, *now)):
        old, new = text_of(before.get(name, "")), text_of(now.get(name, ""))
        if old != new:
            yield name, old, new
