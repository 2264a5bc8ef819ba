"""The derived tables: folded from entries, dropped and made anew at will. Columns carry their units.

Change anything here, or what the projection writes, and `VERSION` rises by one: older files are then made
anew when they are opened.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import MISSING
from typing import TYPE_CHECKING, Any

from store.record import views
from store.record.apart_shape import APART
from store.record.found_shape import BEHIND, FINDABLE
from store.record.schema import KEPT
from store.record.sums_shape import SUMS
from store.record.taken_shape import TAKEN

if TYPE_CHECKING:
    from dataclasses import Field

VERSION = 19

TABLES: tuple[str, ...] = (
    """CREATE TABLE register_row (
    register TEXT NOT NULL, id TEXT NOT NULL, entry INTEGER NOT NULL, row TEXT NOT NULL,
    retired INTEGER NOT NULL, since TEXT NOT NULL, by TEXT NOT NULL,
    PRIMARY KEY (register, id)
) STRICT, WITHOUT ROWID""",
    "CREATE INDEX register_row_use ON register_row (register, retired)",
    """CREATE INDEX register_row_of_lot ON register_row (row ->> '$.lot')
    WHERE register = 'container' AND NOT retired""",
    """CREATE INDEX register_row_expiry ON register_row (row ->> '$.expiry')
    WHERE register = 'lot' AND NOT retired""",
    """CREATE INDEX register_row_retest ON register_row (row ->> '$.retest')
    WHERE register = 'lot' AND NOT retired""",
    """CREATE INDEX register_row_substance ON register_row (row ->> '$.substance')
    WHERE register = 'lot' AND NOT retired""",
    """CREATE INDEX register_row_solvent ON register_row (row ->> '$.solvent')
    WHERE register = 'lot' AND NOT retired""",
    """CREATE INDEX register_row_in_use ON register_row (id)
    WHERE register = 'container' AND NOT retired AND row ->> '$.in_use_days' IS NOT NULL""",
    """CREATE INDEX register_row_bought ON register_row (id)
    WHERE register = 'lot' AND NOT retired AND row ->> '$.concentration' IS NULL""",
    """CREATE TABLE register_history (
    entry INTEGER PRIMARY KEY, register TEXT NOT NULL, id TEXT NOT NULL, row TEXT NOT NULL,
    retired INTEGER NOT NULL, reason TEXT NOT NULL, at TEXT NOT NULL, by TEXT NOT NULL
) STRICT""",
    "CREATE INDEX register_history_id ON register_history (register, id)",
    """CREATE TABLE prep (
    prep TEXT PRIMARY KEY, entry INTEGER NOT NULL, terminal TEXT NOT NULL, serial INTEGER NOT NULL,
    kind TEXT NOT NULL, recipe TEXT NOT NULL, substance TEXT NOT NULL, lot TEXT NOT NULL,
    container TEXT NOT NULL, solvent TEXT NOT NULL, solvent_lot TEXT NOT NULL,
    solvent_container TEXT NOT NULL, target TEXT NOT NULL, amount TEXT NOT NULL, vessel TEXT NOT NULL,
    balance TEXT NOT NULL, enclosure TEXT NOT NULL, planned_at TEXT NOT NULL, planned_day TEXT NOT NULL,
    planned_by TEXT NOT NULL, rehearsal INTEGER NOT NULL, steps INTEGER NOT NULL,
    status TEXT NOT NULL, step INTEGER NOT NULL, step_name TEXT NOT NULL, last_entry INTEGER NOT NULL,
    last_at TEXT NOT NULL, last_person TEXT NOT NULL, closed_at TEXT NOT NULL, closed_day TEXT NOT NULL,
    solid_mg REAL NOT NULL, solvent_mg REAL NOT NULL, open_s REAL NOT NULL, open_estimated INTEGER NOT NULL,
    owed INTEGER NOT NULL, value REAL, unit TEXT NOT NULL, u REAL, u_rel REAL, k REAL, deviation REAL,
    complete INTEGER NOT NULL, made_lot TEXT NOT NULL, expiry TEXT NOT NULL, label TEXT NOT NULL,
    reviewed_by TEXT NOT NULL, reviewed_at TEXT NOT NULL, verdict TEXT NOT NULL, stale TEXT NOT NULL,
    incidents INTEGER NOT NULL, let_through INTEGER NOT NULL
) STRICT, WITHOUT ROWID""",
    "CREATE INDEX prep_serial ON prep (terminal, serial)",
    "CREATE INDEX prep_entry ON prep (entry)",
    "CREATE INDEX prep_substance ON prep (substance, entry)",
    "CREATE INDEX prep_lot ON prep (lot)",
    "CREATE INDEX prep_solvent_lot ON prep (solvent_lot)",
    "CREATE INDEX prep_made_lot ON prep (made_lot)",
    "CREATE INDEX prep_status ON prep (status, entry)",
    "CREATE INDEX prep_owed ON prep (entry) WHERE owed",
    "CREATE INDEX prep_value ON prep (unit, value DESC, entry DESC)",
    "CREATE INDEX prep_u_rel ON prep (u_rel, entry)",
    "CREATE INDEX prep_deviation ON prep (abs(deviation), entry)",
    "CREATE INDEX prep_open ON prep (open_s, entry)",
    """CREATE TABLE used_lot (
    prep TEXT NOT NULL, lot TEXT NOT NULL, substance TEXT NOT NULL,
    PRIMARY KEY (lot, prep)
) STRICT, WITHOUT ROWID""",
    "CREATE INDEX used_lot_prep ON used_lot (prep)",
    """CREATE TABLE made (
    prep TEXT NOT NULL, part TEXT NOT NULL, lot TEXT NOT NULL, container TEXT NOT NULL,
    vessel TEXT NOT NULL, target TEXT NOT NULL, value REAL, unit TEXT NOT NULL, u REAL, k REAL,
    deviation REAL, expiry TEXT NOT NULL, entry INTEGER NOT NULL,
    PRIMARY KEY (prep, part)
) STRICT, WITHOUT ROWID""",
    "CREATE INDEX made_lot ON made (lot)",
    """CREATE TABLE hazard_snapshot (
    id INTEGER PRIMARY KEY, entry INTEGER NOT NULL, substance TEXT NOT NULL, signal_word TEXT NOT NULL,
    statements TEXT NOT NULL, families TEXT NOT NULL, edition TEXT NOT NULL, classification TEXT NOT NULL
) STRICT""",
    "CREATE INDEX hazard_snapshot_substance ON hazard_snapshot (substance)",
    """CREATE TABLE prep_hazard (
    prep TEXT NOT NULL, substance TEXT NOT NULL, snapshot INTEGER NOT NULL,
    PRIMARY KEY (prep, substance)
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE dose (
    entry INTEGER PRIMARY KEY, prep TEXT NOT NULL, step INTEGER NOT NULL, at TEXT NOT NULL,
    day TEXT NOT NULL, person TEXT NOT NULL, content TEXT NOT NULL, container TEXT NOT NULL,
    lot TEXT NOT NULL, substance TEXT NOT NULL, vessel TEXT NOT NULL, balance TEXT NOT NULL,
    enclosure TEXT NOT NULL, first_shown TEXT NOT NULL, shown TEXT NOT NULL, net_mg REAL NOT NULL,
    total_mg REAL NOT NULL, usable INTEGER NOT NULL, inside INTEGER NOT NULL, ends INTEGER NOT NULL,
    reason TEXT NOT NULL, source TEXT NOT NULL, state TEXT NOT NULL, by_entry INTEGER NOT NULL,
    snapshot INTEGER NOT NULL, part TEXT NOT NULL
) STRICT""",
    "CREATE INDEX dose_prep ON dose (prep)",
    "CREATE INDEX dose_container ON dose (container)",
    "CREATE INDEX dose_lot ON dose (lot)",
    """CREATE TABLE reading (
    entry INTEGER PRIMARY KEY, prep TEXT NOT NULL, step INTEGER NOT NULL, at TEXT NOT NULL,
    person TEXT NOT NULL, balance TEXT NOT NULL, what TEXT NOT NULL, shown TEXT NOT NULL,
    mass_mg REAL NOT NULL, source TEXT NOT NULL, steady INTEGER NOT NULL, expected_mg REAL,
    limit_mg REAL, within INTEGER NOT NULL, conditions TEXT NOT NULL
) STRICT""",
    "CREATE INDEX reading_balance ON reading (balance, what)",
    "CREATE INDEX reading_prep ON reading (prep)",
    """CREATE TABLE repeatability (
    entry INTEGER PRIMARY KEY, at TEXT NOT NULL, day TEXT NOT NULL, person TEXT NOT NULL,
    balance TEXT NOT NULL, enclosure TEXT NOT NULL, load TEXT NOT NULL, weighings TEXT NOT NULL,
    n INTEGER NOT NULL, sd_mg REAL NOT NULL, readability_mg REAL NOT NULL, minimum_mg REAL NOT NULL,
    source TEXT NOT NULL
) STRICT""",
    "CREATE INDEX repeatability_balance ON repeatability (balance)",
    """CREATE TABLE adjustment (
    entry INTEGER PRIMARY KEY, at TEXT NOT NULL, day TEXT NOT NULL, person TEXT NOT NULL,
    balance TEXT NOT NULL, how TEXT NOT NULL, air_kg_m3 REAL, note TEXT NOT NULL
) STRICT""",
    "CREATE INDEX adjustment_balance ON adjustment (balance)",
    """CREATE TABLE handling (
    entry INTEGER PRIMARY KEY, prep TEXT NOT NULL, step INTEGER NOT NULL, step_name TEXT NOT NULL,
    at TEXT NOT NULL, day TEXT NOT NULL, person TEXT NOT NULL, what TEXT NOT NULL,
    enclosure TEXT NOT NULL, gloves TEXT NOT NULL, substances TEXT NOT NULL, container TEXT NOT NULL,
    lot TEXT NOT NULL, net_mg REAL NOT NULL, open_s REAL NOT NULL, estimated INTEGER NOT NULL,
    closed_entry INTEGER NOT NULL, noted_entry INTEGER NOT NULL, unusual INTEGER NOT NULL,
    note TEXT NOT NULL, state TEXT NOT NULL, by_entry INTEGER NOT NULL, snapshot INTEGER NOT NULL,
    together INTEGER NOT NULL
) STRICT""",
    "CREATE INDEX handling_prep ON handling (prep)",
    "CREATE INDEX handling_container ON handling (container, day)",
    "CREATE INDEX handling_unusual ON handling (day) WHERE unusual",
    "CREATE INDEX handling_lot ON handling (lot, day)",
    "CREATE INDEX handling_enclosure ON handling (enclosure)",
    "CREATE INDEX handling_what ON handling (what)",
    "CREATE INDEX handling_step_name ON handling (step_name)",
    """CREATE TABLE handling_day (
    day TEXT PRIMARY KEY, first INTEGER NOT NULL, last INTEGER NOT NULL
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE handling_person (
    handling INTEGER NOT NULL, person TEXT NOT NULL, day TEXT NOT NULL,
    PRIMARY KEY (handling, person)
) STRICT, WITHOUT ROWID""",
    "CREATE INDEX handling_person_day ON handling_person (person, day)",
    """CREATE TABLE handling_substance (
    person TEXT NOT NULL, day TEXT NOT NULL, substance TEXT NOT NULL, handling INTEGER NOT NULL,
    net_mg REAL NOT NULL, open_s REAL NOT NULL, estimated INTEGER NOT NULL, counts INTEGER NOT NULL,
    snapshot INTEGER NOT NULL,
    PRIMARY KEY (person, day, substance, handling)
) STRICT, WITHOUT ROWID""",
    "CREATE INDEX handling_substance_entry ON handling_substance (substance, handling)",
    """CREATE TABLE handling_family (
    person TEXT NOT NULL, day TEXT NOT NULL, family TEXT NOT NULL, handling INTEGER NOT NULL,
    net_mg REAL NOT NULL, open_s REAL NOT NULL, estimated INTEGER NOT NULL, counts INTEGER NOT NULL,
    PRIMARY KEY (person, day, family, handling)
) STRICT, WITHOUT ROWID""",
    "CREATE INDEX handling_family_entry ON handling_family (family, handling)",
    *SUMS,
    *TAKEN,
    """CREATE TABLE exposure_note (
    entry INTEGER PRIMARY KEY, prep TEXT NOT NULL, step INTEGER NOT NULL, at TEXT NOT NULL,
    day TEXT NOT NULL, person TEXT NOT NULL, handlings TEXT NOT NULL, enclosure TEXT NOT NULL,
    gloves TEXT NOT NULL, unusual INTEGER NOT NULL, note TEXT NOT NULL, present TEXT NOT NULL
) STRICT""",
    "CREATE INDEX exposure_note_prep ON exposure_note (prep)",
    "CREATE INDEX exposure_note_unusual ON exposure_note (day) WHERE unusual",
    """CREATE TABLE acknowledgement (
    entry INTEGER PRIMARY KEY, prep TEXT NOT NULL, step INTEGER NOT NULL, step_name TEXT NOT NULL,
    at TEXT NOT NULL, person TEXT NOT NULL, digest TEXT NOT NULL, how TEXT NOT NULL,
    screens INTEGER NOT NULL, families TEXT NOT NULL
) STRICT""",
    "CREATE INDEX acknowledgement_prep ON acknowledgement (prep)",
    """CREATE TABLE kept_text (
    digest TEXT PRIMARY KEY, text TEXT NOT NULL, what TEXT NOT NULL, entry INTEGER NOT NULL
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE sign_in (
    entry INTEGER PRIMARY KEY, at TEXT NOT NULL, terminal TEXT NOT NULL, person TEXT NOT NULL,
    what TEXT NOT NULL, how TEXT NOT NULL
) STRICT""",
    "CREATE INDEX sign_in_person ON sign_in (person)",
    """CREATE TABLE review (
    entry INTEGER PRIMARY KEY, prep TEXT NOT NULL, at TEXT NOT NULL, person TEXT NOT NULL,
    verdict TEXT NOT NULL, reason TEXT NOT NULL, meaning TEXT NOT NULL, head TEXT NOT NULL
) STRICT""",
    "CREATE INDEX review_prep ON review (prep)",
    "CREATE INDEX review_person ON review (person)",
    *APART,
)
"""Every table and its indexes; `day` is the local day, the other times are UTC.

`handling_day` says between which entries the handlings of a day lie, so that a period can be walked in the
order of entries.
"""


def _column(field: Field[Any]) -> str:
    default = "" if field.default is MISSING else field.default
    if isinstance(default, bool):
        default = int(default)
    elif isinstance(default, tuple):
        default = json.dumps(default, separators=(",", ":"))
    shown = default if isinstance(default, int) else "'" + str(default).replace("'", "''") + "'"
    return f"coalesce(row ->> '$.{field.name}', {shown}) AS {field.name}"


def view(register: str) -> str:
    """Give the view of one register: its fields as columns, lists as JSON text."""
    from store.model.registers import columns

    fields = ",\n    ".join(_column(f) for f in columns(register) if f.name != "id")
    return (
        f"CREATE VIEW {register} AS SELECT id,\n    {fields},\n"
        f"    entry, since AS entered_at, by AS entered_by, retired\n"
        f"FROM register_row WHERE register = '{register}'"
    )


def statements() -> tuple[str, ...]:
    """Give all that makes the derived part of a file."""
    from store.model.registers import REGISTERS

    return (*TABLES, *FINDABLE, *(view(register) for register in REGISTERS), *views.statements())


def objects() -> dict[str, str]:
    """Give what stands in the file then, by name, with what SQLite lays out by itself."""
    made = {
        s.split("(")[0].split(" USING")[0].split(" AS ")[0].split(" ON ")[0].split()[-1]: s
        for s in statements()
    }
    return made | BEHIND


def create(connection: sqlite3.Connection) -> None:
    """Make the derived tables, empty."""
    for statement in statements():
        connection.execute(statement)


def drop(connection: sqlite3.Connection) -> None:
    """Drop whatever is in the file beside what is kept."""
    # Here and in the comparison of a verification alone: it takes as long to load as all else of a question.
    from sqlite_utils import Database

    db = Database(connection, recursive_triggers=True, execute_plugins=False)
    for name in db.view_names():
        db.view(name).drop()
    tables = [name for name in db.table_names() if name not in KEPT and not name.startswith("sqlite_")]
    for name in tables:
        if name not in BEHIND or name.rpartition("_")[0] not in tables:
            db.table(name).drop()
