"""Any changed stored value is named, a cut or rewritten journal is found, no other content is ever OK."""

import json
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from store.errors import RecordMissing, RecordTooNew
from store.events import SignedIn
from store.record import derived, schema, upgrade
from store.record.backup import backup
from store.record.file_checks import Fault
from store.record.journal import canonical, digest_of
from store.record.record import Record
from store.record.tables import names
from store.record.verify import verify
from tests.store.record_story import Clock, new_record, prep_story, story


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("told") / "site.tarebook"
    clock = Clock()
    with new_record(path, clock) as record:
        story(record, clock)
    return path


@pytest.fixture(scope="module")
def last(told: Path) -> int:
    """Number of the last entry, of a file that verifies."""
    verdict = verify(told)
    assert verdict.ok
    return verdict.head.entry


@pytest.fixture
def place(told: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(told, tmp_path / "site.tarebook"))


def _change(path: Path, *statements: str) -> None:
    """Change the file behind our back, and leave every guard as it was."""
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.create_function("tarebook_digest", 2, digest_of, deterministic=True)
        raw.execute("PRAGMA synchronous = OFF")  # a copy that is thrown away
        guards = [name for name in schema.KEPT if schema.KEPT[name].startswith("CREATE TRIGGER")]
        for name in guards:
            raw.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            raw.execute(statement)
        for name in guards:
            raw.execute(schema.KEPT[name])


def _faults(path: Path, **how: Any) -> tuple[Fault, ...]:
    verdict = verify(path, **how)
    assert verdict.ok == (not verdict.faults)
    return verdict.faults


def _columns() -> Iterator[Any]:
    with closing(sqlite3.connect(":memory:")) as made:
        made.create_function("tarebook_digest", 2, digest_of, deterministic=True)
        for statement in (*schema.STEPS[1], *derived.statements()):
            made.execute(statement)
        for table in ("journal", "credential", *names()):
            for _, name, kind, *_ in made.execute(f"PRAGMA table_info({table})"):
                yield pytest.param(table, name, kind, id=f"{table}.{name}")


CHANGED = {
    "TEXT": "{0} || 'x'",
    "INTEGER": "{0} + 1000",
    "REAL": "coalesce({0}, 0) + 0.125",
    "BLOB": "CAST({0} || x'00' AS BLOB)",
}


# ---- changed values ----


def test_what_nobody_touched_verifies(place: Path) -> None:
    assert _faults(place) == ()
    assert _faults(place, chain_only=True) == ()
    with Record.open(place, now=Clock(), terminal="7F3A", write=False) as record:
        assert verify(place).head == record.head()


@pytest.mark.parametrize(("table", "column", "kind"), list(_columns()))
def test_a_changed_value_is_named(place: Path, last: int, table: str, column: str, kind: str) -> None:
    # An index over what a row says refuses text that is no JSON before it is in the file.
    ours = {"line": "line || ' '", "row": "json_set(row, '$.id', 'x')"}
    value = ours.get(column) or CHANGED[kind].format(column)
    row = f"entry = {last}" if table == "journal" else f"{column} IS (SELECT {column} FROM {table} LIMIT 1)"
    _change(place, f"UPDATE {table} SET {column} = {value} WHERE {row}")
    first = _faults(place)[0]
    assert first.where == table
    if table == "journal":
        assert first.entry == last
    elif table != "credential":
        assert column in first.what or "is in no entry" in first.what or "is missing" in first.what


@pytest.mark.parametrize("table", names())
def test_a_row_taken_away_is_named(place: Path, table: str) -> None:
    with closing(sqlite3.connect(place)) as raw:
        key = _key(raw, table)
        raw.execute(f"DELETE FROM {table} WHERE ({key}) IN (SELECT {key} FROM {table} LIMIT 1)")
        raw.commit()
    first = _faults(place)[0]
    assert first.where == table
    assert first.what.endswith("is missing")


def _key(raw: sqlite3.Connection, table: str) -> str:
    rows = raw.execute(f"SELECT name FROM pragma_table_info('{table}') WHERE pk ORDER BY pk")
    return ", ".join(name for (name,) in rows)


def test_a_row_put_in_is_named(place: Path) -> None:
    _change(place, "INSERT INTO kept_text VALUES ('ff', 'never shown', 'caution page', 7)")
    (fault,) = _faults(place)
    assert (fault.where, fault.what) == ("kept_text", "ff is in no entry")


@pytest.mark.parametrize(("table", "column"), [("search", "c2"), ("search", "c1"), ("prep_text", "c0")])
def test_bytes_in_the_place_of_words_are_found(place: Path, table: str, column: str) -> None:
    _change(place, f"UPDATE {table}_content SET {column} = CAST({column} AS BLOB)")
    assert table in {fault.where for fault in _faults(place)}


def test_a_value_of_another_type_is_found(place: Path) -> None:
    loose = derived.TABLES[0].replace(") STRICT, WITHOUT ROWID", ") WITHOUT ROWID")
    _change(
        place,
        "PRAGMA writable_schema = ON",
        f"UPDATE sqlite_schema SET sql = '{loose}' WHERE name = 'register_row'".replace("''", "'"),
        "PRAGMA writable_schema = RESET",
        "UPDATE register_row SET row = CAST(row AS BLOB)",
    )
    assert any(f.where == "schema" and "register_row" in f.what for f in _faults(place))


@pytest.mark.parametrize(
    ("column", "other"),
    [("type", "CAST(type AS BLOB)"), ("type", "'table'"), ("tbl_name", "'dose'"), ("tbl_name", "X'61'")],
)
def test_an_object_that_is_listed_as_something_else_is_found(place: Path, column: str, other: str) -> None:
    """An index listed as a blob is an index to nobody: a reader who goes through it finds other rows."""
    _change(
        place,
        "PRAGMA writable_schema = ON",
        f"UPDATE sqlite_schema SET {column} = {other} WHERE name = 'monitoring_day'",
    )
    assert any("monitoring_day" in f.what or f.where == "file" for f in _faults(place))


@pytest.mark.parametrize(
    ("sql", "says"),
    [
        ("DROP INDEX dose_lot", "dose_lot is missing"),
        ("DROP VIEW lot", "lot is missing"),
        ("CREATE TABLE extra (x)", "extra is not of Tarebook"),
        (
            "CREATE TRIGGER hide AFTER INSERT ON incident BEGIN DELETE FROM incident; END",
            "hide is not of Tarebook",
        ),
    ],
)
def test_a_changed_table_index_view_or_trigger_is_named(place: Path, sql: str, says: str) -> None:
    _change(place, sql)
    assert says in [f.what for f in _faults(place)]


def test_an_index_that_hides_a_row_is_found(place: Path) -> None:
    """An index answers questions by itself: one that lies would show other content than its table."""
    with closing(sqlite3.connect(place, isolation_level=None)) as raw:
        (page,) = raw.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'dose_lot'").fetchone()
        (size,) = raw.execute("PRAGMA page_size").fetchone()
    data = bytearray(place.read_bytes())
    at = data.index(b"KD-2", (page - 1) * size, page * size)
    data[at + 3] = ord("9")
    place.write_bytes(data)
    assert _faults(place) != ()


# ---- the chain ----


def test_a_changed_line_is_named_by_its_entry(place: Path) -> None:
    _change(place, "UPDATE journal SET line = replace(line, '10.13', '10.18') WHERE line LIKE '%10.13 mg%'")
    with closing(sqlite3.connect(place)) as raw:
        (entry,) = raw.execute("SELECT min(entry) FROM journal WHERE line LIKE '%10.18%'").fetchone()
    for how in ({}, {"chain_only": True}):
        first = _faults(place, **how)[0]
        assert (first.entry, first.where) == (entry, "journal")


def _forge(
    path: Path, change: Callable[[int, str], str] = lambda number, line: line.replace("10.13", "10.18")
) -> None:
    """Change a line and compute every digest after it anew, as an owner of the file could."""
    with closing(sqlite3.connect(path)) as raw:
        lines = [line for (line,) in raw.execute("SELECT line FROM journal ORDER BY entry")]
    before, statements = schema.GENESIS, []
    for number, line in enumerate(lines, 1):
        line = change(number, line)
        before = digest_of(before, line)
        quoted = line.replace("'", "''")
        statements.append(f"UPDATE journal SET line = '{quoted}', digest = '{before}' WHERE entry = {number}")
    _change(path, *statements)


def test_a_forged_chain_is_found_by_the_tables_that_were_not_forged(place: Path) -> None:
    _forge(place)
    assert _faults(place, chain_only=True) == ()
    assert {f.where for f in _faults(place)} >= {"dose"}


def test_a_record_forged_whole_is_found_by_an_anchor_and_by_a_backup(place: Path, told: Path) -> None:
    head = verify(told).head
    _forge(place)
    with Record.open(place, now=Clock(), terminal="7F3A") as record:
        record.rebuild()
    assert _faults(place) == ()
    (fault,) = _faults(place, anchor=(head.entry, head.digest))
    assert (fault.entry, fault.where) == (head.entry, "anchor")
    (fault,) = _faults(place, against=told)
    assert fault.where == "backup"
    with closing(sqlite3.connect(place)) as raw:
        (entry,) = raw.execute("SELECT min(entry) FROM journal WHERE line LIKE '%10.18%'").fetchone()
    assert fault.entry == entry


def _cut(path: Path, last: int) -> None:
    _change(path, f"DELETE FROM journal WHERE entry > {last}")
    with Record.open(path, now=Clock(), terminal="7F3A") as record:
        record.rebuild()


def test_a_cut_tail_is_found_by_an_anchor_and_by_a_backup(place: Path, told: Path) -> None:
    head = verify(told).head
    _cut(place, head.entry - 1)
    assert _faults(place) == ()
    (fault,) = _faults(place, anchor=(head.entry, head.digest))
    assert (fault.entry, fault.where) == (head.entry, "anchor")
    (fault,) = _faults(place, against=told)
    assert (fault.entry, fault.where) == (head.entry, "backup")


def test_an_anchor_and_a_backup_that_fit_are_fine_as_the_record_grows(place: Path, told: Path) -> None:
    head = verify(told).head
    with Record.open(place, now=Clock(), terminal="7F3A") as record:
        prep_story(record, "P-7F3A-0003")
    for digest in (head.digest, head.digest[:16], head.digest.upper()):
        assert _faults(place, anchor=(head.entry, digest), against=told) == ()
    assert _faults(place, anchor=(head.entry, head.digest[:15])) != ()


def test_an_entry_taken_from_the_middle_is_named(place: Path) -> None:
    _change(place, "DELETE FROM journal WHERE entry = 7")
    first = _faults(place, chain_only=True)[0]
    assert (first.entry, first.where) == (7, "journal")


def test_a_journal_without_entries_does_not_verify(place: Path) -> None:
    _change(place, "DELETE FROM journal", "DELETE FROM credential", *(f"DELETE FROM {t}" for t in names()))
    for how in ({}, {"chain_only": True}):
        assert _faults(place, **how) != ()


def test_a_chained_line_that_cannot_be_read_is_named(place: Path) -> None:
    with closing(sqlite3.connect(place)) as raw:
        entry, digest = raw.execute("SELECT max(entry), digest FROM journal").fetchone()
    line = '{"kind":"dosed","subject":"prep:P-7F3A-0001"}'
    _change(place, f"INSERT INTO journal (entry, line, digest) VALUES ({entry + 1}, '{line}', "
                   f"'{digest_of(digest, line)}')")  # fmt: skip
    (fault,) = _faults(place)
    assert (fault.entry, fault.where) == (entry + 1, "journal")


@pytest.mark.parametrize("closing_one", [1, 2])
def test_the_first_entry_that_cannot_be_written_is_named_though_many_are_written_at_once(
    tmp_path: Path, closing_one: int
) -> None:
    path, clock = tmp_path / "site.tarebook", Clock()
    with new_record(path, clock) as record:
        for number in (1, 2, 3):
            prep_story(record, f"P-7F3A-000{number}")
        closings = [e.entry for e in record.entries(kinds=("prep_closed",))]
    wrong = closings[closing_one]

    def no_label(number: int, line: str) -> str:
        content = json.loads(line)
        return (
            canonical({**content, "body": {**content["body"], "label": ["a"]}}) if number == wrong else line
        )

    _forge(path, no_label)
    (fault, *_) = _faults(path)
    assert (fault.entry, fault.where) == (wrong, "journal")
    assert "cannot be read" in fault.what


def test_a_pin_that_was_swapped_behind_the_journal_is_named(place: Path) -> None:
    _change(place, "UPDATE credential SET salt = x'00', hash = x'00'")
    (fault,) = _faults(place)
    assert fault.where == "credential"
    _change(place, "DELETE FROM credential")
    (fault,) = _faults(place)
    assert (fault.where, fault.what) == ("credential", "of 'op-1' is missing")


# ---- files ----


def test_a_record_in_use_verifies_as_it_stands(place: Path) -> None:
    with Record.open(place, now=Clock(), terminal="7F3A") as record:
        prep_story(record, "P-7F3A-0003")
        with record.immediate():
            prep_story(record, "P-7F3A-0004")
            assert verify(place).ok
        verdict = verify(place)
        assert verdict.ok
        assert verdict.head == record.head()


def test_an_older_edition_verifies_by_its_chain(place: Path) -> None:
    _change(place, "DROP TABLE dose", f"PRAGMA user_version = {schema.VERSION * 1000}")
    assert _faults(place) == ()


def test_a_newer_edition_is_not_judged(place: Path) -> None:
    _change(place, f"PRAGMA user_version = {upgrade.VERSION + 1}")
    with pytest.raises(RecordTooNew):
        verify(place)


def test_what_is_no_record_does_not_verify(tmp_path: Path) -> None:
    with pytest.raises(RecordMissing):
        verify(tmp_path / "nothing")
    (tmp_path / "text").write_text("no database " * 500)
    (tmp_path / "empty").touch()
    for name in ("text", "empty"):
        assert _faults(tmp_path / name) != ()


def test_the_walk_tells_how_far_it_is(tmp_path: Path) -> None:
    clock, told = Clock(), list[int]()
    with new_record(tmp_path / "r", clock) as record, record.immediate():
        for _ in range(10_000):
            record.append(SignedIn(who="op-1"), person="op-1", subject="person:op-1")
    assert verify(tmp_path / "r", chain_only=True, progress=told.append).entries == 10_001
    assert told == [10_000]


def test_a_backup_serves_as_a_witness(place: Path, tmp_path: Path) -> None:
    backup(place, tmp_path / "copy")
    assert _faults(place, against=tmp_path / "copy") == ()
    _change(tmp_path / "copy", "UPDATE journal SET line = replace(line, 'neoprene', 'nitrile')")
    (fault,) = _faults(place, against=tmp_path / "copy")
    assert "does not verify itself" in fault.what
