"""The exposure log: handlings, who was there, which substances and hazard families, and their sums by day."""

import sqlite3
from collections.abc import Iterable, Mapping

from store import events as ev
from store.events import Entry
from store.procedure.state import NEVER, HandlingDone, PrepState
from store.record.journal import canonical, local_day
from store.record.origin import hazard_of, origin

_SUMS = """count(*), sum(net_mg), sum(open_s), sum(estimated),
    sum(CASE WHEN estimated THEN open_s ELSE 0.0 END), max(open_s)"""
"""handlings, net_mg, open_s, estimated, estimated_s, longest_s."""


def update(conn: sqlite3.Connection, entry: Entry, old: PrepState | None, new: PrepState) -> None:
    """Bring the exposure log from the old state of a prep to the new one."""
    had = old.handlings if old is not None else ()
    doses_changed = old is None or old.doses != new.doses
    for number, handling in enumerate(new.handlings):
        if number >= len(had):
            _begin(conn, entry, new, handling)
        elif handling != had[number]:
            _changed(conn, entry, new, handling)
        elif (
            doses_changed
            and handling.closed
            and any(_within(handling, dose.entry, dose.step) for dose in new.doses)
        ):
            _weighed(conn, new, handling)


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


def _begin(conn: sqlite3.Connection, entry: Entry, state: PrepState, handling: HandlingDone) -> None:
    day = local_day(entry)
    step_name = state.steps[handling.step].name if 0 <= handling.step < len(state.steps) else ""
    lot = origin(conn, state, handling.container)[0]
    snapshot = hazard_of(conn, state.prep, handling.substances[0]) if handling.substances else 0
    conn.execute(
        f"INSERT INTO handling VALUES ({', '.join('?' * 23)})",
        (
            handling.entry, state.prep, handling.step, step_name, handling.at, day, handling.person,
            handling.what, handling.enclosure, "", canonical(handling.substances), handling.container,
            lot, 0.0, handling.open_s, handling.estimated, handling.closed, handling.noted, False, "",
            handling.state, 0, snapshot,
        ),
    )  # fmt: skip
    conn.execute("INSERT INTO handling_person VALUES (?, ?, ?)", (handling.entry, handling.person, day))
    lies_in(conn, day, handling.entry)
    _sums(conn, state, handling)


def lies_in(conn: sqlite3.Connection, day: str, entry: int) -> None:
    """Say between which entries the handlings of a day lie."""
    conn.execute(
        "INSERT INTO handling_day VALUES (?, ?, ?) ON CONFLICT (day) DO UPDATE SET last = excluded.last",
        (day, entry, entry),
    )


def _changed(conn: sqlite3.Connection, entry: Entry, state: PrepState, handling: HandlingDone) -> None:
    event = entry.event
    conn.execute(
        "UPDATE handling SET open_s = ?, estimated = ?, closed_entry = ?, noted_entry = ?, state = ?, "
        "by_entry = CASE WHEN ? THEN ? ELSE by_entry END WHERE entry = ?",
        (
            handling.open_s, handling.estimated, handling.closed, handling.noted, handling.state,
            isinstance(event, ev.NeverHappened), entry.entry, handling.entry,
        ),
    )  # fmt: skip
    if isinstance(event, ev.ExposureNoted):
        conn.execute(
            "UPDATE handling SET gloves = ?, unusual = ?, note = ?, "
            "enclosure = CASE WHEN ? = '' THEN enclosure ELSE ? END WHERE entry = ?",
            (event.gloves, event.unusual, event.note, event.enclosure, event.enclosure, handling.entry),
        )
        (day,) = conn.execute("SELECT day FROM handling WHERE entry = ?", (handling.entry,)).fetchone()
        conn.executemany(
            "INSERT OR IGNORE INTO handling_person VALUES (?, ?, ?)",
            [(handling.entry, person, day) for person in event.present],
        )
    _weighed(conn, state, handling)


def _weighed(conn: sqlite3.Connection, state: PrepState, handling: HandlingDone) -> None:
    """Write what was dosed: once it is closed, so that a dose while it is open costs no more than it must."""
    net = _net_mg(conn, state, handling)
    conn.execute("UPDATE handling SET net_mg = ? WHERE entry = ?", (sum(net.values()), handling.entry))
    _sums(conn, state, handling)


def _sums(conn: sqlite3.Connection, state: PrepState, handling: HandlingDone) -> None:
    """Write the rows by substance and by family for everyone present, then the sums of their day."""
    net = _net_mg(conn, state, handling)
    counts = handling.state != NEVER and not state.plan.rehearsal
    hazards = state.basis.get("hazards", {})
    substances = dict.fromkeys(handling.substances)
    families: dict[str, float] = {}
    for substance in substances:
        for family in dict.fromkeys(hazards.get(substance, {}).get("families", ())):
            families[family] = families.get(family, 0.0) + net.get(substance, 0.0)
    write_sums(
        conn,
        handling.entry,
        substances={s: net.get(s, 0.0) for s in substances},
        families=families,
        snapshots={s: hazard_of(conn, state.prep, s) for s in substances},
        tail=(handling.open_s, handling.estimated, counts),
    )


def write_sums(
    conn: sqlite3.Connection,
    handling: int,
    *,
    substances: Mapping[str, float],
    families: Mapping[str, float],
    snapshots: Mapping[str, int],
    tail: tuple[float, bool, bool],
) -> None:
    """Write the rows of one handling by substance and family, mass by each, and add its day up anew.

    `tail` is the time open, whether it is estimated, and whether it counts.
    """
    present = conn.execute(
        "SELECT person, day FROM handling_person WHERE handling = ? ORDER BY person", (handling,)
    ).fetchall()
    for person, day in present:
        conn.executemany(
            "INSERT OR REPLACE INTO handling_substance VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [(person, day, s, handling, mg, *tail, snapshots[s]) for s, mg in substances.items()],
        )
        conn.executemany(
            "INSERT OR REPLACE INTO handling_family VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [(person, day, f, handling, mg, *tail) for f, mg in families.items()],
        )
        _day(conn, person, day)
    _everybody(conn, present[0][1], substances, families)


def _day(conn: sqlite3.Connection, person: str, day: str) -> None:
    """Add up the day of one person."""
    for by in ("substance", "family"):
        conn.execute(f"DELETE FROM daily_{by} WHERE person = ? AND day = ?", (person, day))
        conn.execute(
            f"""
            INSERT INTO daily_{by}
            SELECT person, day, {by}, {_SUMS}
            FROM handling_{by} WHERE person = ? AND day = ? AND counts
            GROUP BY {by}
            """,
            (person, day),
        )
    conn.execute("DELETE FROM daily_all WHERE person = ? AND day = ?", (person, day))
    conn.execute(
        f"""
        INSERT INTO daily_all
        SELECT hp.person, hp.day, {_SUMS}
        FROM handling_person AS hp
        JOIN handling AS h ON h.entry = hp.handling
        WHERE hp.person = ? AND hp.day = ? AND h.state <> ?
            AND NOT coalesce((SELECT rehearsal FROM prep WHERE prep = h.prep), 0)
        GROUP BY hp.person
        """,
        (person, day, NEVER),
    )


def _everybody(
    conn: sqlite3.Connection, day: str, substances: Iterable[str], families: Iterable[str]
) -> None:
    """Add up the day of everybody, each handling once; by substance and family only what one touched."""
    first, last = conn.execute("SELECT first, last FROM handling_day WHERE day = ?", (day,)).fetchone()
    for by, keys in (("substance", substances), ("family", families)):
        for key in keys:
            conn.execute(f"DELETE FROM daily_{by} WHERE person = '' AND day = ? AND {by} = ?", (day, key))
            conn.execute(
                f"""
                INSERT INTO daily_{by}
                SELECT '', day, {by}, {_SUMS}
                FROM (
                    SELECT day, {by}, max(net_mg) AS net_mg, max(open_s) AS open_s,
                           max(estimated) AS estimated
                    FROM handling_{by}
                    WHERE {by} = ? AND handling BETWEEN ? AND ? AND day = ? AND counts
                    GROUP BY handling
                )
                GROUP BY {by}
                """,
                (key, first, last, day),
            )
    conn.execute("DELETE FROM daily_all WHERE person = '' AND day = ?", (day,))
    conn.execute(
        f"""
        INSERT INTO daily_all
        SELECT '', h.day, {_SUMS}
        FROM handling AS h
        WHERE h.entry BETWEEN ? AND ? AND h.day = ? AND h.state <> ?
            AND NOT coalesce((SELECT rehearsal FROM prep WHERE prep = h.prep), 0)
        GROUP BY h.day
        """,
        (first, last, day, NEVER),
    )
