"""The plan of a dilution or a series: every vessel explained while it is typed, then written."""

from pathlib import Path

import pytest

from store.record.record import Record
from tests import several, site
from tests.tui import desks, snap
from tui.screens.bench import BenchScreen
from tui.screens.plan_several import PlanSeveralScreen
from tui.screens.prep_page import PrepPageScreen
from tui.screens.step import StepScreen


def stocked(record: Record, clock: site.TestClock) -> None:
    """Story: a stock solution and vials are there."""
    several.begin(record)


async def typed(pilot: desks.Pilot[None], *lines: str | list[str]) -> None:
    for line in lines:
        await snap.send(pilot, line)
        await pilot.pause(0.1)


FILLED = ("1", ["down"], "10 ug/g, 0.1 ug/g\r", "20 g\r", "V-1, V-2\r", "water\r")


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_dilution_is_explained_vessel_by_vessel(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=stocked)
    app = desks.DeskApp(PlanSeveralScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await typed(pilot, *FILLED)
        snap.check(app, "plan_several")


async def test_a_dilution_is_written_from_the_bench_and_its_first_step_begins(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=stocked)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        assert isinstance(app.screen, PlanSeveralScreen)
        await typed(pilot, *FILLED, ["down"] * 7)
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        assert isinstance(app.screen, StepScreen)
    plan = desk.record.prep_state("P-7F3A-0001").plan
    assert [(p.vessel, p.target, p.source) for p in plan.parts] == [
        ("V-1", "10 ug/g", ""),
        ("V-2", "0.1 ug/g", "1"),
    ]


async def test_too_few_vessels_are_refused_where_they_are_typed(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=stocked)
    app = desks.DeskApp(PlanSeveralScreen(desk))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "2", ["down"], "1 to 5 ug/g, 5 equal\r", "20 g\r", "V-1, V-2\r", "water\r")
        assert "5 vessels are needed, 2 are named" in " ".join(snap.text_of(app).split())


def diluted(record: Record, clock: site.TestClock) -> None:
    """Story: a dilution was planned."""
    several.begin(record)
    site.planned(record, several.dilution())


async def test_a_dilution_is_planned_again_from_its_page(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=diluted)
    app = desks.DeskApp(PrepPageScreen(desk, "P-7F3A-0001"))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "n")
        await desks.settle(pilot)
        assert isinstance(app.screen, PlanSeveralScreen)
        values = app.screen.form.values
        assert values["targets"] == "10.00 ug/g, 0.1000 ug/g"
        assert values["vessels"] == "V-1, V-2"
        assert "V-2  0.1000 ug/g" in snap.text_of(app)
