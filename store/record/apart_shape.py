"""The derived tables of what belongs to no prep."""

APART: tuple[str, ...] = (
    """CREATE TABLE incident (
    entry INTEGER PRIMARY KEY, prep TEXT NOT NULL, step INTEGER NOT NULL, at TEXT NOT NULL,
    day TEXT NOT NULL, person TEXT NOT NULL, what TEXT NOT NULL, note TEXT NOT NULL,
    substances TEXT NOT NULL, families TEXT NOT NULL, handling INTEGER NOT NULL, enclosure TEXT NOT NULL,
    present TEXT NOT NULL, detailed_entry INTEGER NOT NULL, route TEXT NOT NULL, body_part TEXT NOT NULL,
    amount TEXT NOT NULL, first_aid TEXT NOT NULL, referred TEXT NOT NULL, cause TEXT NOT NULL,
    follow_up TEXT NOT NULL, closed_entry INTEGER NOT NULL, closed_by TEXT NOT NULL,
    closed_at TEXT NOT NULL, closed_reason TEXT NOT NULL
) STRICT""",
    "CREATE INDEX incident_day ON incident (day)",
    "CREATE INDEX incident_prep ON incident (prep)",
    "CREATE INDEX incident_open ON incident (entry) WHERE closed_entry = 0",
    """CREATE TABLE monitoring (
    entry INTEGER PRIMARY KEY, at TEXT NOT NULL, day TEXT NOT NULL, person TEXT NOT NULL,
    what TEXT NOT NULL, substance TEXT NOT NULL, value TEXT NOT NULL, place TEXT NOT NULL,
    enclosure TEXT NOT NULL, who TEXT NOT NULL, minutes TEXT NOT NULL, limit_value TEXT NOT NULL,
    limit_source TEXT NOT NULL, method TEXT NOT NULL, laboratory TEXT NOT NULL, report TEXT NOT NULL,
    note TEXT NOT NULL
) STRICT""",
    "CREATE INDEX monitoring_day ON monitoring (day)",
    "CREATE INDEX monitoring_substance ON monitoring (substance, day)",
    """CREATE TABLE verification (
    entry INTEGER PRIMARY KEY, at TEXT NOT NULL, day TEXT NOT NULL, person TEXT NOT NULL,
    lot TEXT NOT NULL, how TEXT NOT NULL, against TEXT NOT NULL, method TEXT NOT NULL,
    ratio REAL NOT NULL, u REAL, limit_ratio REAL, within INTEGER NOT NULL, note TEXT NOT NULL
) STRICT""",
    "CREATE INDEX verification_lot ON verification (lot)",
    """CREATE TABLE stocktake (
    entry INTEGER PRIMARY KEY, at TEXT NOT NULL, day TEXT NOT NULL, person TEXT NOT NULL,
    container TEXT NOT NULL, how TEXT NOT NULL, shown TEXT NOT NULL, left_mg REAL NOT NULL,
    by_record_mg REAL, reason TEXT NOT NULL
) STRICT""",
    "CREATE INDEX stocktake_container ON stocktake (container)",
    """CREATE TABLE sealed (
    entry INTEGER PRIMARY KEY, at TEXT NOT NULL, day TEXT NOT NULL, person TEXT NOT NULL,
    container TEXT NOT NULL, moment TEXT NOT NULL, balance TEXT NOT NULL, shown TEXT NOT NULL,
    mass_mg REAL NOT NULL, computed TEXT NOT NULL, leaks INTEGER NOT NULL
) STRICT""",
    "CREATE INDEX sealed_container ON sealed (container)",
)
"""Incidents stand here as well: with a prep or without, their details and their end follow apart from it."""
