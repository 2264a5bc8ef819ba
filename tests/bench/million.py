"""A record with 1,000,000 doses in its derived tables, for measuring questions; invented, seeded, no journal.

The rows are written straight into the derived tables, since appending five million entries takes an hour.
Twenty years, 12 people, 200 substances, 250,000 preps of four doses and five handlings.
"""

import json
import sqlite3
from collections.abc import Iterator
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from random import Random
from typing import Any

from store.record import derived
from store.record.found_shape import PREP_TEXT, TEXT
from store.record.record import Record
from store.record.taken_shape import TENTH_NG

PREPS, PEOPLE, SUBSTANCES, YEARS = 250_000, 12, 200, 20
FIRST = date(2006, 1, 2)
DAYS = YEARS * 365
LAST = FIRST + timedelta(days=DAYS - 1)
FAMILIES = ("CMR_1", "RESP_SENS", "ACUTE_1_2", "CORROSIVE", "OXIDISER", "SKIN_SENS")
WATER = "WATER"


def now() -> datetime:
    """The day after the last prep."""
    return datetime(LAST.year, LAST.month, LAST.day, 8, tzinfo=timezone(timedelta(hours=1)))


def open_million(folder: Path) -> Record:
    """Open the record, made on first use."""
    path = folder / "million.tarebook"
    if not path.exists():
        _make(path)
    return Record.open(path, now=now, terminal="7F3A", write=False)


def _make(path: Path) -> None:
    part = path.with_suffix(".part")
    for end in ("", "-wal", "-shm"):
        part.with_name(part.name + end).unlink(missing_ok=True)
    Record.create(part, now=now, terminal="7F3A", site="River Laboratory").close()
    connection = sqlite3.connect(part, isolation_level=None)
    connection.execute("PRAGMA synchronous = OFF")
    indexes = [s for s in derived.TABLES if s.startswith("CREATE INDEX")]
    connection.execute("BEGIN")
    for index in indexes:
        connection.execute(f"DROP INDEX {index.split()[2]}")
    for by in ("substance", "family"):
        connection.execute(f"CREATE TEMP TABLE temp_{by} AS SELECT * FROM handling_{by} WHERE FALSE")
    _registers(connection)
    _preps(connection)
    _sorted_copies(connection)
    for index in indexes:
        connection.execute(index)
    connection.execute("COMMIT")
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    part.rename(path)


def families_of(substance: int) -> tuple[str, ...]:
    """Every third substance is CMR 1, the others have one family."""
    return ("CMR_1", "RESP_SENS") if substance % 3 == 0 else (FAMILIES[2 + substance % 4],)


def _registers(connection: sqlite3.Connection) -> None:
    def rows() -> Iterator[tuple[Any, ...]]:
        for n in range(PEOPLE):
            yield "person", f"op-{n}", {"id": f"op-{n}", "name": f"N. {n}", "roles": ["operator"]}
        for n in range(SUBSTANCES):
            yield "substance", f"S{n}", {"id": f"S{n}", "name": f"substance {n}", "sds_date": "2025-01-01"}
            for m in range(10):
                lot = f"L{n}-{m}"
                yield "lot", lot, {"id": lot, "substance": f"S{n}", "expiry": f"{LAST.year + m}-06-01"}
                bottle = {"id": f"{lot}-1", "lot": lot, "content": "900 g", "in_use_days": "9999"}
                yield "container", f"{lot}-1", bottle
        yield "lot", "W", {"id": "W", "substance": WATER}
        yield "container", "W-1", {"id": "W-1", "lot": "W", "content": "1000 kg"}
        yield "balance", "B-1", {"id": "B-1", "name": "b", "readability": "0.01 mg", "capacity": "80 g"}

    connection.executemany(
        "INSERT INTO register_row VALUES (?, ?, 1, ?, 0, '2006-01-02', 'op-0')",
        ((register, id, json.dumps(row)) for register, id, row in rows()),
    )
    connection.executemany(
        "INSERT INTO hazard_snapshot VALUES (?, 1, ?, 'Danger', '[]', ?, 'CLP', '[]')",
        ((n + 1, f"S{n}", json.dumps(families_of(n))) for n in range(SUBSTANCES)),
    )


def _preps(connection: sqlite3.Connection) -> None:
    chance = Random(905)
    tables: dict[str, list[tuple[Any, ...]]] = {}
    entry = 1000
    for number in range(PREPS):
        day = (FIRST + timedelta(days=number * DAYS // PREPS)).isoformat()
        substance, person = chance.randrange(SUBSTANCES), f"op-{chance.randrange(PEOPLE)}"
        other = f"op-{chance.randrange(PEOPLE)}" if chance.random() < 0.2 else ""
        entry = _prep(tables, number, entry, day, substance, person, other, chance)
        if number % 2000 == 1999 or number == PREPS - 1:
            for table, rows in tables.items():
                marks = ", ".join("?" * len(rows[0]))
                connection.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)
            tables.clear()


def _prep(
    tables: dict[str, list[tuple[Any, ...]]],
    number: int,
    entry: int,
    day: str,
    substance: int,
    person: str,
    other: str,
    chance: Random,
) -> int:
    prep, id, lot = f"P-7F3A-{number:06d}", f"S{substance}", f"L{substance}-{chance.randrange(10)}"
    at, begun = f"{day}T09:00:00.000000+00:00", entry
    made = f"M-7F3A-{number:06d}"

    def add(table: str, *row: Any) -> None:
        tables.setdefault(table, []).append(row)

    add("prep_hazard", prep, id, substance + 1)
    present = tuple(dict.fromkeys((person, other))) if other else (person,)
    for step in range(5):
        entry += 4
        handling = entry
        with_water = step > 1
        mg, open_s = round(chance.uniform(5, 20), 2), round(chance.uniform(20, 240), 1)
        estimated = chance.random() < 0.01
        held = (id, WATER) if with_water else (id,)
        what = "container" if step < 4 else "waste"
        net = mg if step < 4 else 0.0
        dosed, its_lot = (WATER, "W") if with_water else (id, lot)
        add(
            "handling", handling, prep, step, "weigh_solid", at, day, person, what, "E-1", "neoprene",
            json.dumps(held), f"{its_lot}-1" if step < 4 else "", its_lot if step < 4 else "", net,
            open_s, estimated, handling + 2, handling + 3, 0, "", "stands", 0, substance + 1,
            substance + 1 if with_water else 0,
        )  # fmt: skip
        if step < 4:
            add(
                "dose", handling + 1, prep, step, at, day, person, "solvent" if with_water else "solid",
                f"{its_lot}-1", its_lot, dosed, "V-1", "B-1", "E-1", f"{mg} mg", f"{mg} mg", mg, mg, 1, 1, 1,
                "", "typed", "stands", 0, substance + 1, "",
            )  # fmt: skip
        if chance.random() < 0.0005:
            add(
                "incident", handling + 3, prep, step, at, day, person, "spill", "a grain", json.dumps(held),
                json.dumps(families_of(substance)), handling, "E-1", json.dumps(present),
                0, "", "", "", "", "", "", "", 0, "", "", "",
            )  # fmt: skip
        for someone in present:
            add("handling_person", handling, someone, day)
            for one in held:
                snapshot = substance + 1 if one != WATER else 0
                add(
                    "temp_substance", someone, day, one, handling, net if one == dosed else 0.0, open_s,
                    estimated, 1, snapshot,
                )  # fmt: skip
            for family in families_of(substance):
                of_family = net if dosed == id else 0.0
                add("temp_family", someone, day, family, handling, of_family, open_s, estimated, 1)
    entry += 4
    status = "closed" if number > PREPS - 20 else "accepted"
    add(
        "prep", prep, begun, "7F3A", number, "solution", "solution, solid first", id, lot, f"{lot}-1", WATER,
        "W", "W-1", "1.000 mg/g", "10 g", "V-1", "B-1", "E-1", at, day, person, 0, 5, status, 5, "", entry,
        at, person, at, day, 12.0, 10000.0, 600.0, 0, 0, 1.0003, "mg/g", 0.003, 0.003, 2.0, 0.0003, 1, made,
        "2030-01-01", "label", "re-1", at, "accepted", "", 0, 0,
    )  # fmt: skip
    for used, of in ((lot, id), ("W", WATER)):
        add("used_lot", prep, used, of)
    add(
        "made", prep, "", made, f"{made}-1", "V-1", "1.000 mg/g", 1.0003, "mg/g", 0.003, 2.0, 0.0003,
        "2030-01-01", entry,
    )  # fmt: skip
    return entry


TAKEN = f"""
    INSERT INTO taken SELECT container, 0, lot, person, sum(opened), sum(prep), sum(dosed),
        sum(CAST(round(net_mg * {TENTH_NG}) AS INTEGER)), 0, 0, 0, 0
    FROM (
        SELECT container, lot, person, 0 AS opened, step IN (0, 2) AS prep, 1 AS dosed, net_mg FROM dose
        UNION ALL SELECT container, lot, person, 1, 0, 0, 0.0 FROM handling WHERE container <> ''
    )
    GROUP BY 1, 3, 4
"""
"""Of each lot a prep takes twice, first in step 0 or 2; nobody discards anything."""


def _sorted_copies(connection: sqlite3.Connection) -> None:
    sums = "count(*), sum(net_mg), sum(open_s), sum(estimated), sum(iif(estimated, open_s, 0.0)), max(open_s)"
    years = "sum(handlings), sum(net_mg), sum(open_s), sum(estimated), sum(estimated_s), max(longest_s)"
    for by, of in (("substance", "substance, snapshot"), ("family", "family")):
        connection.execute(f"INSERT INTO handling_{by} SELECT * FROM temp_{by} ORDER BY 1, 2, 3, 4")
        connection.execute(f"DROP TABLE temp_{by}")
        connection.execute(
            f"INSERT INTO daily_{by} SELECT person, day, {of}, {sums} "
            f"FROM handling_{by} WHERE counts GROUP BY person, day, {of}"
        )
        connection.execute(
            f"INSERT INTO daily_{by} SELECT '', day, {of}, {sums} "
            f"FROM (SELECT DISTINCT day, {of}, handling, net_mg, open_s, estimated FROM handling_{by}) "
            f"GROUP BY day, {of}"
        )
        columns = [c[1] for c in connection.execute(f"PRAGMA table_info(yearly_{by})") if c[5]]
        key = ", ".join("substr(day, 1, 4)" if c == "year" else c for c in columns)
        connection.execute(f"INSERT INTO yearly_{by} SELECT {key}, {years} FROM daily_{by} GROUP BY {key}")
    connection.execute(f"INSERT INTO daily_all SELECT '', day, {sums} FROM handling GROUP BY day")
    connection.execute(
        f"INSERT INTO daily_all SELECT hp.person, hp.day, {sums} "
        "FROM handling_person AS hp JOIN handling AS h ON h.entry = hp.handling GROUP BY hp.person, hp.day"
    )
    connection.execute(
        f"INSERT INTO yearly_all SELECT person, substr(day, 1, 4), {years} FROM daily_all GROUP BY 1, 2"
    )
    connection.executemany(
        "INSERT INTO together VALUES (?, ?)",
        ((n + 1, json.dumps([f"S{n}", WATER], separators=(",", ":"))) for n in range(SUBSTANCES)),
    )
    several = "count(*), sum(open_s), sum(estimated), sum(iif(estimated, open_s, 0.0))"
    connection.execute(
        f"INSERT INTO daily_together SELECT together, '', day, {several} "
        "FROM handling WHERE together GROUP BY together, day"
    )
    connection.execute(
        f"INSERT INTO daily_together SELECT h.together, hp.person, hp.day, {several} "
        "FROM handling_person AS hp JOIN handling AS h ON h.entry = hp.handling "
        "WHERE h.together GROUP BY 1, 2, 3"
    )
    _tasks(connection, sums)
    connection.execute(TAKEN)
    connection.execute("INSERT INTO taken_upto SELECT 1, max(entry) FROM dose")
    connection.execute(
        "INSERT INTO lot_handling SELECT u.lot, h.entry FROM handling AS h "
        "JOIN used_lot AS u ON u.prep = h.prep "
        "JOIN json_each(h.substances) AS held ON held.value = u.substance ORDER BY 1, 2"
    )
    connection.execute(
        "INSERT INTO handling_day SELECT day, min(entry), max(entry) FROM handling GROUP BY day"
    )
    connection.execute(f"INSERT INTO {PREP_TEXT} (rowid, text) SELECT entry, {TEXT} FROM prep ORDER BY entry")


def _tasks(connection: sqlite3.Connection, sums: str) -> None:
    task, present = "h.enclosure, h.what, h.step_name", "handling_person AS hp JOIN handling AS h"
    connection.execute(
        f"INSERT INTO daily_task SELECT '', {task}, day, {sums} FROM handling AS h GROUP BY {task}, day"
    )
    connection.execute(
        f"INSERT INTO daily_task SELECT hp.person, {task}, hp.day, {sums} FROM {present} "
        f"ON h.entry = hp.handling GROUP BY hp.person, {task}, hp.day"
    )
    for by, of in (("substance", "snapshot, "), ("family", "")):
        connection.execute(
            f"INSERT INTO daily_task_{by} SELECT {by}, day, {of}enclosure, what, step_name, {sums} FROM ("
            f"SELECT d.{by}, d.day, {of and 'd.snapshot, '}{task}, d.net_mg, d.open_s, d.estimated "
            f"FROM handling_{by} AS d JOIN handling AS h ON h.entry = d.handling AND h.person = d.person) "
            f"GROUP BY {by}, day, {of}enclosure, what, step_name"
        )
    years = "sum(handlings), sum(net_mg), sum(open_s), sum(estimated), sum(estimated_s), max(longest_s)"
    for table in ("task", "task_substance", "task_family"):
        columns = [c[1] for c in connection.execute(f"PRAGMA table_info(yearly_{table})") if c[5]]
        key = ", ".join("substr(day, 1, 4)" if c == "year" else c for c in columns)
        connection.execute(
            f"INSERT INTO yearly_{table} SELECT {key}, {years} FROM daily_{table} GROUP BY {key}"
        )
