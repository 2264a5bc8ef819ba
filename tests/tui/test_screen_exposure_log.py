"""The exposure log: own for an operator, everybody's for an officer; rows, incidents, sums, weeks."""

from pathlib import Path

import pytest

from store.actions import steps
from store.errors import NotAllowed
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tui.screens.exposure_log import ExposureLogScreen
from tui.screens.incident_page import IncidentPageScreen
from tui.screens.prep_page import PrepPageScreen
from tui.widgets.table_page import TablePage


def handled(record: Record, clock: site.TestClock) -> None:
    """Story: a prep, an incident in it with op-2 near, and one outside any prep."""
    prep = desks.play(record, clock)
    op_1 = site.acting(record)
    steps.note_incident(op_1, prep, what="spill", note="a drop [x] beside", present=("op-2",))
    steps.note_incident(op_1, "", what="alarm", note="pressure alarm")


@pytest.mark.parametrize("size", desks.SIZES)
async def test_an_operator_sees_the_own_log(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "exposures")
        assert "person op-1" in snap.text_of(app)


async def test_an_operator_cannot_ask_for_somebody_else(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="op-2", story=handled)
    screen = ExposureLogScreen(desk, person="op-1")
    assert screen.which["person"] == "op-2"
    screen.which["person"] = "op-1"
    with pytest.raises(NotAllowed):
        screen.asked()
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "No handling fits" in snap.text_of(app) or "0 handlings" in snap.text_of(app)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        assert "present at the handling" not in snap.text_of(app)
        assert " person " not in snap.text_of(app)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_an_officer_sees_everybody_and_the_sums(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        assert "everybody" in snap.text_of(app)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        snap.check(app, "exposure_sums")
        assert [r.key for r in app.screen.query_one(TablePage).rows] == ["sum#K2CR2O7", "sum#WATER"]


async def test_a_sum_opens_its_handlings_and_a_handling_its_prep(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        await snap.send(pilot, "2\r")
        await desks.settle(pilot)
        assert "substance WATER" in snap.text_of(app)
        await snap.send(pilot, "1\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, PrepPageScreen)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_incidents_stand_with_their_words_in_and_outside_preps(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "i")
        await desks.settle(pilot)
        snap.check(app, "exposure_incidents")
        assert "a drop [x] beside" in snap.text_of(app)
        await snap.send(pilot, "1\r")
        assert isinstance(app.screen, IncidentPageScreen)
        assert "pressure alarm" in snap.text_of(app)


async def test_the_log_is_chosen_by_family_and_period(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        await snap.send(pilot, ["down"] * 3)
        await snap.send(pilot, "cmr 1\r")
        await snap.send(pilot, "2025\r")
        await snap.send(pilot, "2025-12\r")
        await desks.settle(pilot)
        assert "family CMR_1" in snap.text_of(app)
        assert "No handling fits" in snap.text_of(app)


async def test_words_are_found_in_every_column(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "f")
        await snap.send(pilot, "surfaces\r")
        assert len(app.screen.query_one(TablePage).rows) == 1


async def test_the_weeks_are_shown_on_demand_on_a_small_screen(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "2026-W10" not in snap.text_of(app)
        await snap.press(pilot, "b")
        await desks.settle(pilot)
        assert "2026-W10  ██" in snap.text_of(app)
