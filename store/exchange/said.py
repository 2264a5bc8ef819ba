"""What an export says of itself: what it is, what it is not, how long it is kept."""

IS = (
    "A log of handlings: who had which opened hazardous container or vessel before them, when, for how long, "
    "with which mass."
)
IS_NOT = (
    "Evidence of use and identity. It is no measurement of exposure, no air monitoring and no health record, "
    "and it does not show that a limit was kept. PINs guard screens, not the file: compare the digest below "
    "with a label, a backup or another export that carries one."
)
PREPS_ARE = "A list of preparations as they were planned, weighed, closed and reviewed."
PREPS_ARE_NOT = (
    "It is no certificate: uncertainties stand as computed, and `complete` says whether nothing was missing. "
    "A line marked stale rests on an entry that was withdrawn. PINs guard screens, not the file."
)
NO_NAMES = (
    "Totals without names. Where fewer than three people stand behind a line its figures are "
    "withheld; whoever knows the site may still guess."
)
ABOUT = (
    "Everything that this record holds about one person: the register row and its changes, handlings, sums, "
    "incidents, measurements, rehearsals, reviews. Who else was present is left out."
)
RETENTION = (
    "Nothing is deleted here. Common rules keep such a log for long: 29 CFR 1910.1020, 30 years; Directive "
    "2004/37/EC Article 15, 40 years after the end of exposure for carcinogens and mutagens, 5 years for "
    "reprotoxic substances. Local law decides."
)
