"""What stands in the site's registers now."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, tzinfo
from typing import TYPE_CHECKING, Any

from store.errors import NotFound
from store.model.settings import SETTINGS
from store.queries import register_ids
from store.record.record import Record

if TYPE_CHECKING:
    from store.model.registers import LocalRule, Person


@dataclass(frozen=True, slots=True)
class RegisterRow:
    """One row as it stands: since which entry, by whom, and whether it is retired."""

    register: str
    id: str
    row: Mapping[str, Any]
    entry: int
    since: str
    by: str
    retired: bool


def rows(record: Record, register: str, *, retired: bool = False, limit: int = -1) -> tuple[RegisterRow, ...]:
    """Give the rows of a register by id in natural order, the first so many of them."""
    found = record.query(
        """
        SELECT register, id, row, entry, since, by, retired FROM register_row
        WHERE register = :register AND (:retired OR NOT retired)
        ORDER BY natural_order(id) LIMIT :limit
        """,
        register=register,
        retired=retired,
        limit=limit,
    )
    return tuple(as_row(r) for r in found)


GROWING = ("lot", "container")
"""Registers that every prep adds to: words are looked up in them, by how each begins; the others are read."""

MANY = 5000
"""Rows of such a register beyond which it is listed by entry, the newest first: none reads so many by id."""


def page(
    record: Record, register: str, *, find: str = "", limit: int, offset: int = 0
) -> tuple[RegisterRow, ...]:
    """Give some rows of a register by id, those in use first; only those that hold the words, if any.

    Words are looked for in the id and in every field as written, whatever the case of their Latin letters.
    A register that grew very long comes in the order of its entries, as `newest_first` says.
    """
    if newest_first(record, register):
        return _newest(record, register, find, limit=limit, offset=offset)
    test = "instr(lower(id || ' ' || row), :find) > 0" if find.strip() else "TRUE"
    words = "".join(c.lower() if c.isascii() else c for c in find.strip())
    from store.queries.search import of_kind, phrase

    if register in GROWING and (match := phrase(words)):
        test, words = "id IN (SELECT id FROM search WHERE search MATCH :find)", of_kind(match, register)
    found = record.query(
        f"""
        WITH here AS (
            SELECT id FROM register_row WHERE register = :register AND {test}
            ORDER BY retired, natural_order(id) LIMIT :limit OFFSET :offset
        )
        SELECT register, id, row, entry, since, by, retired FROM register_row
        WHERE register = :register AND id IN (SELECT id FROM here) ORDER BY retired, natural_order(id)
        """,
        register=register,
        find=words,
        limit=limit,
        offset=offset,
    )
    return tuple(as_row(r) for r in found)


def newest_first(record: Record, register: str) -> bool:
    """Say whether a register is listed with its newest entry first, retired rows among the others."""
    beyond = "SELECT 1 FROM register_row WHERE register = :register LIMIT 1 OFFSET :many"
    return register in GROWING and bool(record.query(beyond, register=register, many=MANY))


def _newest(record: Record, register: str, find: str, *, limit: int, offset: int) -> tuple[RegisterRow, ...]:
    from store.queries.search import of_kind, phrase

    match = phrase(find)
    if find.strip() and not match:
        return ()
    found = record.query(
        """
        SELECT r.register, r.id, r.row, r.entry, r.since, r.by, r.retired
        FROM search AS s CROSS JOIN register_row AS r ON r.register = s.kind AND r.id = s.id
        WHERE search MATCH :match ORDER BY s.rowid DESC LIMIT :limit OFFSET :offset
        """,
        match=of_kind(match, register),
        limit=limit,
        offset=offset,
    )
    return tuple(as_row(r) for r in found)


def is_in_use(record: Record, register: str, id: str) -> bool:
    """Say whether a row is there and not retired."""
    return bool(
        record.query(
            "SELECT 1 FROM register_row WHERE register = :register AND id = :id AND NOT retired",
            register=register,
            id=id,
        )
    )


def counts(record: Record) -> Mapping[str, tuple[int, int]]:
    """Give how many rows of each register are in use, and how many are retired."""
    found = record.query(
        "SELECT register, retired, count(*) AS n FROM register_row GROUP BY register, retired"
    )
    many = {(r["register"], bool(r["retired"])): r["n"] for r in found}
    return {register: (many.get((register, False), 0), many.get((register, True), 0)) for register, _ in many}


def row(record: Record, register: str, id: str) -> RegisterRow:
    """Give one row.

    Raises
    ------
    NotFound
        There is none with this id; the nearest ids are named.
    """
    there = found(record, register, id)
    if there is None:
        raise NotFound(f"There is no {register} {id!r} in the register{_nearest(record, register, id)}.")
    return there


def found(record: Record, register: str, id: str) -> RegisterRow | None:
    """Give one row, a retired one too; None where there is none."""
    there = record.query(
        """
        SELECT register, id, row, entry, since, by, retired FROM register_row
        WHERE register = :register AND id = :id
        """,
        register=register,
        id=id,
    )
    return as_row(there[0]) if there else None


def body(record: Record, register: str, id: str) -> dict[str, Any]:
    """Give one row as plain data."""
    return dict(row(record, register, id).row)


def in_use(record: Record, register: str, id: str) -> dict[str, Any]:
    """Give one row as plain data, for something that begins now.

    Raises
    ------
    NotFound
        There is none, or it was retired.
    """
    there = row(record, register, id)
    if there.retired:
        raise NotFound(f"The {register} {id} was retired: choose another.")
    return dict(there.row)


def text_of(value: object) -> str:
    """Give a field as it is typed: lists parted by semicolons, yes or no."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "; ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)


def settings(record: Record) -> dict[str, str]:
    """Give every setting in force: the site's own, or its default."""
    own = {r.id: str(r.row.get("value", "")) for r in rows(record, "setting")}
    return {name: own.get(name) or kind.default for name, kind in SETTINGS.items()}


def shows_utc(record: Record) -> bool:
    """Say whether the site has clock times shown in UTC."""
    found = record.query(
        "SELECT row ->> '$.value' AS value FROM register_row "
        "WHERE register = 'setting' AND id = 'times' AND NOT retired"
    )
    return bool(found) and found[0]["value"] not in (None, "", SETTINGS["times"].default)


def zone(record: Record) -> tzinfo | None:
    """Give the zone that clock times are shown in: that of the computer, or UTC as the site has set it."""
    return UTC if shows_utc(record) else record.now().tzinfo


def person(record: Record, id: str) -> Person:
    """Give a person who may still work here, or say why not."""
    from store.model.registers import Person

    found = row(record, "person", id)
    who, today = Person.from_body(found.row), record.due_now().date().isoformat()
    if found.retired or (who.left and who.left < today):
        raise NotFound(f"Person {id} has left.")
    if who.joined > today:
        raise NotFound(f"Person {id} works here from {who.joined} on.")
    return who


def people_here(record: Record) -> tuple[str, ...]:
    """Give the ids of those who may still work here."""
    today = record.due_now().date().isoformat()
    return tuple(
        r.id
        for r in rows(record, "person")
        if not (r.row.get("left") and str(r.row["left"]) < today) and str(r.row.get("joined", "")) <= today
    )


def rules_for(
    record: Record, *, step: str, substances: tuple[str, ...], families: tuple[str, ...]
) -> tuple[LocalRule, ...]:
    """Give the local rules in force today for a step, by number; a version to come does not stand yet."""
    from store.model.registers import LocalRule

    out = []
    today = record.due_now().date().isoformat()
    for found in rows(record, "rule"):
        rule = LocalRule.from_body(found.row)
        if rule.since > today:  # until then the version before it stands
            earlier = [LocalRule.from_body(b) for b in _versions(record, "rule", rule.id)]
            before = [r for r in earlier if r.since <= today]
            if not before:
                continue
            rule = before[-1]
        if (
            (not rule.steps or step in rule.steps)
            and (not rule.substances or set(rule.substances) & set(substances))
            and (not rule.families or set(rule.families) & set(families))
        ):
            out.append(rule)
    return tuple(sorted(out, key=lambda r: (len(r.id), r.id)))


def _versions(record: Record, register: str, id: str) -> tuple[dict[str, Any], ...]:
    """Give every row that stood under an id, the oldest first."""
    found = record.query(
        "SELECT row FROM register_history WHERE register = :register AND id = :id AND NOT retired "
        "ORDER BY entry", register=register, id=id,
    )  # fmt: skip
    return tuple(json.loads(r["row"]) for r in found)


def as_row(found: Mapping[str, Any]) -> RegisterRow:
    """Give a found row of the table as it is handed out."""
    return RegisterRow(
        register=found["register"],
        id=found["id"],
        row=read(found["row"]),
        entry=found["entry"],
        since=found["since"],
        by=found["by"],
        retired=bool(found["retired"]),
    )


def read(row: str) -> dict[str, Any]:
    """Give the plain data of a stored row."""
    content: dict[str, Any] = json.loads(row)
    return content


def _nearest(record: Record, register: str, id: str) -> str:
    from store.model.registers import REGISTERS

    if register not in REGISTERS:
        return f"; registers are {', '.join(REGISTERS)}"
    near = register_ids.nearest(record, register, id)
    return f"; near it: {', '.join(near)}" if near else ""
