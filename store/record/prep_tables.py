"""The tables about preps: what a prep's new state changed against the old one."""

import sqlite3
from typing import Any

from store import events as ev
from store.events import Entry
from store.procedure.done import STANDS, DoseDone
from store.procedure.state import PrepState
from store.record import handling_tables
from store.record.hazard_snapshots import snapshot_of
from store.record.journal import canonical, local_day
from store.record.later import Later
from store.record.origin import origin
from store.record.prep_row import number, standing


def update(later: Later, entry: Entry, old: PrepState | None, new: PrepState) -> None:
    """Bring the tables from the old state of a prep to the new one, which `entry` made."""
    conn, event = later.conn, entry.event
    if isinstance(event, ev.Planned):
        _planned(conn, entry, event, new)
        later.planned(new.prep)
    if isinstance(event, ev.Acknowledged):
        _acknowledged(conn, entry, event, new)
    if isinstance(event, ev.PrepClosed):
        _made(later, entry, new)
    _doses(later, entry, old, new)
    handling_tables.update(later, entry, old, new)
    _progress(later, entry, old if old is not None else new, new)


def _planned(conn: sqlite3.Connection, entry: Entry, event: ev.Planned, state: PrepState) -> None:
    plan, basis = state.plan, state.basis
    for substance, taken in basis.get("hazards", {}).items():
        snapshot = snapshot_of(conn, entry.entry, substance, taken)
        conn.execute("INSERT INTO prep_hazard VALUES (?, ?, ?)", (state.prep, substance, snapshot))
    for own in (basis, *basis.get("parts", {}).values()):
        for used in (own.get("lot", {}), own.get("solvent_lot", {})):
            if used.get("id"):
                conn.execute(
                    "INSERT OR IGNORE INTO used_lot VALUES (?, ?, ?)",
                    (state.prep, used["id"], used.get("substance", "")),
                )
    _, terminal, serial = (*event.prep.split("-"), "", "", "")[:3]
    lot, solvent_lot = basis.get("lot", {}), basis.get("solvent_lot", {})
    row = {
        "prep": state.prep,
        "entry": entry.entry,
        "terminal": terminal,
        "serial": int(serial) if serial.isdigit() else 0,
        "kind": plan.recipe.partition(",")[0],
        "recipe": plan.recipe,
        "substance": lot.get("substance", ""),
        "lot": lot.get("id", ""),
        "container": plan.container,
        "solvent": solvent_lot.get("substance", ""),
        "solvent_lot": solvent_lot.get("id", ""),
        "solvent_container": plan.solvent_container,
        "target": state.target,
        "amount": plan.amount,
        "vessel": plan.vessel,
        "balance": plan.balance,
        "enclosure": plan.enclosure,
        "planned_at": entry.at,
        "planned_day": local_day(entry),
        "planned_by": entry.person,
        "rehearsal": plan.rehearsal,
        "steps": len(state.steps),
        "closed_day": "",
        "reviewed_by": "",
        "reviewed_at": "",
        "verdict": "",
    }
    row |= standing(state)
    names = ", ".join(row)
    conn.execute(f"INSERT INTO prep ({names}) VALUES ({', '.join('?' * len(row))})", tuple(row.values()))


def _made(later: Later, entry: Entry, state: PrepState) -> None:
    """Write every lot that the prep made, anew where it was computed anew."""
    conn = later.conn
    below = later.taken.making(state.prep, (str(part.lot["id"]) for part in state.each if part.lot.get("id")))
    conn.execute("DELETE FROM made WHERE prep = ?", (state.prep,))
    for part in state.each:
        if part.lot.get("id"):
            made = next((m for m in state.made if m.get("part") == part.key), {})
            event: Any = entry.event
            container = made.get("container", {}) if state.made else event.container
            conn.execute(
                f"INSERT INTO made VALUES ({', '.join('?' * 13)})",
                (
                    state.prep, part.key, part.lot["id"], container.get("id", ""), part.plan.vessel,
                    part.target, number(part.result, "value"), str(part.result.get("unit", "")),
                    number(part.result, "u"), number(part.result, "k"), number(part.result, "deviation"),
                    part.lot.get("expiry", ""), entry.entry,
                ),
            )  # fmt: skip
    later.taken.made(below)


def _acknowledged(conn: sqlite3.Connection, entry: Entry, event: ev.Acknowledged, state: PrepState) -> None:
    conn.execute(
        "INSERT INTO acknowledgement VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            entry.entry, event.prep, event.step, state.steps[event.step].name, entry.at, entry.person,
            event.digest, event.how, event.screens, canonical(event.families),
        ),
    )  # fmt: skip


def _doses(later: Later, entry: Entry, old: PrepState | None, new: PrepState) -> None:
    had = old.doses if old is not None else ()
    if new.doses is had:
        return
    for place, dose in enumerate(new.doses):
        if place >= len(had):
            _new_dose(later, entry, new, dose)
        elif dose is not had[place] and dose != had[place]:
            later.conn.execute(
                "UPDATE dose SET shown = ?, net_mg = ?, total_mg = ?, state = ?, "
                "by_entry = CASE WHEN ? THEN ? ELSE by_entry END WHERE entry = ?",
                (
                    dose.shown, dose.net_mg, dose.total_mg, dose.state,
                    getattr(entry.event, "entry", 0) == dose.entry, entry.entry, dose.entry,
                ),
            )  # fmt: skip
            found = later.conn.execute("SELECT lot FROM dose WHERE entry = ?", (dose.entry,)).fetchone()
            later.taken.changed(new, found[0], had[place], dose)


def _new_dose(later: Later, entry: Entry, state: PrepState, dose: DoseDone) -> None:
    lot, substance = origin(later.conn, state, dose.container)
    later.conn.execute(
        f"INSERT INTO dose VALUES ({', '.join('?' * 26)})",
        (
            dose.entry, state.prep, dose.step, dose.at, local_day(entry), dose.person, dose.content,
            dose.container, lot, substance, dose.vessel, state.plan.balance, state.plan.enclosure,
            dose.shown, dose.shown, dose.net_mg, dose.total_mg, dose.usable, dose.inside, dose.ends,
            dose.reason, dose.source, STANDS, 0, later.hazard_of(state.prep, substance), dose.part,
        ),
    )  # fmt: skip


def _progress(later: Later, entry: Entry, old: PrepState, new: PrepState) -> None:
    beside: dict[str, Any] = {}
    event = entry.event
    if isinstance(event, ev.Reviewed):
        beside |= {"reviewed_by": entry.person, "reviewed_at": entry.at, "verdict": event.verdict}
    if new.closed_entry == entry.entry:
        beside["closed_day"] = local_day(entry)
    later.prep(old, new, beside)
