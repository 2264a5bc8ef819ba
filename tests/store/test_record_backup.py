"""Copies of the record: complete, verified, refused over a file, and brought back without losing anything."""

import shutil
import sqlite3
import stat
from pathlib import Path

import pytest

from store import events as ev
from store.errors import FileRefused, RecordDamaged, RecordMissing
from store.record.backup import backup, restore
from store.record.record import Record
from store.record.verify import verify
from tests.store.record_story import Clock, new_record, story


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def place(tmp_path: Path, clock: Clock) -> Path:
    path = tmp_path / "site.tarebook"
    with new_record(path, clock) as record:
        story(record, clock)
    return path


def _visit(place: Path, clock: Clock, who: str = "op-1") -> None:
    with Record.open(place, now=clock, terminal="7F3A") as record:
        record.append(ev.SignedIn(who=who), person=who, subject=f"person:{who}")


def test_a_backup_verifies_and_carries_the_same_head(place: Path, tmp_path: Path) -> None:
    to = tmp_path / "copy.tarebook"
    verdict = backup(place, to)
    assert verdict.ok
    assert verdict.head == verify(place).head
    assert stat.S_IMODE(to.stat().st_mode) == 0o600


def test_a_backup_is_one_file_that_needs_no_other(place: Path, tmp_path: Path) -> None:
    folder = tmp_path / "away"
    folder.mkdir()
    backup(place, folder / "copy")
    assert [p.name for p in folder.iterdir()] == ["copy"]
    assert verify(folder / "copy").ok
    assert [p.name for p in folder.iterdir()] == ["copy"]


def test_a_backup_is_whole_while_another_writes(place: Path, tmp_path: Path, clock: Clock) -> None:
    with Record.open(place, now=clock, terminal="7F3A") as record, record.immediate():
        record.append(ev.SignedIn(who="op-1"), person="op-1", subject="person:op-1")
        assert backup(place, tmp_path / "copy").entries == record.head().entry - 1


def test_a_backup_never_overwrites_a_file(place: Path, tmp_path: Path) -> None:
    to = tmp_path / "precious"
    to.write_text("mine")
    with pytest.raises(FileRefused, match="left as it is"):
        backup(place, to)
    assert to.read_text() == "mine"


def test_a_backup_of_a_damaged_record_says_so_and_is_kept(place: Path, tmp_path: Path) -> None:
    with sqlite3.connect(place) as raw:
        raw.execute("DROP TRIGGER journal_no_update")
        raw.execute("UPDATE journal SET line = replace(line, '10.13', '10.18')")
    raw.close()
    verdict = backup(place, tmp_path / "copy")
    assert not verdict.ok
    assert (tmp_path / "copy").exists()


def test_only_a_record_is_backed_up(tmp_path: Path) -> None:
    with pytest.raises(RecordMissing):
        backup(tmp_path / "nothing", tmp_path / "copy")
    sqlite3.connect(tmp_path / "other").executescript("CREATE TABLE t (x)").close()
    with pytest.raises(RecordDamaged, match="not a record"):
        backup(tmp_path / "other", tmp_path / "copy")
    assert not (tmp_path / "copy").exists()


def test_a_restore_brings_the_backup_back_and_says_so_in_the_journal(
    place: Path, tmp_path: Path, clock: Clock
) -> None:
    kept = backup(place, tmp_path / "copy").head
    _visit(place, clock)
    was = verify(place).head
    done = restore(place, tmp_path / "copy", now=clock, terminal="7F3A", person="k-1")
    assert done.verdict.ok
    assert done.source == kept
    with Record.open(place, now=clock, terminal="7F3A") as record:
        event = record.entry(kept.entry + 1).event
    assert isinstance(event, ev.Restored)
    assert (event.source_entry, event.source_digest) == (kept.entry, kept.digest)
    assert (event.aside_entry, event.aside_digest) == (was.entry, was.digest)


def test_what_a_restore_replaces_is_kept_aside_and_verifies(
    place: Path, tmp_path: Path, clock: Clock
) -> None:
    backup(place, tmp_path / "copy")
    _visit(place, clock)
    was = verify(place).head
    done = restore(place, tmp_path / "copy", now=clock, terminal="7F3A", person="k-1")
    assert done.aside is not None
    assert verify(done.aside).head == was
    assert verify(done.aside).ok


def test_a_connection_open_during_a_restore_goes_on_with_what_was_restored(
    place: Path, tmp_path: Path, clock: Clock
) -> None:
    backup(place, tmp_path / "copy")
    with Record.open(place, now=clock, terminal="7F3A") as record:
        record.append(ev.SignedIn(who="op-1"), person="op-1", subject="person:op-1")
        lost = record.head()
        prep = record.prep_state("P-7F3A-0002")
        done = restore(place, tmp_path / "copy", now=clock, terminal="7F3A", person="k-1")
        assert record.entry(lost.entry).event.kind == "restored"
        assert record.prep_state("P-7F3A-0002") == prep
        record.append(ev.SignedIn(who="op-2"), person="op-2", subject="person:op-2")
        assert record.head().entry == done.verdict.head.entry + 1
    assert verify(place).ok


def test_a_prep_that_a_restore_took_back_is_folded_from_what_stands(
    place: Path, tmp_path: Path, clock: Clock
) -> None:
    backup(place, tmp_path / "copy")
    with Record.open(place, now=clock, terminal="7F3A") as record:
        before = record.prep_state("P-7F3A-0001")
        alarm = ev.IncidentNoted(prep="P-7F3A-0001", what="alarm", note="after the backup")
        record.append(alarm, person="op-1", subject="prep:P-7F3A-0001")
        assert record.prep_state("P-7F3A-0001") != before
        restore(place, tmp_path / "copy", now=clock, terminal="7F3A", person="k-1")
        assert record.prep_state("P-7F3A-0001") == before


def test_a_backup_that_does_not_verify_is_not_restored(place: Path, tmp_path: Path, clock: Clock) -> None:
    bad = tmp_path / "copy"
    backup(place, bad)
    data = bytearray(bad.read_bytes())
    at = data.index(b"10.13 mg")
    data[at] ^= 1
    bad.write_bytes(data)
    was = verify(place).head
    with pytest.raises(RecordDamaged, match="does not verify"):
        restore(place, bad, now=clock, terminal="7F3A", person="k-1")
    assert verify(place).head == was


def test_a_record_is_not_restored_from_itself(place: Path, clock: Clock) -> None:
    with pytest.raises(FileRefused, match="itself"):
        restore(place, place, now=clock, terminal="7F3A", person="k-1")


def test_a_lost_record_is_restored_in_its_place(place: Path, tmp_path: Path, clock: Clock) -> None:
    kept = backup(place, tmp_path / "copy").head
    place.unlink()
    done = restore(place, tmp_path / "copy", now=clock, terminal="7F3A", person="k-1")
    assert done.aside is None
    assert done.verdict.ok
    assert done.verdict.head.entry == kept.entry + 1


def test_a_record_beyond_reading_is_moved_aside_as_it_is(place: Path, tmp_path: Path, clock: Clock) -> None:
    backup(place, tmp_path / "copy")
    place.write_bytes(b"not a database at all" * 400)
    done = restore(place, tmp_path / "copy", now=clock, terminal="7F3A", person="k-1")
    assert done.verdict.ok
    assert done.aside is not None
    assert done.aside.read_bytes().startswith(b"not a database")


def test_a_restore_that_cannot_keep_the_record_aside_changes_nothing(
    place: Path, tmp_path: Path, clock: Clock
) -> None:
    backup(place, tmp_path / "copy")
    _visit(place, clock)
    was = verify(place).head
    clock.step *= 0
    shutil.copy(place, place.with_name(f"site-before-restore-{clock.at:%Y%m%dT%H%M%S}.tarebook"))
    with pytest.raises(FileRefused, match="exists already"):
        restore(place, tmp_path / "copy", now=clock, terminal="7F3A", person="k-1")
    assert verify(place).head == was
