"""Fold entries into the derived tables, entry by entry, in the transaction that wrote them.

Only what an entry says is folded: no hazards, no sums, no recipes, so that an upgrade never rewrites history.
"""

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from store import events as ev
from store.events import Entry
from store.procedure import progress
from store.procedure.state import PrepState
from store.record import apart_tables, prep_tables, search_table
from store.record.journal import canonical, local_day
from store.record.later import Later

OfPrep = Callable[[str, int], Iterator[Entry]]
"""(prep, entry) -> the entries of the prep after that entry."""

KEEP = 256
"""So many preps are kept folded in memory."""

SETTLE = 20_000
"""In bulk, what can wait is written after so many entries."""


class Projection:
    """The derived tables of one connection.

    Parameters
    ----------
    connection
        Where the tables are.
    of_prep
        Where the entries of a prep are read, when it is not in memory.
    alone
        Entries come in order from the first, and nobody else writes: what is in memory is never behind.
    """

    def __init__(self, connection: sqlite3.Connection, of_prep: OfPrep, *, alone: bool = False) -> None:
        self._conn, self._of_prep, self._alone = connection, of_prep, alone
        self._preps: dict[str, tuple[PrepState, str, int]] = {}
        self._later = Later(connection)
        self._held: int | None = None
        self._waiting = 0
        self.settled = 0
        """Last entry up to which all is written."""

    def forget(self) -> None:
        """Drop what is in memory, after entries were rolled back."""
        self._preps.clear()
        self._later.forget()
        self._waiting = 0

    @contextmanager
    def in_bulk(self) -> Iterator[None]:
        """Fold many entries inside one transaction; what can wait is written at intervals, and at the end."""
        self.hold()
        try:
            yield
            self.settle()
        finally:
            self._held = None

    def hold(self) -> None:
        """Write what can wait at intervals from now on; nobody else writes meanwhile."""
        self._held = self._version()

    def settle(self) -> None:
        """Write what waits."""
        self._later.settle()
        self._waiting = 0

    def _version(self) -> int:
        """Give what changes when another program writes; inside a transaction none does."""
        if self._held is not None or self._alone:
            return self._held or 0
        return int(self._conn.execute("PRAGMA data_version").fetchone()[0])

    # ---- where a prep stands ----

    def prep_state(self, prep: str) -> PrepState | None:
        """Give where a prep stands now; None if it was never planned."""
        return self._state(prep, before=None)

    def _state(self, prep: str, before: int | None) -> PrepState | None:
        """What is in memory and what others added since; their writes show in the data version."""
        version = self._version()
        state, digest, seen = self._preps.pop(prep, (None, "", -1))
        if state is not None and seen != version:
            found = self._conn.execute(
                "SELECT digest FROM journal WHERE entry = ?", (state.last_entry,)
            ).fetchone()
            if found != (digest,):
                state, seen = None, -1
        if state is None or seen != version:
            for entry in self._of_prep(prep, state.last_entry if state is not None else 0):
                if before is not None and entry.entry >= before:
                    break
                state, digest = progress.fold(state, entry), entry.digest
        if state is not None:
            self._keep(prep, state, digest, version)
        return state

    def _keep(self, prep: str, state: PrepState, digest: str, version: int) -> None:
        self._preps[prep] = (state, digest, version)
        if len(self._preps) > KEEP:
            del self._preps[next(iter(self._preps))]

    # ---- folding ----

    def fold(self, entry: Entry) -> None:
        """Fold one entry into every table that it touches."""
        event = entry.event
        if not isinstance(event, ev.Dosed):
            self._later.taken.catch_up()
        search_table.fold(self._later, entry)
        if prep := getattr(event, "prep", ""):
            old = None if isinstance(event, ev.Planned) else self._state(prep, before=entry.entry)
            new = progress.fold(old, entry)
            self._keep(prep, new, entry.digest, self._version())
            prep_tables.update(self._later, entry, old, new)
        if (folder := _FOLDERS.get(event.kind)) is not None:
            folder(self._conn, entry, event)
        elif (apart := _HANDLED_APART.get(event.kind)) is not None:
            apart(self._later, entry, event)
        self._waiting += 1
        if self._held is None or self._waiting >= SETTLE:
            self.settle()
            self.settled = entry.entry


def _registered(conn: sqlite3.Connection, entry: Entry, event: ev.Registered) -> None:
    row = canonical(event.row)
    conn.execute(
        "INSERT OR REPLACE INTO register_row VALUES (?, ?, ?, ?, 0, ?, ?)",
        (event.register, event.id, entry.entry, row, entry.at, entry.person),
    )
    conn.execute(
        "INSERT INTO register_history VALUES (?, ?, ?, ?, 0, ?, ?, ?)",
        (entry.entry, event.register, event.id, row, event.reason, entry.at, entry.person),
    )


def _retired(conn: sqlite3.Connection, entry: Entry, event: ev.Retired) -> None:
    found = conn.execute(
        "SELECT row FROM register_row WHERE register = ? AND id = ?", (event.register, event.id)
    ).fetchone()
    row = found[0] if found is not None else "{}"
    conn.execute(
        "INSERT OR REPLACE INTO register_row VALUES (?, ?, ?, ?, 1, ?, ?)",
        (event.register, event.id, entry.entry, row, entry.at, entry.person),
    )
    conn.execute(
        "INSERT INTO register_history VALUES (?, ?, ?, ?, 1, ?, ?, ?)",
        (entry.entry, event.register, event.id, row, event.reason, entry.at, entry.person),
    )


def _text_kept(conn: sqlite3.Connection, entry: Entry, event: ev.TextKept) -> None:
    conn.execute(
        "INSERT OR IGNORE INTO kept_text VALUES (?, ?, ?, ?)",
        (event.digest, event.text, event.what, entry.entry),
    )


def _sign_in(what: str) -> Callable[[sqlite3.Connection, Entry, Any], None]:
    def folder(conn: sqlite3.Connection, entry: Entry, event: Any) -> None:
        how = getattr(event, "how", getattr(event, "purpose", ""))
        conn.execute(
            "INSERT INTO sign_in VALUES (?, ?, ?, ?, ?, ?)",
            (entry.entry, entry.at, entry.terminal, event.who, what, how),
        )

    return folder


def _read(conn: sqlite3.Connection, entry: Entry, event: ev.Read) -> None:
    conn.execute(
        "INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            entry.entry, event.prep, event.step, entry.at, entry.person, event.balance, event.what,
            event.shown, float(event.mass_mg), event.source, event.steady,
            float(event.expected_mg) if event.expected_mg else None,
            float(event.limit_mg) if event.limit_mg else None,
            event.within, canonical(event.conditions),
        ),
    )  # fmt: skip


def _repeatability_measured(conn: sqlite3.Connection, entry: Entry, event: ev.RepeatabilityMeasured) -> None:
    conn.execute(
        "INSERT INTO repeatability VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            entry.entry, entry.at, local_day(entry), entry.person, event.balance, event.enclosure, event.load,
            canonical(event.weighings), len(event.weighings), float(event.sd_mg), float(event.readability_mg),
            float(event.minimum_mg), event.source,
        ),
    )  # fmt: skip


def _adjusted(conn: sqlite3.Connection, entry: Entry, event: ev.Adjusted) -> None:
    conn.execute(
        "INSERT INTO adjustment VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            entry.entry, entry.at, local_day(entry), entry.person, event.balance, event.how,
            float(event.air_kg_m3) if event.air_kg_m3 else None, event.note,
        ),
    )  # fmt: skip


def _exposure_noted(conn: sqlite3.Connection, entry: Entry, event: ev.ExposureNoted) -> None:
    conn.execute(
        "INSERT INTO exposure_note VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            entry.entry, event.prep, event.step, entry.at, local_day(entry), entry.person,
            canonical(event.handlings), event.enclosure, event.gloves, event.unusual, event.note,
            canonical(event.present),
        ),
    )  # fmt: skip


def _reviewed(conn: sqlite3.Connection, entry: Entry, event: ev.Reviewed) -> None:
    conn.execute(
        "INSERT INTO review VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            entry.entry, event.prep, entry.at, entry.person,
            event.verdict, event.reason, event.meaning, event.head,
        ),
    )  # fmt: skip


_FOLDERS: Mapping[str, Callable[[sqlite3.Connection, Entry, Any], None]] = {
    "registered": _registered,
    "retired": _retired,
    "text_kept": _text_kept,
    "signed_in": _sign_in("in"),
    "signed_out": _sign_in("out"),
    "pin_set": _sign_in("pin set"),
    "pin_refused": _sign_in("refused"),
    "read": _read,
    "repeatability_measured": _repeatability_measured,
    "adjusted": _adjusted,
    "exposure_noted": _exposure_noted,
    "monitored": apart_tables.monitored,
    "incident": apart_tables.incident,
    "incident_detailed": apart_tables.incident_detailed,
    "incident_closed": apart_tables.incident_closed,
    "lot_verified": apart_tables.lot_verified,
    "stock_taken": apart_tables.stock_taken,
    "sealed_weighed": apart_tables.sealed_weighed,
    "reviewed": _reviewed,
}

_HANDLED_APART: Mapping[str, Callable[[Later, Entry, Any], None]] = {
    "handled_apart": apart_tables.handled_apart,
    "never_happened": apart_tables.never_happened,
}
