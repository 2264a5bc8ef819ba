"""The words that a search finds: one row a thing, at the entry that it came from or was changed by last."""

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from store import events as ev
from store.events import Entry
from store.record.apart_shape import SEARCH

KINDS = (
    *("substance", "lot", "container", "enclosure", "glove", "balance", "vessel", "person", "rule"),
    *("procedure", "mixture"),
)
"""Registers that are searched; settings are not."""


def fold(conn: sqlite3.Connection, entry: Entry) -> None:
    """Bring the words up to one more entry; called before its own table is."""
    folder = _FOLDERS.get(entry.event.kind)
    if folder is not None:
        folder(conn, entry, entry.event)


def _put(conn: sqlite3.Connection, number: int, kind: str, id: str, words: Iterator[str]) -> None:
    conn.execute(
        f"INSERT INTO {SEARCH} (rowid, kind, id, words) VALUES (?, ?, ?, ?)",
        (number, kind, id, " · ".join(dict.fromkeys(w for w in words if w))),
    )


def texts(value: Any) -> Iterator[str]:
    """Give every text in plain data, in its order."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for part in value.values():
            yield from texts(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from texts(part)


def _registered(conn: sqlite3.Connection, entry: Entry, event: ev.Registered) -> None:
    if event.register not in KINDS:
        return
    before = conn.execute(
        "SELECT max(entry) FROM register_history WHERE register = ? AND id = ? AND NOT retired",
        (event.register, event.id),
    ).fetchone()[0]
    if before is not None:
        conn.execute(f"DELETE FROM {SEARCH} WHERE rowid = ?", (before,))
    _put(conn, entry.entry, event.register, event.id, texts({**event.row, "id": ""}))


def _planned(conn: sqlite3.Connection, entry: Entry, event: ev.Planned) -> None:
    def words() -> Iterator[str]:
        plan, basis = event.plan, event.basis
        for key in ("lot", "solvent_lot"):
            row = basis.get(key, {})
            yield row.get("id", "")
            yield row.get("substance", "")
            of = basis.get("substances", {}).get(row.get("substance", ""), {})
            yield from (of.get("name", ""), of.get("cas", ""))
        yield from (str(plan.get(k, "")) for k in ("target", "amount", "container", "vessel", "balance"))
        yield entry.person

    _put(conn, entry.entry, "prep", event.prep, words())


def _closed(conn: sqlite3.Connection, entry: Entry, event: ev.PrepClosed) -> None:
    """A closed prep is found by its lot and its label too."""
    found = conn.execute("SELECT entry FROM prep WHERE prep = ?", (event.prep,)).fetchone()
    if found is None:
        return
    (words,) = conn.execute(f"SELECT words FROM {SEARCH} WHERE rowid = ?", found).fetchone()
    conn.execute(f"DELETE FROM {SEARCH} WHERE rowid = ?", found)
    label = " ".join(event.label.split())
    _put(conn, found[0], "prep", event.prep, iter((words, str(event.lot.get("id", "")), label)))


def _noted(conn: sqlite3.Connection, entry: Entry, event: ev.ExposureNoted) -> None:
    if event.note:
        _put(conn, entry.entry, "note", event.prep, iter((event.note,)))


def _incident(conn: sqlite3.Connection, entry: Entry, event: ev.IncidentNoted) -> None:
    words = (event.what, event.note, event.enclosure, event.prep, *event.substances)
    _put(conn, entry.entry, "incident", str(entry.entry), iter(words))


def _detailed(conn: sqlite3.Connection, entry: Entry, event: ev.IncidentDetailed) -> None:
    """Cause and follow-up are found at the incident; what is about a body is not searched."""
    said = tuple(w for w in (event.cause, event.follow_up) if w)
    known = conn.execute("SELECT 1 FROM incident WHERE entry = ?", (event.incident,)).fetchone()
    if said and known is not None:
        _put(conn, entry.entry, "incident", str(event.incident), iter(said))


def _handled(conn: sqlite3.Connection, entry: Entry, event: ev.HandledApart) -> None:
    words = (event.what, event.enclosure, event.note, *event.substances)
    _put(conn, entry.entry, "handling", str(entry.entry), iter(words))


def _monitored(conn: sqlite3.Connection, entry: Entry, event: ev.Monitored) -> None:
    words = (event.what, event.substance, event.place, event.enclosure, event.report, event.laboratory)
    _put(conn, entry.entry, "monitoring", str(entry.entry), iter(words))


def _verified(conn: sqlite3.Connection, entry: Entry, event: ev.LotVerified) -> None:
    _put(conn, entry.entry, "verification", event.lot, iter((event.how, event.method, event.note)))


_FOLDERS: Mapping[str, Callable[[sqlite3.Connection, Entry, Any], None]] = {
    "registered": _registered,
    "planned": _planned,
    "prep_closed": _closed,
    "exposure_noted": _noted,
    "incident": _incident,
    "incident_detailed": _detailed,
    "handled_apart": _handled,
    "monitored": _monitored,
    "lot_verified": _verified,
}
