"""The words that a search finds: one row a thing, at the entry that it came from or was changed by last."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from store import events as ev
from store.events import Entry
from store.record.later import Later

KINDS = (
    *("substance", "lot", "container", "enclosure", "glove", "balance", "vessel", "person", "rule"),
    *("procedure", "mixture", "stream"),
)
"""Registers that are searched; settings are not."""


def fold(later: Later, entry: Entry) -> None:
    """Bring the words up to one more entry; called before its own table is."""
    folder = _FOLDERS.get(entry.event.kind)
    if folder is not None:
        folder(later, entry, entry.event)


def _put(later: Later, number: int, kind: str, id: str, words: Iterator[str], *, new: bool = True) -> None:
    later.put_words(number, (kind, id, " · ".join(dict.fromkeys(w for w in words if w))), new=new)


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


def _registered(later: Later, entry: Entry, event: ev.Registered) -> None:
    if event.register not in KINDS:
        return
    before = later.conn.execute(
        "SELECT max(entry) FROM register_history WHERE register = ? AND id = ? AND NOT retired",
        (event.register, event.id),
    ).fetchone()[0]
    if before is not None:
        later.put_words(before, None, new=False)
    _put(later, entry.entry, event.register, event.id, texts({**event.row, "id": ""}))


def _planned(later: Later, entry: Entry, event: ev.Planned) -> None:
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

    _put(later, entry.entry, "prep", event.prep, words())


def _closed(later: Later, entry: Entry, event: ev.PrepClosed) -> None:
    """A closed prep is found by its lot and its label too."""
    found = later.conn.execute("SELECT entry FROM prep WHERE prep = ?", (event.prep,)).fetchone()
    if found is None:
        return
    words, label = later.words(found[0]) or "", " ".join(event.label.split())
    _put(later, found[0], "prep", event.prep, iter((words, str(event.lot.get("id", "")), label)), new=False)


def _noted(later: Later, entry: Entry, event: ev.ExposureNoted) -> None:
    if event.note:
        _put(later, entry.entry, "note", event.prep, iter((event.note,)))


def _incident(later: Later, entry: Entry, event: ev.IncidentNoted) -> None:
    words = (event.what, event.note, event.enclosure, event.prep, *event.substances)
    _put(later, entry.entry, "incident", str(entry.entry), iter(words))


def _detailed(later: Later, entry: Entry, event: ev.IncidentDetailed) -> None:
    """Cause and follow-up are found at the incident; what is about a body is not searched."""
    said = tuple(w for w in (event.cause, event.follow_up) if w)
    known = later.conn.execute("SELECT 1 FROM incident WHERE entry = ?", (event.incident,)).fetchone()
    if said and known is not None:
        _put(later, entry.entry, "incident", str(event.incident), iter(said))


def _handled(later: Later, entry: Entry, event: ev.HandledApart) -> None:
    words = (event.what, event.enclosure, event.note, *event.substances)
    _put(later, entry.entry, "handling", str(entry.entry), iter(words))


def _monitored(later: Later, entry: Entry, event: ev.Monitored) -> None:
    words = (event.what, event.substance, event.place, event.enclosure, event.report, event.laboratory)
    _put(later, entry.entry, "monitoring", str(entry.entry), iter(words))


def _verified(later: Later, entry: Entry, event: ev.LotVerified) -> None:
    _put(later, entry.entry, "verification", event.lot, iter((event.how, event.method, event.note)))


_FOLDERS: Mapping[str, Callable[[Later, Entry, Any], None]] = {
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
