"""Past preps, open preps, and what waits for a reviewer."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import date, timedelta
from typing import Any, Literal

from store.errors import BadInput
from store.model.words import PrepStatus
from store.queries import letters, periods, revised_lots
from store.record.found_shape import PREP_TEXT, TEXT
from store.record.record import Record

Sort = Literal["newest", "oldest", "substance", "status", "concentration", "uncertainty", "deviation", "open"]

_ORDER = {
    "newest": "p.entry DESC",
    "oldest": "p.entry",
    "substance": "p.substance, p.entry DESC",
    "status": "p.status DESC, p.entry DESC",
    "concentration": "p.unit, p.value DESC, p.entry DESC",
    "uncertainty": "p.u_rel DESC, p.entry DESC",
    "deviation": "abs(p.deviation) DESC, p.entry DESC",
    "open": "p.open_s DESC, p.entry DESC",
}


@dataclass(frozen=True, slots=True)
class PrepRow:
    """One prep as a line of a list. Numbers of the result are None while it has none."""

    prep: str
    status: str
    kind: str
    recipe: str
    substance: str
    lot: str
    container: str
    solvent: str
    solvent_lot: str
    target: str
    amount: str
    vessel: str
    balance: str
    enclosure: str
    planned_at: str
    planned_day: str
    planned_by: str
    closed_at: str
    closed_day: str
    step: int
    """Number of the open step, from 0; `steps` when all are done."""
    steps: int
    step_name: str
    entry: int
    last_entry: int
    last_at: str
    last_person: str
    value: float | None
    unit: str
    u: float | None
    u_rel: float | None
    k: float | None
    deviation: float | None
    complete: bool
    solid_mg: float
    solvent_mg: float
    open_s: float
    open_estimated: bool
    owed: int
    """So many handlings owe their exposure note."""
    made_lot: str
    expiry: str
    reviewed_by: str
    verdict: str
    stale: str
    """Why the result rests on something withdrawn; empty where it does not."""
    incidents: int
    let_through: int
    rehearsal: bool
    revised: str = ""
    """Lots whose certificate was revised since, on which the result rests until it is written anew.

    Only `past` looks for them.
    """


_OF_LOT = """
    SELECT prep FROM used_lot WHERE lot = :lot UNION ALL SELECT prep FROM made WHERE lot = :lot
"""
_WITH_LOT = """(
    EXISTS (SELECT 1 FROM used_lot AS u WHERE u.lot = :lot AND u.prep = p.prep)
    OR EXISTS (SELECT 1 FROM made AS m WHERE m.prep = p.prep AND m.lot = :lot)
)"""
_FLAGS = ("complete", "open_estimated", "rehearsal")
_COLUMNS = ", ".join(f"p.{f.name}" for f in fields(PrepRow) if f.name != "revised")


def past(
    record: Record,
    *,
    substance: str = "",
    lot: str = "",
    status: str = "",
    since: str = "",
    until: str = "",
    person: str = "",
    text: str = "",
    sort: Sort = "newest",
    limit: int = 200,
    offset: int = 0,
    after: int = 0,
) -> tuple[PrepRow, ...]:
    """Give preps, whatever became of them; every filter that is given must hold.

    Parameters
    ----------
    substance
        Solute or solvent.
    lot
        Used as solute or solvent, or made.
    status
        open, closed, abandoned, accepted, returned; `waiting` for those that wait for a reviewer, `done` for
        all that are closed, reviewed or not.
    since, until
        Local days of planning in ISO form, or a month or year; both included.
    person
        Who planned it.
    text
        Found anywhere in number, plan, label or who planned it.
    after
        Planned after this entry: what an export goes on from.

    Raises
    ------
    BadInput
        A status or an order that is none.
    """
    where, params = _where(
        substance=substance, lot=lot, status=status, since=since, until=until, person=person
    )
    if sort not in _ORDER:
        raise BadInput(f"{sort!r}: sort by {', '.join(_ORDER)}.")
    params |= {"limit": limit, "offset": offset}
    if after:
        where.append("p.entry > :after")
        params["after"] = after
    if (since or until) and (span := _span(record, params.get("since", ""), params.get("until", ""))):
        where.append("p.entry BETWEEN :first AND :last")
        params |= {"first": span[0], "last": span[1]}
    if text.strip():
        params |= {"text": like(text), "letters": letters.of(record, text.strip())}
        if not params["letters"]:
            return ()
        if not where and sort in _BY_ENTRY:
            by_entry = f"{PREP_TEXT} AS t CROSS JOIN prep AS p"
            return _marked(record, _rows(record, _HOLDS, _BY_ENTRY[sort], params, table=by_entry))
        where.append(f"({TEXT}) {_LIKE}")
    few = _few(record, lot=lot, text=text.strip(), substance=substance)
    if few is None:
        return _marked(record, _rows(record, " AND ".join(where) or "TRUE", _ORDER[sort], params))
    one_of = "(SELECT DISTINCT value FROM json_each(:few)) AS few CROSS JOIN prep AS p ON p.entry = few.value"
    return _marked(
        record, _rows(record, " AND ".join(where), _ORDER[sort], params | {"few": few}, table=one_of)
    )


def _marked(record: Record, rows: tuple[PrepRow, ...]) -> tuple[PrepRow, ...]:
    """Say of each result whether it rests on a certificate that was revised since."""
    revised = revised_lots.of(record, (row.prep for row in rows if row.value is not None))
    return tuple(replace(r, revised=revised[r.prep]) if r.prep in revised else r for r in rows)


def meant(record: Record, text: str) -> tuple[PrepRow, ...]:
    """Give the prep of a number, or of a lot that it made; else two at most that hold the text."""
    where = "p.prep = :text OR p.prep IN (SELECT prep FROM made WHERE lot = :text)"
    one = _rows(record, where, "p.entry", {"text": text, "limit": 2, "offset": 0})
    return one or past(record, text=text, limit=2)


def open_preps(record: Record) -> tuple[PrepRow, ...]:
    """Give the preps that are under way, the one last worked on first."""
    return _rows(record, "p.status = 'open'", "p.last_entry DESC", {"limit": -1, "offset": 0})


def left_open(record: Record) -> tuple[tuple[str, str], ...]:
    """Give what stands open in preps that are under way: the prep, and the container or what else it is."""
    found = record.query(
        """
        SELECT h.prep, h.container, h.what FROM prep AS p JOIN handling AS h ON h.prep = p.prep
        WHERE p.status = 'open' AND h.closed_entry = 0 AND h.state = 'stands' ORDER BY h.entry
        """
    )
    return tuple((r["prep"], f"container {r['container']}" if r["container"] else r["what"]) for r in found)


def waiting_for_review(record: Record, *, limit: int = -1) -> tuple[PrepRow, ...]:
    """Give closed preps that no reviewer has decided on, the longest waiting first; no rehearsals."""
    return _rows(record, "p.status = 'closed' AND NOT p.rehearsal", "p.entry", {"limit": limit, "offset": 0})


FEW = 4000
"""So many preps that hold a text are looked up and put in order; of more, the list is walked in its order."""

_LIKE = r"LIKE :text ESCAPE '\'"
_HOLDS = f"p.entry = t.rowid AND t.{PREP_TEXT} MATCH :letters AND t.text {_LIKE}"
_BY_ENTRY = {"newest": "t.rowid DESC", "oldest": "t.rowid"}


def _few(record: Record, *, lot: str, text: str, substance: str) -> str | None:
    """Give the entries of all preps that may be meant, as JSON, where an index finds few; else None."""
    if lot:
        found = record.query(
            f"SELECT p.entry FROM ({_OF_LOT}) AS l JOIN prep AS p ON p.prep = l.prep LIMIT {FEW}", lot=lot
        )
    elif text or substance:
        # In the text of a prep each part stands between blanks, so a substance is looked up there as well.
        found = record.query(
            f"SELECT rowid AS entry FROM {PREP_TEXT} WHERE {PREP_TEXT} MATCH :letters LIMIT {FEW}",
            letters=letters.of(record, text or f" {substance} "),
        )
    else:
        return None
    return json.dumps([r["entry"] for r in found]) if len(found) < FEW else None


def _span(record: Record, since: str, until: str) -> tuple[int, int] | None:
    """Give entries between which the preps of a period lie; None where a clock stood back, and they may not.

    Entries follow one another in time, so the period is found by halving; two days more are left at each end
    for clocks that differ a little, and for zones.
    """
    stepped = "SELECT 1 FROM journal WHERE subject = 'record' AND kind = 'clock_stepped' LIMIT 1"
    if record.query(stepped):
        return None
    first = _entry_of(record, _shifted(since, -2)) if since else 1
    last = _entry_of(record, _shifted(until, 3)) if until else record.head().entry
    return first, last


def _shifted(day: str, days: int) -> str:
    try:
        return (date.fromisoformat(day) + timedelta(days=days)).isoformat()
    except OverflowError:
        return day


def _entry_of(record: Record, day: str) -> int:
    """Give an entry before which every prep was planned before a day."""
    low, high = 1, record.head().entry + 1
    while low < high:
        middle = (low + high) // 2
        found = record.query(
            "SELECT planned_day FROM prep WHERE entry >= :middle ORDER BY entry LIMIT 1", middle=middle
        )
        if found and found[0]["planned_day"] < day:
            low = middle + 1
        else:
            high = middle
    return low


def _where(
    *, substance: str, lot: str, status: str, since: str, until: str, person: str
) -> tuple[list[str], dict[str, Any]]:
    statuses = [s.value for s in PrepStatus]
    if status and status not in (*statuses, "waiting", "done"):
        raise BadInput(f"{status!r} is no status of a prep: write {', '.join(statuses)}, waiting or done.")
    given = (
        ("(p.substance = :substance OR p.solvent = :substance)", "substance", substance),
        (_WITH_LOT, "lot", lot),
        ("p.status = :status", "status", "" if status in ("done", "waiting") else status),
        ("p.planned_day >= :since", "since", periods.since(since)),
        ("p.planned_day <= :until", "until", periods.until(until)),
        ("p.planned_by = :person", "person", person),
    )
    where = [condition for condition, _, value in given if value]
    if status == "waiting":
        where.append("p.status = 'closed' AND NOT p.rehearsal")
    if status == "done":
        # Most preps are done: the plus keeps the walk in the order of entries, where most rows are wanted.
        where.append("+p.status IN ('closed', 'accepted', 'returned')")
    return where, {name: value for _, name, value in given if value}


def like(text: str) -> str:
    r"""Give the pattern that finds a text anywhere; `%` and `_` stand for themselves.

    Examples
    --------
    >>> like("5 %"), like("")
    ('%5 \\%%', '')
    """
    escaped = text.strip().replace("\\", "\\\\").replace("%", r"\%").replace("_", r"\_")
    return f"%{escaped}%" if escaped else ""


def _rows(
    record: Record, where: str, order: str, params: Mapping[str, Any], *, table: str = "prep AS p"
) -> tuple[PrepRow, ...]:
    found = record.query(
        f"SELECT {_COLUMNS} FROM {table} WHERE {where} ORDER BY {order} LIMIT :limit OFFSET :offset",
        **params,
    )
    return tuple(PrepRow(**{**r, **{flag: bool(r[flag]) for flag in _FLAGS}}) for r in found)
