"""Real processes on one record: none loses or doubles an entry; a full or read-only disk loses nothing."""

import os
import signal
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from store.events import SignedIn
from store.record.backup import backup, restore
from store.record.record import Record
from store.record.verify import verify
from tests.store.record_story import Clock, new_record, planned

ROOT = Path(__file__).parents[2]

IMPORTS = """
import os, sys
from pathlib import Path
from datetime import datetime, UTC
from store import events as ev
from store.errors import *
from store.record.record import Record
import store.record.projection  # while the program may still read its own files
"""

OPEN = """
path, name = Path(sys.argv[1]), sys.argv[2]
record = Record.open(path, now=lambda: datetime(2026, 3, 2, 6, 0, 5, tzinfo=UTC), terminal=name)
def visit(): return record.append(ev.SignedIn(who=name), person=name, subject=f"person:{name}")
"""

START = IMPORTS + OPEN


def _start(code: str, path: Path, name: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", START + code, str(path), name],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def _end(process: subprocess.Popen[str]) -> str:
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    return out


@pytest.fixture
def place(tmp_path: Path) -> Path:
    path = tmp_path / "site.tarebook"
    with new_record(path, Clock()) as record:
        record.append(planned(), person="op-1", subject="prep:P-7F3A-0001")
    return path


def test_two_processes_hammering_one_record_lose_and_double_nothing(place: Path) -> None:
    code = "print([visit().entry for _ in range(300)])"
    both = [_start(code, place, name) for name in ("AAAA", "BBBB")]
    numbers = [n for process in both for n in eval(_end(process))]
    assert sorted(numbers) == list(range(3, 603))
    verdict = verify(place)
    assert verdict.ok
    assert verdict.entries == 602


def test_two_processes_cannot_both_take_a_step(place: Path) -> None:
    code = """
taken = 0
print("ready", flush=True)
sys.stdin.readline()
while (state := record.prep_state("P-7F3A-0001")).step < 200:
    try:
        record.append(ev.StepDone(prep=state.prep, step=state.step), person=name,
                      subject=f"prep:{state.prep}", seen=state.last_entry)
        taken += 1
    except MovedOn:
        pass
print(taken)
"""
    both = [_start(code, place, name) for name in ("AAAA", "BBBB")]
    for process in both:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    for process in both:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    assert sum(int(_end(process)) for process in both) == 200
    with Record.open(place, now=Clock(), terminal="7F3A", write=False) as record:
        steps = [e.event.step for e in record.entries(kinds=("step_done",))]  # type: ignore[attr-defined]
    assert steps == list(range(200))


def test_a_process_killed_at_any_moment_leaves_whole_entries_only(place: Path) -> None:
    code = """
print("ready", flush=True)
while True:
    with record.immediate():
        visit()
        last = visit().entry
    print(last, flush=True)
"""
    for round in range(5):
        process = _start(code, place, "AAAA")
        assert process.stdout is not None
        last = 0
        for _ in range(3 + 7 * round):
            line = process.stdout.readline().strip()
            last = int(line) if line.isdigit() else last
        process.send_signal(signal.SIGKILL)
        rest = [int(line) for line in process.stdout.read().split() if line.isdigit()]
        process.communicate()
        promised = max([last, *rest])
        verdict = verify(place)
        assert verdict.ok
        assert verdict.entries >= promised
        assert verdict.entries % 2 == 0, "two in one transaction: both or neither"


def test_a_restore_between_the_entries_of_another_process_loses_none_of_them(
    place: Path, tmp_path: Path
) -> None:
    """What the other wrote before stands in the copy kept aside, what it wrote after in the record."""
    code = """
while not (path.parent / "stop").exists():
    print(visit().digest, flush=True)
"""
    backup(place, tmp_path / "copy")
    process = _start(code, place, "AAAA")
    assert process.stdout is not None
    written = [process.stdout.readline().strip() for _ in range(20)]
    done = restore(place, tmp_path / "copy", now=Clock(), terminal="7F3A", person="k-1")
    written += [process.stdout.readline().strip() for _ in range(20)]
    (tmp_path / "stop").touch()
    # Not communicate(): it would pass over what readline has read ahead.
    written += process.stdout.read().split()
    _end(process)
    assert done.aside is not None
    kept = set()
    for path in (done.aside, place):
        assert verify(path).ok
        with Record.open(path, now=Clock(), terminal="7F3A", write=False) as record:
            kept |= {digest for _, _, digest in record.lines()}
    assert set(written) <= kept


FULL = """
import resource
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]), int(sys.argv[3])))
written = record.head().entry
try:
    while True:
        written = visit().entry
except RecordFull as error:
    print(written, error)
"""


@pytest.mark.parametrize("room", [0, 5_000, 150_000])
def test_a_full_disk_is_a_sentence_and_loses_nothing(place: Path, room: int) -> None:
    """A limit on the size of files stands in for the end of the disk."""
    wal = place.with_name(place.name + "-wal")
    with Record.open(place, now=Clock(), terminal="7F3A") as keep:
        keep.append(SignedIn(who="op-1"), person="op-1", subject="person:op-1")
        limit = wal.stat().st_size + room
        done = subprocess.run(
            [sys.executable, "-c", START + FULL, str(place), "AAAA", str(limit)],
            cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        written, _, sentence = done.stdout.partition(" ")
        assert "no space left" in sentence
        assert keep.head().entry == int(written)
        keep.append(SignedIn(who="op-1"), person="op-1", subject="person:op-1")
    verdict = verify(place)
    assert verdict.ok
    assert verdict.entries == int(written) + 1


def test_a_full_database_is_a_sentence_and_loses_nothing(place: Path) -> None:
    """SQLite's own limit on pages gives the error that a full disk gives."""
    code = """
record._conn.execute("PRAGMA query_only = OFF")
record._conn.execute("PRAGMA max_page_count = 1")
try:
    while True:
        written = visit().entry
except RecordFull as error:
    print(written, error)
"""
    written, _, sentence = _end(_start(code, place, "AAAA")).partition(" ")
    assert "no space left" in sentence
    assert verify(place).ok
    assert verify(place).entries == int(written)


READ_ONLY = """
path, now = Path(sys.argv[1]), lambda: datetime(2026, 3, 2, 6, 0, 5, tzinfo=UTC)
try:
    with Record.open(path, now=now, terminal="AAAA") as record:
        record.append(ev.SignedIn(who="op-1"), person="op-1", subject="person:op-1")
except RecordReadOnly as error:
    with Record.open(path, now=now, terminal="AAAA", write=False) as record:
        print(record.head().entry, error)
"""


@pytest.mark.parametrize("folder_too", [False, True], ids=["file", "file and folder"])
def test_a_read_only_record_is_a_sentence_and_stays_readable(folder_too: bool) -> None:
    """Root may write everywhere: where the tests run as root, the process gives that up first."""
    as_root = os.geteuid() == 0
    drop = "os.setgid(65534)\nos.setuid(65534)\n" if as_root else ""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "site.tarebook"
        new_record(path, Clock()).close()
        path.chmod(0o444)
        Path(folder).chmod(0o555 if folder_too else 0o777)
        done = subprocess.run(
            [sys.executable, "-c", IMPORTS + drop + READ_ONLY, str(path)],
            cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
        Path(folder).chmod(0o755)
        assert done.returncode == 0, done.stderr
        assert done.stdout.startswith("1 ")
        assert "cannot be written" in done.stdout
        assert verify(path).ok
