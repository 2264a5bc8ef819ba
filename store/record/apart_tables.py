"""The tables of what belongs to no prep: handlings apart, measurements, incidents, lots and containers."""

import json
import sqlite3
from collections.abc import Iterable, Mapping
from typing import Any

from store import events as ev
from store.events import Entry
from store.procedure.done import NEVER
from store.record import handling_tables
from store.record.day_sums import Shares
from store.record.hazard_snapshots import snapshot_of
from store.record.journal import canonical, local_day
from store.record.later import Later


def handled_apart(later: Later, entry: Entry, event: ev.HandledApart) -> None:
    """Write a handling that no prep has; its note is written with it, and whoever did it stands first."""
    conn = later.conn
    who = event.present[0] if event.present else entry.person
    open_s = float(event.open_s) if event.open_s else 0.0
    snapshots = {s: _snapshot(conn, entry, s, event.hazards) for s in event.substances}
    first = snapshots[event.substances[0]] if event.substances else 0
    conn.execute(
        f"INSERT INTO handling VALUES ({', '.join('?' * 24)})",
        (
            entry.entry, "", -1, "", entry.at, event.day, who, event.what, event.enclosure, event.gloves,
            canonical(event.substances), "", "", 0.0, open_s, bool(event.open_s), entry.entry, entry.entry,
            event.unusual, event.note, "stands", 0, first,
            later.days.together(entry.entry, event.substances),
        ),
    )  # fmt: skip
    conn.executemany(
        "INSERT OR IGNORE INTO handling_person VALUES (?, ?, ?)",
        [(entry.entry, person, event.day) for person in (who, *event.present)],
    )
    handling_tables.lies_in(conn, event.day, entry.entry)
    families = [
        f for s in event.substances for f in dict.fromkeys(event.hazards.get(s, {}).get("families", ()))
    ]
    later.days.put(
        entry.entry,
        Shares(
            substances=dict.fromkeys(event.substances, 0.0),
            families=dict.fromkeys(families, 0.0),
            snapshots=snapshots,
            tail=(open_s, bool(event.open_s), True),
        ),
    )


def never_happened(later: Later, entry: Entry, event: ev.NeverHappened) -> None:
    """Take a handling that no prep has out of the totals; one of a prep follows from its state."""
    if event.prep:
        return
    later.settle()
    conn = later.conn
    found = conn.execute(
        "SELECT substances, open_s, estimated FROM handling WHERE entry = ? AND prep = ''", (event.entry,)
    ).fetchone()
    if found is None:
        return
    conn.execute(
        "UPDATE handling SET state = ?, by_entry = ? WHERE entry = ?", (NEVER, entry.entry, event.entry)
    )
    families = conn.execute(
        "SELECT DISTINCT family FROM handling_person AS p JOIN handling_family AS f "
        "ON f.person = p.person AND f.day = p.day AND f.handling = p.handling WHERE p.handling = ? "
        "ORDER BY family",
        (event.entry,),
    ).fetchall()
    snapshots = conn.execute(
        "SELECT DISTINCT s.substance, s.snapshot FROM handling_person AS p JOIN handling_substance AS s "
        "ON s.person = p.person AND s.day = p.day AND s.handling = p.handling WHERE p.handling = ?",
        (event.entry,),
    ).fetchall()
    later.days.put(
        event.entry,
        Shares(
            substances=dict.fromkeys(json.loads(found[0]), 0.0),
            families={family: 0.0 for (family,) in families},
            snapshots=dict(snapshots),
            tail=(found[1], bool(found[2]), False),
        ),
    )


def _snapshot(
    conn: sqlite3.Connection, entry: Entry, substance: str, hazards: Mapping[str, Mapping[str, Any]]
) -> int:
    return snapshot_of(conn, entry.entry, substance, hazards[substance]) if substance in hazards else 0


def incident(conn: sqlite3.Connection, entry: Entry, event: ev.IncidentNoted) -> None:
    """Write an incident; its hazard families are those that its prep took, or that it took itself."""
    conn.execute(
        f"INSERT INTO incident VALUES ({', '.join('?' * 25)})",
        (
            entry.entry, event.prep, event.step, entry.at, local_day(entry), entry.person, event.what,
            event.note, canonical(event.substances),
            canonical(_families(conn, event.prep, event.substances, event.hazards)), event.handling,
            event.enclosure, canonical(event.present), 0, "", "", "", "", "", "", "", 0, "", "", "",
        ),
    )  # fmt: skip


def _families(
    conn: sqlite3.Connection,
    prep: str,
    substances: Iterable[str],
    hazards: Mapping[str, Mapping[str, Any]],
) -> list[str]:
    out: dict[str, None] = {}
    for substance in substances:
        taken = hazards.get(substance, {}).get("families")
        if taken is None:
            found = conn.execute(
                "SELECT s.families FROM prep_hazard AS p JOIN hazard_snapshot AS s ON s.id = p.snapshot "
                "WHERE p.prep = ? AND p.substance = ?",
                (prep, substance),
            ).fetchone()
            taken = json.loads(found[0]) if found is not None else ()
        out |= dict.fromkeys(taken)
    return sorted(out)


def incident_detailed(conn: sqlite3.Connection, entry: Entry, event: ev.IncidentDetailed) -> None:
    """Write what is known of it by now; one that was closed is open again."""
    found = conn.execute("SELECT prep FROM incident WHERE entry = ?", (event.incident,)).fetchone()
    if found is None:
        return
    conn.execute(
        """
        UPDATE incident SET detailed_entry = ?, route = ?, body_part = ?, amount = ?, first_aid = ?,
            referred = ?, cause = ?, follow_up = ?, present = ?, substances = ?, families = ?,
            enclosure = coalesce(?, enclosure),
            closed_entry = 0, closed_by = '', closed_at = '', closed_reason = ''
        WHERE entry = ?
        """,
        (
            entry.entry, event.route, event.body_part, event.amount, event.first_aid, event.referred,
            event.cause, event.follow_up, canonical(event.present), canonical(event.substances),
            canonical(_families(conn, found[0], event.substances, event.hazards)), event.enclosure,
            event.incident,
        ),
    )  # fmt: skip


def incident_closed(conn: sqlite3.Connection, entry: Entry, event: ev.IncidentClosed) -> None:
    """Write who closed it, and why."""
    conn.execute(
        "UPDATE incident SET closed_entry = ?, closed_by = ?, closed_at = ?, closed_reason = ? "
        "WHERE entry = ?",
        (entry.entry, entry.person, entry.at, event.reason, event.incident),
    )


def monitored(conn: sqlite3.Connection, entry: Entry, event: ev.Monitored) -> None:
    """Write the result of a measurement as it was reported."""
    conn.execute(
        f"INSERT INTO monitoring VALUES ({', '.join('?' * 17)})",
        (
            entry.entry, entry.at, event.day, entry.person, event.what, event.substance, event.value,
            event.place, event.enclosure, event.who, event.minutes, event.limit, event.limit_source,
            event.method, event.laboratory, event.report, event.note,
        ),
    )  # fmt: skip


def lot_verified(conn: sqlite3.Connection, entry: Entry, event: ev.LotVerified) -> None:
    """Write how a lot stood against something else."""
    conn.execute(
        f"INSERT INTO verification VALUES ({', '.join('?' * 13)})",
        (
            entry.entry, entry.at, local_day(entry), entry.person, event.lot, event.how, event.against,
            event.method, float(event.ratio), float(event.u) if event.u else None,
            float(event.limit) if event.limit else None, event.within, event.note,
        ),
    )  # fmt: skip


def stock_taken(conn: sqlite3.Connection, entry: Entry, event: ev.StockTaken) -> None:
    """Write what was found left."""
    conn.execute(
        f"INSERT INTO stocktake VALUES ({', '.join('?' * 10)})",
        (
            entry.entry, entry.at, local_day(entry), entry.person, event.container, event.how, event.shown,
            float(event.left_mg), float(event.by_record_mg) if event.by_record_mg else None, event.reason,
        ),
    )  # fmt: skip


def sealed_weighed(conn: sqlite3.Connection, entry: Entry, event: ev.SealedWeighed) -> None:
    """Write the gross of a sealed container."""
    conn.execute(
        f"INSERT INTO sealed VALUES ({', '.join('?' * 11)})",
        (
            entry.entry, entry.at, local_day(entry), entry.person, event.container, event.when, event.balance,
            event.shown, float(event.mass_mg), canonical(event.computed), event.leaks,
        ),
    )  # fmt: skip
