"""The sums of the exposure log: of each day and each year, of a person and of everybody.

The person `''` is everybody, each handling counted once; `open_s` is all time open, `estimated_s` the part of
it that is estimated. What answers for a long period is the years, for the days at its edges the days. A task
is the enclosure, what was opened or done there, and the step it belonged to; what was handled at each task is
added up for everybody alone.

A handling that holds several substances stands in the sums of each. `together` names each such set, and
`daily_together` has its sums, so that what several substances have in common can be taken out again: that is
how a hazard family as classified today is added up, which no table can know.
"""

_SUMS = """handlings INTEGER NOT NULL, net_mg REAL NOT NULL, open_s REAL NOT NULL,
    estimated INTEGER NOT NULL, estimated_s REAL NOT NULL, longest_s REAL NOT NULL"""

_TASK = "enclosure TEXT NOT NULL, what TEXT NOT NULL, step_name TEXT NOT NULL"
_OF_TASK = "enclosure, what, step_name"

_WITH_SUMS = "handlings, net_mg, open_s, estimated, estimated_s, longest_s"

SUMS: tuple[str, ...] = (
    f"""CREATE TABLE daily_all (
    person TEXT NOT NULL, day TEXT NOT NULL, {_SUMS},
    PRIMARY KEY (person, day)
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE daily_substance (
    person TEXT NOT NULL, day TEXT NOT NULL, substance TEXT NOT NULL, snapshot INTEGER NOT NULL, {_SUMS},
    PRIMARY KEY (person, day, substance, snapshot)
) STRICT, WITHOUT ROWID""",
    f"""CREATE INDEX daily_substance_day ON daily_substance (substance, day, snapshot, {_WITH_SUMS})
    WHERE person = ''""",
    f"""CREATE TABLE daily_family (
    person TEXT NOT NULL, day TEXT NOT NULL, family TEXT NOT NULL, {_SUMS},
    PRIMARY KEY (person, day, family)
) STRICT, WITHOUT ROWID""",
    f"""CREATE INDEX daily_family_day ON daily_family (family, day, {_WITH_SUMS})
    WHERE person = ''""",
    f"""CREATE TABLE yearly_all (
    person TEXT NOT NULL, year TEXT NOT NULL, {_SUMS},
    PRIMARY KEY (person, year)
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE yearly_substance (
    person TEXT NOT NULL, substance TEXT NOT NULL, year TEXT NOT NULL, snapshot INTEGER NOT NULL, {_SUMS},
    PRIMARY KEY (person, substance, year, snapshot)
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE yearly_family (
    person TEXT NOT NULL, family TEXT NOT NULL, year TEXT NOT NULL, {_SUMS},
    PRIMARY KEY (person, family, year)
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE daily_task (
    person TEXT NOT NULL, {_TASK}, day TEXT NOT NULL, {_SUMS},
    PRIMARY KEY (person, {_OF_TASK}, day)
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE yearly_task (
    person TEXT NOT NULL, year TEXT NOT NULL, {_TASK}, {_SUMS},
    PRIMARY KEY (person, year, {_OF_TASK})
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE daily_task_substance (
    substance TEXT NOT NULL, day TEXT NOT NULL, snapshot INTEGER NOT NULL, {_TASK}, {_SUMS},
    PRIMARY KEY (substance, day, snapshot, {_OF_TASK})
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE yearly_task_substance (
    substance TEXT NOT NULL, year TEXT NOT NULL, snapshot INTEGER NOT NULL, {_TASK}, {_SUMS},
    PRIMARY KEY (substance, year, snapshot, {_OF_TASK})
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE daily_task_family (
    family TEXT NOT NULL, day TEXT NOT NULL, {_TASK}, {_SUMS},
    PRIMARY KEY (family, day, {_OF_TASK})
) STRICT, WITHOUT ROWID""",
    f"""CREATE TABLE yearly_task_family (
    family TEXT NOT NULL, year TEXT NOT NULL, {_TASK}, {_SUMS},
    PRIMARY KEY (family, year, {_OF_TASK})
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE together (
    id INTEGER PRIMARY KEY, substances TEXT NOT NULL
) STRICT""",
    "CREATE UNIQUE INDEX together_substances ON together (substances)",
    """CREATE TABLE daily_together (
    together INTEGER NOT NULL, person TEXT NOT NULL, day TEXT NOT NULL, handlings INTEGER NOT NULL,
    open_s REAL NOT NULL, estimated INTEGER NOT NULL, estimated_s REAL NOT NULL,
    PRIMARY KEY (together, person, day)
) STRICT, WITHOUT ROWID""",
)
"""Tables and their indexes; those for everybody hold the sums themselves, so that no row is looked up."""
