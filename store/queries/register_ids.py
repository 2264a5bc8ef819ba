"""Ids of a register: which are alike, near, between two, or named in other rows; no row is read for them."""

from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from typing import NamedTuple

from store.record.record import Record


def ids(record: Record, register: str) -> Iterator[str]:
    """Give the ids of a register, of retired rows too."""
    return (r["id"] for r in record.query("SELECT id FROM register_row WHERE register = :r", r=register))


def between(record: Record, register: str, first: str, last: str) -> tuple[str, ...]:
    """Give the ids in use from one to another, in natural order: V-1 to V-10 has V-2 in it."""
    there = record.query(
        "SELECT id FROM register_row WHERE register = :register AND NOT retired "
        "AND natural_order(id) BETWEEN natural_order(:first) AND natural_order(:last) "
        "ORDER BY natural_order(id)",
        register=register,
        first=first,
        last=last,
    )
    return tuple(r["id"] for r in there)


def alike(record: Record, register: str, id: str) -> str:
    """Give another id of the register that only its capitals tell from this one, or nothing."""
    there = record.query(
        "SELECT id FROM register_row INDEXED BY register_row_use "
        "WHERE register = :register AND id = :id COLLATE NOCASE AND id <> :id LIMIT 1",
        register=register,
        id=id,
    )
    return str(there[0]["id"]) if there else ""


MANY = 5000
"""So many rows that name another are counted; of more it is only said that there are more."""


class Referring(NamedTuple):
    """Rows in use that name another row: the first ids, and how many there are beside them."""

    ids: tuple[str, ...]
    more: int

    @property
    def said(self) -> str:
        """How many more, for people; empty where all are named."""
        over = len(self.ids) + self.more > MANY
        return f" and {f'more than {MANY}' if over else self.more} more" if self.more else ""


def referring(record: Record, register: str, names: Iterable[str], id: str, *, most: int = 20) -> Referring:
    """Give the rows in use of a register that name `id` in some fields, in natural order unless many."""
    in_use = f"SELECT id FROM register_row WHERE register = '{register}' AND NOT retired"
    fields = [f"row ->> '$.{name}'" for name in names]
    # Each index is walked as far as it must be: a row that names it in two fields counts for the first.
    naming = " UNION ALL ".join(
        " AND ".join(
            (in_use, f"{field} = :id", *(f"coalesce({other}, '') <> :id" for other in fields[:number]))
        )
        for number, field in enumerate(fields)
    )
    (counted,) = record.query(f"SELECT count(*) AS n FROM ({naming} LIMIT {MANY + 1})", id=id)
    order = "ORDER BY natural_order(id)" if counted["n"] <= MANY else ""
    there = record.query(f"SELECT id FROM ({naming}) {order} LIMIT :most", id=id, most=most)
    ids = tuple(r["id"] for r in there)
    return Referring(ids, counted["n"] - len(ids))


AROUND = 300
"""So many ids before and after a mistyped one are held against it: in a short register, all of them."""


def nearest(record: Record, register: str, id: str) -> tuple[str, ...]:
    """Give the ids in use that are most like one that is not there, among those around its place."""
    around: list[str] = []
    for sign, order in ((">=", ""), ("<", "DESC")):
        found = record.query(
            f"SELECT id FROM register_row WHERE register = :register AND id {sign} :id AND NOT retired "
            f"ORDER BY id {order} LIMIT :most",
            register=register, id=id, most=AROUND,
        )  # fmt: skip
        around += [r["id"] for r in found]
    return tuple(get_close_matches(id, sorted(around), n=3, cutoff=0.4))
