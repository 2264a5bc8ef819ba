"""The tables that carry the truth: the journal and the credentials. Derived tables stand in `derived`.

`STEPS` only ever grows: a step is a list of statements that brings the file from one version to the next.
Never `transform()` here: it drops triggers and generated columns without a word.
"""

from collections.abc import Mapping, Sequence

APPLICATION_ID = 0x54415245
"""`TARE` in the file header: what tells a record from any other SQLite file."""

GENESIS = "0" * 64
"""The digest that stands before the first entry."""

JOURNAL = """CREATE TABLE journal (
    entry INTEGER PRIMARY KEY,
    line TEXT NOT NULL,
    digest TEXT NOT NULL,
    at TEXT GENERATED ALWAYS AS (line ->> '$.at') VIRTUAL,
    terminal TEXT GENERATED ALWAYS AS (line ->> '$.terminal') VIRTUAL,
    person TEXT GENERATED ALWAYS AS (line ->> '$.person') VIRTUAL,
    kind TEXT GENERATED ALWAYS AS (line ->> '$.kind') VIRTUAL,
    subject TEXT GENERATED ALWAYS AS (line ->> '$.subject') VIRTUAL
) STRICT"""

JOURNAL_SUBJECT = "CREATE INDEX journal_subject ON journal (subject)"

NO_UPDATE = """CREATE TRIGGER journal_no_update BEFORE UPDATE ON journal BEGIN
    SELECT RAISE(ABORT, 'the journal is append-only');
END"""

NO_DELETE = """CREATE TRIGGER journal_no_delete BEFORE DELETE ON journal BEGIN
    SELECT RAISE(ABORT, 'the journal is append-only');
END"""

NEXT = """CREATE TRIGGER journal_next BEFORE INSERT ON journal
WHEN NEW.entry IS NOT (SELECT coalesce(max(entry), 0) + 1 FROM journal) BEGIN
    SELECT RAISE(ABORT, 'entries are numbered one after the other');
END"""

CHAIN = f"""CREATE TRIGGER journal_chain BEFORE INSERT ON journal
WHEN NEW.digest IS NOT tarebook_digest(
    coalesce((SELECT digest FROM journal WHERE entry = NEW.entry - 1), '{GENESIS}'), NEW.line) BEGIN
    SELECT RAISE(ABORT, 'the digest does not follow from the entry before');
END"""
"""`tarebook_digest` is defined on our connections only: another program cannot append at all."""

CREDENTIAL = """CREATE TABLE credential (
    person TEXT PRIMARY KEY,
    salt BLOB NOT NULL,
    n INTEGER NOT NULL,
    r INTEGER NOT NULL,
    p INTEGER NOT NULL,
    hash BLOB NOT NULL,
    entry INTEGER NOT NULL
) STRICT, WITHOUT ROWID"""

STEPS: Mapping[int, Sequence[str]] = {
    1: (JOURNAL, JOURNAL_SUBJECT, NO_UPDATE, NO_DELETE, NEXT, CHAIN, CREDENTIAL),
}
"""Version -> what brings the version before to it."""

VERSION = max(STEPS)

KEPT: Mapping[str, str] = {
    "journal": JOURNAL,
    "journal_subject": JOURNAL_SUBJECT,
    "journal_no_update": NO_UPDATE,
    "journal_no_delete": NO_DELETE,
    "journal_next": NEXT,
    "journal_chain": CHAIN,
    "credential": CREDENTIAL,
}
"""What stands in the file whatever happens to the derived tables, word for word."""
