"""Two processes on one record: one of them takes a step; a full disk or a read-only record is a sentence."""

import json
import os
import resource
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from textual.app import App

from store.record.record import Record
from store.record.verify import verify
from tests import site
from tests.tui import audit, desks, snap
from tests.tui.prepared import moments, opened
from tests.tui.pty_hand import ENTER, Hand, tarebook
from tests.tui.pty_terminal import ROOT
from tui.screens.step import StepScreen

BOTH = """
import json, sys
from datetime import UTC, datetime
from pathlib import Path
from store.actions import cautions, steps
from store.actions.acting import Acting
from store.errors import StoreError
from store.record.record import Record

path, person, prep = Path(sys.argv[1]), sys.argv[2], sys.argv[3]
record = Record.open(path, now=lambda: datetime.now(UTC), terminal=sys.argv[4])
acting = Acting(record, person, ("operator",))
state = record.prep_state(prep)
print("ready", flush=True)
sys.stdin.readline()
taken, refused = [], 0
for _ in range(int(sys.argv[5])):
    try:
        before = cautions.before(record, state, person)
        if before.standing == "page":
            cautions.acknowledge(acting, prep, seen=state.last_entry, screens=1)
        else:
            steps.go_back(acting, prep, seen=state.last_entry, step=0, reason="both at once")
        taken.append(record.last_entry(f"prep:{prep}"))
    except StoreError:
        refused += 1
    if refused % 2 == 0:
        state = record.prep_state(prep)
print(json.dumps([taken, refused]))
"""


def test_of_two_processes_that_act_on_one_prep_each_act_is_taken_by_one(tmp_path: Path) -> None:
    start = moments(now=True)["planned"]
    path = start.copy(tmp_path / "r.tarebook")
    both = [
        subprocess.Popen(
            [sys.executable, "-c", BOTH, str(path), person, start.prep, terminal, "60"],
            cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for person, terminal in (("op-1", "AAAA"), ("op-2", "BBBB"))
    ]  # fmt: skip
    for process in both:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n", process.stderr
    for process in both:
        assert process.stdin is not None
        process.stdin.write("go\n")
        process.stdin.flush()
    ends = [process.communicate(timeout=120) for process in both]
    assert all(process.returncode == 0 for process in both), ends
    found = [json.loads(out) for out, _ in ends]
    taken = [entry for entries, _ in found for entry in entries]
    assert taken, "nobody got anything done"
    assert len(taken) == len(set(taken)), "two processes took one entry"
    assert verify(path).ok


def test_a_key_at_a_screen_that_another_terminal_has_overtaken_does_nothing_but_say_so(
    tmp_path: Path,
) -> None:
    start = moments(now=True)["planned"]
    path = start.copy(tmp_path / "r.tarebook")
    with tarebook(path) as one, tarebook(path) as two:
        first, second = Hand(one), Hand(two)
        first.sign_in("11", site.PINS["op-1"])
        second.sign_in("12", site.PINS["op-2"])
        first.open_prep(start.prep)
        second.open_prep(start.prep)
        while "I have read this page" in second.text:
            second.turn()
        second.turn()  # the name on the container is compared
        head = _entries(path, start.prep)
        while "I have read this page" in first.text and "moved on" not in first.text:
            first.turn()
        assert "moved on" in " ".join(first.text.split())
        assert _entries(path, start.prep) == head
        first.turn()
    with Record.open(path, now=start.clock(), terminal="7F3A", write=False) as record:
        assert audit.of_prep(record, start.prep).faults == []


def _entries(path: Path, prep: str) -> int:
    with Record.open(path, now=moments(now=True)["planned"].clock(), terminal="7F3A", write=False) as record:
        return record.last_entry(f"prep:{prep}")


def test_on_a_full_disk_the_step_screen_says_so_loses_nothing_and_goes_on_when_there_is_room(
    tmp_path: Path,
) -> None:
    """A limit on the size of the files of the running process stands in for the end of the disk."""
    start = moments(now=True)["3-dose"]
    path = start.copy(tmp_path / "r.tarebook")
    with tarebook(path) as terminal:
        hand = Hand(terminal)
        hand.sign_in("11", site.PINS["op-1"])
        hand.open_prep(start.prep)
        while "if accepted now" not in hand.text:
            hand.turn()
        before = _entries(path, start.prep)
        wal = path.with_name(path.name + "-wal").stat().st_size
        unlimited = resource.RLIM_INFINITY
        resource.prlimit(terminal.process.pid, resource.RLIMIT_FSIZE, (wal, unlimited))
        hand.press(ENTER)
        terminal.wait_for("no space left")
        assert _entries(path, start.prep) == before
        assert "if accepted now" in hand.text, "the reading that was not taken still stands there"
        resource.prlimit(terminal.process.pid, resource.RLIMIT_FSIZE, (unlimited, unlimited))
        terminal.settle(0.2)
        hand.press_and_see(ENTER)
        terminal.wait_for("Close container")
    with Record.open(path, now=start.clock(), terminal="7F3A", write=False) as record:
        assert [d.shown for d in record.prep_state(start.prep).doses] == ["10.01 mg"]
    assert verify(path).ok


async def test_on_a_read_only_record_the_step_screen_says_so_and_stays() -> None:
    """Root may write everywhere: where the tests run as root, the file is opened as somebody else."""
    start = moments(now=True)["planned"]
    with TemporaryDirectory() as folder:
        path = start.copy(Path(folder) / "r.tarebook")
        clock = start.clock()
        opened(path, clock).close()
        path.chmod(0o444)
        os.chmod(folder, 0o777)
        as_root = os.geteuid() == 0
        if as_root:
            os.seteuid(65534)
        try:
            record = opened(path, clock)
            record.query("SELECT count(*) FROM journal")
        finally:
            if as_root:
                os.seteuid(0)
        with record:
            desk = desks.beside(record, path, clock)
            screen = StepScreen(desk, desk.guide(start.prep))
            app: App[None] = desks.DeskApp(screen)
            async with app.run_test(size=(80, 24)) as pilot:
                await desks.settle(pilot)
                for _ in range(4):
                    await snap.press(pilot, str(screen.guide.digit))
                    await pilot.pause(0.2)
                assert "cannot be written" in " ".join(snap.text_of(app).split())
                assert screen.guide.on_page
                assert record.head().entry == verify(path).entries
