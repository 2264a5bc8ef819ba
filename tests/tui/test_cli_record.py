"""`verify`, `backup` and `restore` as a person types them."""

import json
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from store.record import people
from store.record.record import Record
from store.record.verify import verify
from tests.store.record_story import LOW_N, Clock, new_record, story
from tests.tui.test_paper_label import FINAL
from tui.__main__ import main

KEEPER_PIN, OPERATOR_PIN = "2580", "4711"


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "site.tarebook"
    clock = Clock()
    with new_record(path, clock) as record:
        story(record, clock)
        people.set_pin(record, "k-1", KEEPER_PIN, by="k-1", n=LOW_N)
    monkeypatch.setenv("TAREBOOK_RECORD", str(path))
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    return path


def _run(*words: str, typed: str = "") -> Result:
    return CliRunner().invoke(main, list(words), input=typed)


def _damage(path: Path) -> int:
    """Change a dose's mass behind the record's back, and give its entry."""
    with closing(sqlite3.connect(path)) as raw:
        (entry,) = raw.execute("SELECT min(entry) FROM dose").fetchone()
        raw.execute("UPDATE dose SET net_mg = 1.5 WHERE entry = ?", (entry,))
        raw.commit()
    return int(entry)


def test_verify_says_ok_with_the_entries_and_the_head(place: Path) -> None:
    head = verify(place).head
    done = _run("verify")
    assert (done.exit_code, done.output) == (0, f"OK: {head.entry} entries, head {head}\n")
    done = _run("verify", "--chain-only")
    assert (done.exit_code, done.output) == (0, f"OK (chain only): {head.entry} entries, head {head}\n")


def test_verify_exits_1_and_names_what_is_wrong(place: Path) -> None:
    entry = _damage(place)
    done = _run("verify")
    assert done.exit_code == 1
    assert "DOES NOT VERIFY" in done.output
    assert f"dose: net_mg of {entry} is 1.5, not 6.02" in done.output
    assert _run("verify", "--chain-only").exit_code == 0


def test_verify_speaks_json(place: Path) -> None:
    head = verify(place).head
    found = json.loads(_run("verify", "--format", "json").output)
    assert found == {"verdict": "OK", "entries": head.entry, "head": str(head), "faults": []}
    entry = _damage(place)
    (fault,) = json.loads(_run("verify", "--format", "json").output)["faults"]
    assert (fault["entry"], fault["where"]) == (entry, "dose")


def test_verify_holds_the_record_up_to_an_anchor_and_a_backup(place: Path, tmp_path: Path) -> None:
    head, copy = verify(place).head, str(tmp_path / "copy")
    assert _run("backup", copy).exit_code == 0
    assert _run("verify", "--anchor", str(head), "--against", copy).exit_code == 0
    done = _run("verify", "--anchor", f"{head.entry + 1}:{head.digest}")
    assert done.exit_code == 1
    assert "its tail is cut off" in done.output


def test_verify_takes_what_a_scanner_types_from_the_square_code_of_a_label(place: Path) -> None:
    head = verify(place).head
    assert head is not None
    label = replace(FINAL, entry=head.entry, digest=head.digest)
    assert _run("verify", "--anchor", label.code).exit_code == 0
    other = replace(label, digest=head.digest[::-1])
    assert _run("verify", "--anchor", other.code).exit_code == 1


@pytest.mark.parametrize(
    "anchor", ["7", "7:", "7:abc", f"seven:{'a' * 64}", f"7:{'g' * 64}", f"7:{'a' * 65}"]
)
def test_an_anchor_that_is_none_is_refused_in_one_sentence(place: Path, anchor: str) -> None:
    done = _run("verify", "--anchor", anchor)
    assert done.exit_code == 2
    assert "ENTRY:DIGEST" in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("command", [("verify",), ("backup", "copy"), ("restore", "copy", "--as", "k-1")])
def test_a_missing_record_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    done = _run("--record", str(tmp_path / "nothing"), *command, typed="0000\n")
    assert done.exit_code == 2
    assert "Traceback" not in done.output
    assert not (tmp_path / "nothing").exists()


def test_a_backup_says_where_it_is_and_that_a_pin_does_not_guard_it(place: Path, tmp_path: Path) -> None:
    done = _run("backup", str(tmp_path / "copy"))
    assert done.exit_code == 0
    assert f"OK, copied to {tmp_path / 'copy'}: " in done.stdout
    assert "not a file" in done.stderr
    again = _run("backup", str(tmp_path / "copy"))
    assert again.exit_code == 2
    assert "left as it is" in again.stderr


def test_a_backup_of_a_damaged_record_exits_1(place: Path, tmp_path: Path) -> None:
    _damage(place)
    done = _run("backup", str(tmp_path / "copy"))
    assert done.exit_code == 1
    assert "DOES NOT VERIFY" in done.output


def _restore(copy: Path, person: str, pin: str) -> Result:
    return _run("restore", str(copy), "--as", person, "--pin-stdin", typed=f"{pin}\n")


def test_a_keeper_restores_and_the_record_as_it_was_is_kept(place: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    _run("backup", str(copy))
    head = verify(copy).head
    done = _restore(copy, "k-1", KEEPER_PIN)
    assert done.exit_code == 0, done.output
    assert f"restored {copy} up to {head}" in done.output
    (aside,) = tmp_path.glob("site-before-restore-*")
    assert str(aside) in done.output
    with Record.open(place, now=Clock(), terminal="7F3A", write=False) as record:
        last = record.entry(head.entry + 1)
        assert record.entry(record.head().entry).event.kind == "restored"
    assert last.person == "k-1"


@pytest.mark.parametrize(("person", "pin"), [("op-1", OPERATOR_PIN), ("k-1", "0000"), ("op-9", KEEPER_PIN)])
def test_nobody_else_restores(place: Path, tmp_path: Path, person: str, pin: str) -> None:
    copy = tmp_path / "copy"
    _run("backup", str(copy))
    done = _restore(copy, person, pin)
    assert done.exit_code == 2
    with Record.open(place, now=Clock(), terminal="7F3A", write=False) as record:
        assert "restored" not in [e.event.kind for e in record.entries(after=verify(copy).entries)]
    assert not list(tmp_path.glob("site-before-restore-*"))


@pytest.mark.parametrize(
    ("person", "pin", "code"),
    [("k-1", KEEPER_PIN, 0), ("k-1", "0000", 2), ("op-1", OPERATOR_PIN, 2), ("op-9", "0000", 2)],
)
def test_a_lost_record_is_restored_by_a_keeper_of_the_backup(
    place: Path, tmp_path: Path, person: str, pin: str, code: int
) -> None:
    copy = tmp_path / "copy"
    _run("backup", str(copy))
    before = verify(copy).head
    place.unlink()
    done = _restore(copy, person, pin)
    assert (done.exit_code, place.exists()) == (code, code == 0), done.output
    assert verify(copy).head == before


def test_a_restore_asks_who(place: Path, tmp_path: Path) -> None:
    done = _run("restore", str(tmp_path / "copy"))
    assert done.exit_code == 2
    assert "--as ID" in done.stderr
