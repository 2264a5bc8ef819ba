"""Rows that a typed word may mean: so many of them as are shown, however long the register is."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from store.queries import registers
from store.queries.registers import RegisterRow
from store.queries.search import of_kind
from store.record.record import Record

_ROW = "r.register, r.id, r.row, r.entry, r.since, r.by, r.retired"


def rows(record: Record, register: str, words: Iterable[str] = (), *, limit: int) -> tuple[RegisterRow, ...]:
    """Give rows in use that have every word in them, those whose id begins with the words first."""
    wanted = [_lower(word) for word in words]
    if register in registers.GROWING and wanted:
        return _looked_up(record, register, wanted, limit)
    test = "".join(f" AND instr(lower(r.id || ' ' || r.row), :w{n}) > 0" for n in range(len(wanted)))
    found = record.query(
        f"""
        SELECT {_ROW} FROM register_row AS r
        WHERE r.register = :register AND NOT r.retired {test}
        ORDER BY instr(lower(r.id), :first) <> 1, natural_order(r.id) LIMIT :limit
        """,
        register=register,
        first=" ".join(wanted),
        limit=limit,
        **{f"w{n}": word for n, word in enumerate(wanted)},
    )
    return tuple(registers.as_row(r) for r in found)


def _lower(word: str) -> str:
    """As SQLite has it: the case of Latin letters alone."""
    return "".join(c.lower() if c.isascii() else c for c in word)


def _match(words: Sequence[str]) -> str:
    kept = [word.replace('"', "") for word in words if any(sign.isalnum() for sign in word)]
    return " ".join(f'"{word}"*' for word in kept)


def _looked_up(record: Record, register: str, words: Sequence[str], limit: int) -> tuple[RegisterRow, ...]:
    if not (match := _match(words)):
        return ()
    found = record.query(
        f"""
        SELECT {_ROW} FROM search AS s
        CROSS JOIN register_row AS r ON r.register = s.kind AND r.id = s.id
        WHERE search MATCH :match AND NOT r.retired
        ORDER BY s.rowid DESC LIMIT :limit
        """,
        match=of_kind(match, register),
        limit=limit,
    )
    first = " ".join(words)
    return tuple(sorted(map(registers.as_row, found), key=lambda r: not r.id.casefold().startswith(first)))


Bottle = tuple[RegisterRow, Mapping[str, Any], Mapping[str, Any]]
"""A container, the row of its lot, the row of its substance; the last is empty where there is none."""


def bottles(record: Record, words: Iterable[str] = (), *, limit: int) -> tuple[Bottle, ...]:
    """Give containers in use of lots that were bought, by words of themselves, their lot and substance."""
    wanted = [_lower(word) for word in words]
    test = "".join(f" AND instr(text, :w{n}) > 0" for n in range(len(wanted)))
    found = record.query(
        f"""
        WITH bottle AS (
            SELECT {_ROW}, l.row AS lot, coalesce(s.row, '{{}}') AS substance,
                   lower(r.id || ' ' || l.id || ' ' || coalesce(r.row ->> '$.place', '') || ' '
                         || (l.row ->> '$.substance') || ' ' || coalesce(s.row ->> '$.name', '') || ' '
                         || coalesce(s.row ->> '$.cas', '') || ' ' || coalesce(s.row ->> '$.formula', '')
                         || ' ' || coalesce(s.row ->> '$.synonyms', '')) AS text
            FROM register_row AS l INDEXED BY register_row_bought
            CROSS JOIN register_row AS r INDEXED BY register_row_of_lot ON r.row ->> '$.lot' = +l.id
            LEFT JOIN register_row AS s ON s.register = 'substance' AND s.id = l.row ->> '$.substance'
            WHERE l.register = 'lot' AND NOT l.retired AND l.row ->> '$.concentration' IS NULL
                AND r.register = 'container' AND NOT r.retired
        )
        SELECT * FROM bottle WHERE TRUE {test}
        ORDER BY instr(lower(id), :first) <> 1, natural_order(id) LIMIT :limit
        """,
        first=" ".join(wanted),
        limit=limit,
        **{f"w{n}": word for n, word in enumerate(wanted)},
    )
    return tuple(
        (registers.as_row(r), registers.read(r["lot"]), registers.read(r["substance"])) for r in found
    )


def bottle(record: Record, id: str) -> bool:
    """Say whether a container in use is of a lot that was bought."""
    found = record.query(
        """
        SELECT l.row ->> '$.concentration' IS NULL AS bought FROM register_row AS r
        JOIN register_row AS l ON l.register = 'lot' AND l.id = r.row ->> '$.lot' AND NOT l.retired
        WHERE r.register = 'container' AND r.id = :id AND NOT r.retired
        """,
        id=id,
    )
    return bool(found) and bool(found[0]["bought"])


Solution = tuple[str, str]
"""Number of a container, and what is in it."""

_SOLUTION = """
    SELECT c.id, l.id AS lot, l.row ->> '$.substance' AS substance, l.row ->> '$.concentration' AS strength
    FROM register_row AS c JOIN register_row AS l ON l.register = 'lot' AND l.id = c.row ->> '$.lot'
    WHERE c.register = 'container' AND NOT c.retired AND NOT l.retired
        AND l.row ->> '$.concentration' IS NOT NULL
"""


def solutions(record: Record, words: Iterable[str] = (), *, limit: int) -> tuple[Solution, ...]:
    """Give containers of prepared solutions, the newest first; without words, any."""
    wanted = [_lower(word) for word in words]
    if not wanted:
        found = record.query(
            """
            SELECT c.id, l.id AS lot, l.row ->> '$.substance' AS substance,
                   l.row ->> '$.concentration' AS strength
            FROM register_row AS l
            CROSS JOIN register_row AS c INDEXED BY register_row_of_lot ON c.row ->> '$.lot' = +l.id
            WHERE l.register = 'lot' AND NOT l.retired AND l.row ->> '$.concentration' IS NOT NULL
                AND c.register = 'container' AND NOT c.retired
            LIMIT :limit
            """,
            limit=limit,
        )
        return tuple(map(_solution, found))
    if not (match := _match(wanted)):
        return ()
    met = record.query(
        "SELECT kind, id FROM search WHERE search MATCH :match ORDER BY rowid DESC LIMIT :many",
        match=of_kind(match, "lot", "container"),
        many=4 * limit,
    )
    out: dict[str, Solution] = {}
    for hit in met:
        if len(out) >= limit:
            break
        of = solutions_of_lot(record, hit["id"]) if hit["kind"] == "lot" else _one(record, hit["id"])
        out |= {found[0]: found for found in of}
    return tuple(out.values())[:limit]


def solution(record: Record, container: str) -> Solution | None:
    """Give a container of a prepared solution; None where it is none, or out of use."""
    return next(iter(_one(record, container)), None)


def solutions_of_lot(record: Record, lot: str) -> tuple[Solution, ...]:
    """Give the containers of a lot, where it is a prepared solution."""
    sql = _SOLUTION.replace("register_row AS c", "register_row AS c INDEXED BY register_row_of_lot")
    found = record.query(f"{sql} AND c.row ->> '$.lot' = :lot ORDER BY natural_order(c.id)", lot=lot)
    return tuple(map(_solution, found))


def _one(record: Record, id: str) -> tuple[Solution, ...]:
    return tuple(map(_solution, record.query(f"{_SOLUTION} AND c.id = :id", id=id)))


def _solution(found: Mapping[str, Any]) -> Solution:
    return found["id"], f"{found['substance']} {found['strength']}, lot {found['lot']}"


def sizes(record: Record, *, of_each: int, most: int) -> tuple[str, ...]:
    """Give some vessels in use of each capacity, those of one capacity side by side."""
    found = record.query(
        """
        SELECT id FROM (
            SELECT id, key, min(key) OVER (PARTITION BY capacity) AS first,
                   row_number() OVER (PARTITION BY capacity ORDER BY key) AS place
            FROM (
                SELECT id, natural_order(id) AS key, row ->> '$.capacity' AS capacity
                FROM register_row WHERE register = 'vessel' AND NOT retired
            )
        ) WHERE place <= :of_each ORDER BY first, key LIMIT :most
        """,
        of_each=of_each,
        most=most,
    )
    return tuple(r["id"] for r in found)
