"""Keys at the speed of devices into every field of the step screen for a reading: no value is misfiled."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from random import Random

import pytest
from textual.app import App
from textual.pilot import Pilot

from store import events as ev
from store.model.words import ActKind
from tests.tui import desks, snap
from tests.tui.prepared import moments, opened
from tui.guide import keys
from tui.guide.guide import Guide
from tui.screens.step import StepScreen

RATES = (50, 200, 500, 1000, 2000)
"""Keys a second: a slow wedge to a paste."""


@asynccontextmanager
async def at(folder: Path, name: str) -> AsyncIterator[tuple[Pilot[None], Guide]]:
    """Show the step screen where an act stands open, on a balance that is read by eye or types."""
    start = moments(now=True)[name]
    clock = start.clock()
    with opened(start.copy(folder / "r.tarebook"), clock) as record:
        desk = desks.beside(record, folder / "r.tarebook", clock)
        guide = desk.guide(start.prep)
        while guide.on_page or guide.asks:
            guide.take(keys.Acknowledged(guide.digit) if guide.on_page and not guide.asks else keys.Chosen(1))
        app: App[None] = desks.DeskApp(StepScreen(desk, guide))
        async with app.run_test(size=(80, 24)) as pilot:
            await desks.settle(pilot)
            yield pilot, guide


def reads(guide: Guide) -> list[tuple[str, str]]:
    """Give act and digits of every reading since the guide was taken up."""
    found = []
    for entry in guide.acting.record.entries(subject=f"prep:{guide.prep}", kinds=("read",)):
        event = entry.event
        assert isinstance(event, ev.Read)
        found.append((event.act, event.shown.removesuffix(" mg")))
    return found


@pytest.mark.parametrize("rate", RATES)
async def test_lines_sent_in_one_burst_go_to_the_fields_in_their_order(tmp_path: Path, rate: int) -> None:
    async with at(tmp_path, "1-zero") as (pilot, guide):
        before = len(reads(guide))
        await snap.send(pilot, "0.01\r20000.02\r-0.01\r", rate=rate)
        assert reads(guide)[before:] == [("zero", "0.01"), ("check", "20000.02"), ("off", "-0.01")]


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("name", ["1-check", "2-vessel", "3-return", "4-zeroed", "6-sealed"])
async def test_a_reading_is_filed_digit_for_digit_or_not_at_all(tmp_path: Path, name: str, rate: int) -> None:
    """What follows the line in the same burst goes to no other field as something it was not."""
    chance = Random(f"{name}/{rate}")
    lines = [f"{chance.uniform(10_000, 70_000):.2f}" for _ in range(8)]
    async with at(tmp_path, name) as (pilot, guide):
        before = len(reads(guide))
        await snap.send(pilot, "".join(f"{line}\r" for line in lines), rate=rate)
        filed = reads(guide)[before:]
        assert filed[0] == (name.split("-")[1], lines[0])
        rest = iter(lines)
        assert all(any(digits == line for line in rest) for _, digits in filed), filed


@pytest.mark.parametrize("rate", RATES)
async def test_at_the_dose_the_last_whole_line_stands_and_nothing_is_dosed_unasked(
    tmp_path: Path, rate: int
) -> None:
    chance = Random(rate)
    lines = [f"{chance.uniform(0, 20):.2f}" for _ in range(40)]
    async with at(tmp_path, "3-open") as (pilot, guide):
        guide.take(keys.Act())
        await pilot.pause(0.3)
        await snap.send(pilot, "".join(f"{line}\r" for line in lines), rate=rate)
        assert guide.state.act is not None
        assert guide.state.act.kind == ActKind.DOSE
        assert guide.typed_reading == lines[-1]
        assert guide.state.doses == ()
        await snap.press(pilot, "enter")
        wanted = guide.state.doses[-1].shown if guide.state.doses else f"{guide.typed_reading} mg"
        assert wanted == f"{lines[-1]} mg"


@pytest.mark.parametrize("rate", RATES)
async def test_a_pressure_is_filed_as_it_was_sent(tmp_path: Path, rate: int) -> None:
    async with at(tmp_path, "0-pressure") as (pilot, guide):
        await snap.send(pilot, "-87.25\r", rate=rate)
        assert guide.state.answers["0/pressure"] == "-87.25"


@pytest.mark.parametrize("rate", RATES)
async def test_a_correction_takes_the_line_as_it_was_sent(tmp_path: Path, rate: int) -> None:
    async with at(tmp_path, "3-return") as (pilot, guide):
        guide.take(keys.Back())
        way = next(n for n, c in enumerate(guide.asks[-1].choices, 1) if "misread" in c)
        guide.take(keys.Chosen(way))
        await pilot.pause(0.3)
        await snap.send(pilot, "9.87\r", rate=rate)
        guide.take(keys.Chosen(1))
        assert guide.state.doses[-1].shown == "9.87 mg"


@pytest.mark.parametrize("rate", RATES)
async def test_a_line_begun_by_hand_and_ended_by_a_device_is_taken_by_no_field(
    tmp_path: Path, rate: int
) -> None:
    async with at(tmp_path, "2-vessel") as (pilot, guide):
        before = reads(guide)
        await snap.press(pilot, "1", "2")
        await snap.send(pilot, "034.52\r", rate=max(rate, 200))
        assert reads(guide) == before
        assert "run together" in guide.said


@pytest.mark.parametrize("rate", RATES)
async def test_a_reading_acknowledges_no_page_and_answers_no_question(tmp_path: Path, rate: int) -> None:
    async with at(tmp_path, "3-return") as (pilot, guide):
        head = guide.acting.record.head().entry
        guide.take(keys.Note())
        await pilot.pause(0.3)
        await snap.send(pilot, "12034.52\r2.50\r", rate=rate)
        assert guide.acting.record.head().entry == head
        assert len(guide.asks) == 1
