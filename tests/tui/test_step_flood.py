"""Keys far faster than a hand, into every field of a step that takes a reading: no value is misfiled."""

import re
import sys
from functools import cache
from pathlib import Path
from random import Random

import pytest

from store import events as ev
from store.model.words import ActKind
from store.record.record import Record
from tests import site
from tests.tui import desks, snap, typed_hand
from tests.tui.prepared import Moment, moments, opened
from tests.tui.pty_terminal import Terminal
from tui.guide.guide import Guide
from tui.screens.desk import Desk
from tui.screens.step import StepScreen

RATES = (50.0, pytest.param(500.0, marks=pytest.mark.long), 2000.0)
SENT = [f"{n}.{n % 10}{n // 10}" for n in range(11, 31)]
"""Twenty readings that differ in every digit from one another and from what the display should show."""


@cache
def fields() -> dict[str, Moment]:
    """Every moment of a prep at which a reading is typed, the pressure of the enclosure too."""
    found = {}
    for name, moment in moments().items():
        if name in ("planned",):
            continue
        with opened(moment.copy(moment.path.with_name(f"look-{name}")), moment.clock()) as record:
            act = record.prep_state(moment.prep).act
        if act is not None and act.kind in (ActKind.READ, ActKind.DOSE, ActKind.TELL):
            found[name] = moment
    return found


def at(moment: Moment, folder: Path) -> tuple[Record, Desk, Guide]:
    """Give the guide of a moment on a typed balance, as if it had stood there all the time."""
    clock = moment.clock()
    record = opened(moment.copy(folder / "r.tarebook"), clock)
    guide = Guide(
        site.acting(record), moment.prep, monotonic=clock.time, chance=Random(7), label=site.label, fresh=True
    )
    guide.asks.clear()
    while guide.on_page:
        typed_hand.turn(guide)
    return record, desks.beside(record, record.path, clock), guide


def filed(record: Record, guide: Guide, since: int) -> list[tuple[str, str]]:
    """Give the acts that took a number since an entry, and the number."""
    out = []
    for entry in record.entries(subject=f"prep:{guide.prep}"):
        if entry.entry > since:
            event = entry.event
            shown = getattr(event, "shown", "") or getattr(event, "answer", "")
            if shown:
                out.append((str(getattr(event, "act", "correction")), shown.split(" ")[0]))
    return out


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("name", sorted(fields()))
async def test_of_a_flood_no_line_reaches_another_field_than_the_one_that_was_open(
    tmp_path: Path, name: str, rate: float
) -> None:
    """A reading is written from the first line alone; a dose waits for its Enter with a whole line."""
    record, desk, guide = at(fields()[name], tmp_path)
    act, since = guide.state.act, guide.state.last_entry
    assert act is not None
    app = desks.DeskApp(StepScreen(desk, guide))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "".join(f"{x}\r" for x in SENT), rate=rate)
        await pilot.pause()
        found = filed(record, guide, since)
    if act.kind == ActKind.READ:
        assert found == [(act.key, SENT[0])]
    elif act.kind == ActKind.DOSE:
        assert found == []
        assert guide.typed_reading in SENT
    else:
        assert found == []  # far outside the enclosure's limits: a second person is asked for
        assert guide.asks
    record.close()


@pytest.mark.parametrize("rate", RATES)
async def test_a_flood_at_a_correction_corrects_by_its_first_line_alone(tmp_path: Path, rate: float) -> None:
    record, desk, guide = at(moments()["3-close"], tmp_path)
    app = desks.DeskApp(StepScreen(desk, guide))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "-")
        wanted = next(n for n, c in enumerate(guide.asks[-1].choices, 1) if "misread" in c)
        await snap.press(pilot, str(wanted))
        assert guide.asks[-1].prompt == "reading"
        since = guide.state.last_entry
        await snap.send(pilot, "".join(f"{x}\r" for x in SENT), rate=rate)
        assert filed(record, guide, since) == []
        assert guide.asks[-1].choices
        await pilot.pause(1.1 + 120 / rate)  # a digit that chose before may still be held
        await snap.press(pilot, "2")
        assert filed(record, guide, since) == [("correction", SENT[0])]
    record.close()


@pytest.mark.parametrize("rate", RATES)
async def test_after_a_flood_and_a_silence_the_next_field_takes_what_is_typed_for_it(
    tmp_path: Path, rate: float
) -> None:
    record, desk, guide = at(moments()["2-vessel"], tmp_path)
    since = guide.state.last_entry
    app = desks.DeskApp(StepScreen(desk, guide))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "12034.52\r12034.52\r12034.52\r", rate=rate)
        await pilot.pause(0.2)
        await snap.send(pilot, "0.00\r", rate=rate)
        assert filed(record, guide, since) == [("vessel", "12034.52"), ("tared", "0.00")]
    record.close()


@pytest.mark.parametrize("rate", RATES)
def test_of_a_flood_into_the_plain_prep_only_the_line_that_was_asked_for_is_read(
    tmp_path: Path, rate: float
) -> None:
    start = moments(now=True)["2-vessel"]
    path = start.copy(tmp_path / "r.tarebook")
    argv = [sys.executable, "-m", "tui", "--record", str(path), "prep", start.prep, "--plain", "--as", "op-1"]
    with Terminal(argv, rows=60, env={"TAREBOOK_TERMINAL": "7F3A"}) as terminal:
        terminal.wait_for("PIN")
        terminal.send(b"1111\n")
        page = ""
        while "put the empty vessel" not in terminal.text:
            terminal.wait_for(lambda text, old=page: text != old and text.rstrip().endswith("\n>"))  # type: ignore[misc]
            page = terminal.text
            terminal.send(f"{re.findall(r'([1-9]) I have read', page)[-1]}\n".encode())
            terminal.settle(0.4)
        terminal.wait_for("reading, mg\\s*\\Z")
        since = Record.open(path, now=start.clock(), terminal="7F3A", write=False)
        last = since.prep_state(start.prep).last_entry
        since.close()
        terminal.flood("".join(f"{x}\n" for x in SENT).encode(), rate)
        terminal.wait_for("What was typed before this question stood is not taken")
        terminal.settle(0.4)
    with Record.open(path, now=start.clock(), terminal="7F3A", write=False) as record:
        found = [
            e.event.shown
            for e in record.entries(subject=f"prep:{start.prep}")
            if e.entry > last and isinstance(e.event, ev.Read)
        ]
    assert found == [f"{SENT[0]} mg"]
