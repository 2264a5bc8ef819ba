"""What a register row is made of: fields that say what they mean and what kind of text they take."""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any, Self


def col(what: str, kind: str = "text", *, default: Any = MISSING, choices: tuple[str, ...] = ()) -> Any:
    """Declare a field of a register: its meaning for a person, and what kind of text it takes.

    Kinds: text, id, yesno, list, date, cas, formula, statements, roles, choice, number, percent,
    a kind of unit (mass, volume, density, ...), or `ref:REGISTER`.
    """
    if default is MISSING:
        return field(metadata={"what": what, "kind": kind, "choices": choices})
    return field(default=default, metadata={"what": what, "kind": kind, "choices": choices})


LIST_KINDS = ("list", "statements", "roles")
"""Kinds of columns that take several texts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of a register."""

    id: str

    def to_body(self) -> dict[str, Any]:
        """Give the row as plain data; empty fields are left out."""
        out: dict[str, Any] = {}
        for f in fields(self):
            value = getattr(self, f.name)
            if value not in ("", (), False) or f.name == "id":
                out[f.name] = list(value) if isinstance(value, tuple) else value
        return out

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> Self:
        """Read a row back; fields of another edition of the program are dropped."""
        names = {f.name for f in fields(cls)}
        known: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in body.items()}
        return cls(**{k: v for k, v in known.items() if k in names})
