"""The file: how it is begun and opened, what is refused, and what two who have it open see of each other."""

import sqlite3
import stat
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from store import events as ev
from store.errors import (
    FileRefused,
    OldSqlite,
    RecordBusy,
    RecordDamaged,
    RecordError,
    RecordFull,
    RecordMissing,
    RecordReadOnly,
    RecordTooNew,
)
from store.record import connect, faults, schema, upgrade
from store.record.record import Record
from tests.store.record_story import Clock, new_record, planned, site, story

VISIT = ev.SignedIn(who="op-1")


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def record(tmp_path: Path, clock: Clock) -> Iterator[Record]:
    with new_record(tmp_path / "site.tarebook", clock) as made:
        yield made


def _visit(record: Record) -> ev.Entry:
    return record.append(VISIT, person="op-1", subject="person:op-1")


@pytest.mark.parametrize("name", [n for n in schema.KEPT if n.startswith("journal_")])
def test_a_dropped_guard_is_found_when_the_record_is_opened(record: Record, clock: Clock, name: str) -> None:
    record.close()
    kind = "INDEX" if name == "journal_subject" else "TRIGGER"
    with sqlite3.connect(record.path) as raw:
        raw.execute(f"DROP {kind} {name}")
    raw.close()
    with pytest.raises(RecordDamaged, match=name):
        Record.open(record.path, now=clock, terminal="7F3A")


def test_a_weakened_or_an_added_guard_is_found_when_the_record_is_opened(
    record: Record, clock: Clock
) -> None:
    record.close()
    raw = sqlite3.connect(record.path)
    raw.execute("DROP TRIGGER journal_no_update")
    raw.execute(schema.NO_UPDATE.replace("ON journal", "ON journal WHEN 0"))
    raw.commit()
    with pytest.raises(RecordDamaged, match=r"journal_no_update\)"):
        Record.open(record.path, now=clock, terminal="7F3A")
    raw.execute("DROP TRIGGER journal_no_update")
    raw.execute(schema.NO_UPDATE)
    raw.execute("CREATE TRIGGER extra AFTER INSERT ON dose BEGIN DELETE FROM dose; END")
    raw.close()
    with pytest.raises(RecordDamaged, match=r"\(extra\)"):
        Record.open(record.path, now=clock, terminal="7F3A")


def test_a_new_record_begins_with_where_and_with_what(record: Record) -> None:
    first = record.entry(1)
    assert isinstance(first.event, ev.RecordBegun)
    assert first.event.site == "River Laboratory"
    assert first.event.libraries["sqlite"] == sqlite3.sqlite_version
    assert stat.S_IMODE(record.path.stat().st_mode) == 0o600


def test_the_file_is_opened_durably(record: Record) -> None:
    found = {p: record.query(f"PRAGMA {p}")[0] for p in
             ("journal_mode", "synchronous", "foreign_keys", "recursive_triggers")}  # fmt: skip
    assert [next(iter(row.values())) for row in found.values()] == ["wal", 2, 1, 1]


def test_a_record_is_never_begun_over_a_file(tmp_path: Path, clock: Clock) -> None:
    path = tmp_path / "site.tarebook"
    path.write_text("mine")
    with pytest.raises(FileRefused):
        new_record(path, clock)
    assert path.read_text() == "mine"


def test_what_is_no_record_is_named_as_that(tmp_path: Path, clock: Clock) -> None:
    with pytest.raises(RecordMissing):
        Record.open(tmp_path / "nothing", now=clock, terminal="7F3A")
    (tmp_path / "text").write_text("no database " * 500)
    (tmp_path / "empty").touch()
    sqlite3.connect(tmp_path / "other").executescript("CREATE TABLE t (x)").close()
    for name in ("text", "empty", "other"):
        for write in (True, False):
            with pytest.raises(RecordDamaged, match="not a record"):
                Record.open(tmp_path / name, now=clock, terminal="7F3A", write=write)


def _set_version(path: Path, version: int) -> None:
    raw = sqlite3.connect(path)
    raw.execute(f"PRAGMA user_version = {version}")
    raw.close()


def test_a_record_of_a_newer_program_is_left_alone(record: Record, clock: Clock) -> None:
    record.close()
    _set_version(record.path, upgrade.VERSION + 1)
    for write in (True, False):
        with pytest.raises(RecordTooNew):
            Record.open(record.path, now=clock, terminal="7F3A", write=write)


def test_a_record_that_was_brought_up_meanwhile_is_not_written_by_the_old_program(record: Record) -> None:
    _set_version(record.path, upgrade.VERSION + 1)
    with pytest.raises(RecordTooNew, match="nothing was written"):
        _visit(record)
    assert record.head().entry == 1


@pytest.mark.parametrize("write", [True, False])
def test_derived_tables_of_an_older_program_are_made_anew(record: Record, clock: Clock, write: bool) -> None:
    story(record, clock)
    head, preps = record.head(), record.query("SELECT * FROM prep")
    record.close()
    raw = sqlite3.connect(record.path)
    raw.executescript("DROP TABLE dose; DROP VIEW substance; CREATE TABLE left_over (x); DELETE FROM prep;")
    raw.close()
    _set_version(record.path, schema.VERSION * 1000)
    with Record.open(record.path, now=clock, terminal="7F3A", write=write) as again:
        assert again.head() == head
        assert again.query("SELECT * FROM prep") == preps
        assert len(again.query("SELECT 1 FROM dose")) == 4
        assert again.query("SELECT 1 FROM sqlite_schema WHERE name = 'left_over'") == []


def test_a_question_cannot_change_the_record(record: Record, clock: Clock) -> None:
    site(record)
    with pytest.raises(RecordReadOnly):
        record.query("INSERT INTO kept_text VALUES ('a', 'b', 'c', 1) RETURNING digest")
    rows = record.query("SELECT * FROM kept_text")
    assert len(rows) == 1
    with pytest.raises(TypeError):
        rows[0]["text"] = "other"  # type: ignore[index]


def test_a_record_opened_for_reading_is_not_written(record: Record, clock: Clock) -> None:
    with (
        Record.open(record.path, now=clock, terminal="7F3A", write=False) as reader,
        pytest.raises(RecordReadOnly, match="nothing was written"),
    ):
        _visit(reader)


def test_an_old_sqlite_is_refused_and_the_oldest_that_serves_is_not() -> None:
    with pytest.raises(OldSqlite, match=r"3\.37\.2"):
        connect.check_library((3, 37, 2))
    connect.check_library((3, 38, 0))


def test_a_record_that_another_holds_too_long_says_so(
    record: Record, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connect.connect, "__kwdefaults__", {"timeout_s": 0.05})
    with Record.open(record.path, now=clock, terminal="7F3A") as other:
        with record.immediate(), pytest.raises(RecordBusy, match="nothing was written"):
            _visit(other)
        assert _visit(other).entry == 2


def test_two_connections_count_on_one_journal(record: Record, clock: Clock) -> None:
    with Record.open(record.path, now=clock, terminal="00B2") as other:
        numbers = [_visit(r).entry for r in (record, other, record, other)]
        record.append(planned(), person="op-1", subject="prep:P-7F3A-0001")
        assert other.prep_state("P-7F3A-0001") == record.prep_state("P-7F3A-0001")
        done = ev.StepDone(prep="P-7F3A-0001", step=0)
        other.append(done, person="op-1", subject="prep:P-7F3A-0001")
        assert record.prep_state("P-7F3A-0001").step == 1
    assert numbers == [2, 3, 4, 5]


def test_times_are_kept_in_utc_with_microseconds(record: Record) -> None:
    at = _visit(record).at
    assert at == datetime.fromisoformat(at).astimezone(UTC).isoformat(timespec="microseconds")


@pytest.mark.parametrize(
    ("code", "error", "says"),
    [
        (sqlite3.SQLITE_BUSY, RecordBusy, "try again"),
        (sqlite3.SQLITE_BUSY_SNAPSHOT, RecordBusy, "try again"),
        (sqlite3.SQLITE_FULL, RecordFull, "free some space"),
        (sqlite3.SQLITE_IOERR_WRITE, RecordFull, "free some space"),
        (sqlite3.SQLITE_READONLY_DIRECTORY, RecordReadOnly, "make the file and its folder writable"),
        (sqlite3.SQLITE_CORRUPT, RecordDamaged, "tarebook verify"),
        (sqlite3.SQLITE_IOERR_SHORT_READ, RecordDamaged, "tarebook verify"),
        (sqlite3.SQLITE_PROTOCOL, RecordError, "local disk"),
        (sqlite3.SQLITE_IOERR_SHMMAP, RecordError, "local disk"),
        (sqlite3.SQLITE_IOERR_READ, RecordError, "check the disk"),
        (sqlite3.SQLITE_ERROR, RecordDamaged, "tarebook verify"),
    ],
)
def test_what_sqlite_says_becomes_a_sentence_with_what_to_do(
    code: int, error: type[RecordError], says: str
) -> None:
    from_sqlite = sqlite3.OperationalError("in its own words")
    from_sqlite.sqlite_errorcode = code
    found = faults.named(from_sqlite, Path("site.tarebook"))
    assert type(found) is error
    assert says in str(found)
