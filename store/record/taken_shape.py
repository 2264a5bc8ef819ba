"""What each person took of each container and lot, kept as sums, so that no question adds up every dose.

Masses are whole tenths of a nanogram, the last place that a reading can have: sums of whole numbers come out
the same in whatever order they are added, which sums of floats do not. A dose of 10 kg and more is counted in
`large` and stands in no mass; who asks for a sum adds those up from the doses.
"""

TAKEN: tuple[str, ...] = (
    """CREATE TABLE taken (
    container TEXT NOT NULL, since INTEGER NOT NULL, lot TEXT NOT NULL, person TEXT NOT NULL,
    openings INTEGER NOT NULL, preps INTEGER NOT NULL, doses INTEGER NOT NULL,
    used_tenth_ng INTEGER NOT NULL, wasted_tenth_ng INTEGER NOT NULL, discarded_tenth_ng INTEGER NOT NULL,
    large INTEGER NOT NULL, rehearsed INTEGER NOT NULL,
    PRIMARY KEY (container, since, lot, person)
) STRICT, WITHOUT ROWID""",
    "CREATE INDEX taken_lot ON taken (lot)",
    "CREATE TABLE taken_upto (id INTEGER PRIMARY KEY, entry INTEGER NOT NULL) STRICT",
    """CREATE TABLE lot_handling (
    lot TEXT NOT NULL, handling INTEGER NOT NULL,
    PRIMARY KEY (lot, handling)
) STRICT, WITHOUT ROWID""",
)
"""`since` is the entry of the last stocktake before, 0 where there was none: what is left is found there.

Doses of rehearsals are in `rehearsed` alone, what never happened is in nothing. A prep counts in
`preps` once for a lot, in the row of a dose that began it: only the sum over a lot says something.

A dose alone writes nothing here: what was dosed is added with the next entry that is no dose, so that a dose
costs no more than it must. `taken_upto` has the last dose that is in `taken`; who asks for a sum adds the few
after it.

`lot_handling` names the handlings in which a lot was open, itself or in what was made of it, however many
preparations on; what never happened and rehearsals are among them, as in the list of handlings.
"""

TENTH_NG = 10**7
"""Tenths of a nanogram in a milligram."""

LARGE_MG = 1e7
"""A dose of so much or more stands in no sum here, so that no sum leaves the whole numbers of the file."""
