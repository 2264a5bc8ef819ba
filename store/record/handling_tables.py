"""The exposure log: handlings, who was there, and what they add to the sums of their day."""

import sqlite3
from collections.abc import Mapping

from store import events as ev
from store.events import Entry
from store.procedure.done import NEVER, HandlingDone
from store.procedure.state import PrepState
from store.record.day_sums import Shares
from store.record.journal import canonical, local_day
from store.record.later import Later
from store.record.origin import origin
from store.units import net as exact


def update(later: Later, entry: Entry, old: PrepState | None, new: PrepState) -> None:
    """Bring the exposure log from the old state of a prep to the new one."""
    had = old.handlings if old is not None else ()
    doses_changed = old is None or old.doses != new.doses
    if new.handlings is had and not doses_changed:
        return
    for number, handling in enumerate(new.handlings):
        if number >= len(had):
            _begin(later, entry, new, handling)
        elif handling is not had[number] and handling != had[number]:
            _changed(later, entry, new, handling)
            if handling.state != had[number].state:
                _never(later, new, handling)
        elif (
            doses_changed
            and handling.closed
            and any(_within(handling, dose.entry, dose.step) for dose in new.doses)
        ):
            _weighed(later, new, handling)


def _within(handling: HandlingDone, dose_entry: int, dose_step: int) -> bool:
    return (
        dose_step == handling.step
        and dose_entry > handling.entry
        and (not handling.closed or dose_entry < handling.closed)
    )


def _net_mg(conn: sqlite3.Connection, state: PrepState, handling: HandlingDone) -> dict[str, float]:
    """Give what was dosed while it was open, by substance; a correction changes it, a discard does not."""
    net: dict[str, float] = {}
    for dose in state.doses:
        if dose.state != NEVER and _within(handling, dose.entry, dose.step):
            shares = dose.contains or {origin(conn, state, dose.container)[1]: "1"}
            for substance, share in shares.items():
                net[substance] = net.get(substance, 0.0) + dose.net_mg * float(share)
    return net


def _begin(later: Later, entry: Entry, state: PrepState, handling: HandlingDone) -> None:
    conn, day = later.conn, local_day(entry)
    step_name = state.steps[handling.step].name if 0 <= handling.step < len(state.steps) else ""
    lot = origin(conn, state, handling.container)[0]
    snapshot = later.hazard_of(state.prep, handling.substances[0]) if handling.substances else 0
    conn.execute(
        f"INSERT INTO handling VALUES ({', '.join('?' * 24)})",
        (
            handling.entry, state.prep, handling.step, step_name, handling.at, day, handling.person,
            handling.what, handling.enclosure, "", canonical(handling.substances), handling.container,
            lot, 0.0, handling.open_s, handling.estimated, handling.closed, handling.noted, False, "",
            handling.state, 0, snapshot, later.days.together(handling.entry, handling.substances),
        ),
    )  # fmt: skip
    conn.execute("INSERT INTO handling_person VALUES (?, ?, ?)", (handling.entry, handling.person, day))
    lies_in(conn, day, handling.entry)
    later.taken.opened(state, lot, handling, 1)
    later.taken.handled(state.prep, handling)
    _sums(later, state, handling, _net_mg(conn, state, handling))


def _never(later: Later, state: PrepState, handling: HandlingDone) -> None:
    """Take back an opening; nothing lets a handling happen again that never did."""
    (lot,) = later.conn.execute("SELECT lot FROM handling WHERE entry = ?", (handling.entry,)).fetchone()
    later.taken.opened(state, lot, handling, -1)


def lies_in(conn: sqlite3.Connection, day: str, entry: int) -> None:
    """Say between which entries the handlings of a day lie."""
    conn.execute(
        "INSERT INTO handling_day VALUES (?, ?, ?) ON CONFLICT (day) DO UPDATE SET last = excluded.last",
        (day, entry, entry),
    )


def _changed(later: Later, entry: Entry, state: PrepState, handling: HandlingDone) -> None:
    event = entry.event
    changed = {
        "open_s": handling.open_s,
        "estimated": handling.estimated,
        "closed_entry": handling.closed,
        "noted_entry": handling.noted,
        "state": handling.state,
    }
    if isinstance(event, ev.NeverHappened):
        changed["by_entry"] = entry.entry
    if isinstance(event, ev.ExposureNoted):
        changed |= {"gloves": event.gloves, "unusual": event.unusual, "note": event.note}
        if event.enclosure:
            changed["enclosure"] = event.enclosure
        (day,) = later.conn.execute("SELECT day FROM handling WHERE entry = ?", (handling.entry,)).fetchone()
        later.conn.executemany(
            "INSERT OR IGNORE INTO handling_person VALUES (?, ?, ?)",
            [(handling.entry, person, day) for person in event.present],
        )
    later.handling(handling.entry, changed)
    _weighed(later, state, handling)


def _weighed(later: Later, state: PrepState, handling: HandlingDone) -> None:
    """Write what was dosed: once it is closed, so that a dose while it is open costs no more than it must."""
    net = _net_mg(later.conn, state, handling)
    later.handling(handling.entry, {"net_mg": exact(sum(net.values()))})
    _sums(later, state, handling, net)


def _sums(later: Later, state: PrepState, handling: HandlingDone, net: Mapping[str, float]) -> None:
    """Say what it adds to its day, by substance and by family, for everyone present."""
    counts = handling.state != NEVER and not state.plan.rehearsal
    hazards = state.basis.get("hazards", {})
    substances = dict.fromkeys(handling.substances)
    families: dict[str, float] = {}
    for substance in substances:
        for family in dict.fromkeys(hazards.get(substance, {}).get("families", ())):
            families[family] = families.get(family, 0.0) + net.get(substance, 0.0)
    later.days.put(
        handling.entry,
        Shares(
            substances={s: net.get(s, 0.0) for s in substances},
            families=families,
            snapshots={s: later.hazard_of(state.prep, s) for s in substances},
            tail=(handling.open_s, handling.estimated, counts),
        ),
    )
