"""The exposure log: own for an operator, everybody's for an officer; rows, incidents, sums, weeks."""

from pathlib import Path

import pytest

from store.actions import handlings, notes
from store.errors import NotAllowed
from store.queries import registers
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tui.screens import exposure_views
from tui.screens.exposure_log import ExposureLogScreen
from tui.screens.incident_page import IncidentPageScreen
from tui.screens.prep_page import PrepPageScreen
from tui.widgets.table_page import TablePage


def handled(record: Record, clock: site.TestClock) -> None:
    """Story: a prep, an incident in it with op-2 near, and one outside any prep."""
    prep = desks.play(record, clock)
    op_1 = site.acting(record)
    notes.note_incident(op_1, prep, what="spill", note="a drop [x] beside", present=("op-2",))
    notes.note_incident(op_1, "", what="alarm", note="pressure alarm")


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
        assert "0 handlings" in snap.text_of(app)
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
        await desks.settle(pilot)
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
        await snap.send(pilot, ["down"] * 2)
        await snap.send(pilot, "\r")
        await desks.settle(pilot)
        assert "family CMR_1" in snap.text_of(app)
        assert "No handling fits" in snap.text_of(app)


@pytest.mark.parametrize(("choice", "found"), [("1", True), ("2", False)], ids=["then", "now"])
async def test_a_family_is_asked_for_as_classified_then_or_now(
    tmp_path: Path, choice: str, found: bool
) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=handled)
    row = registers.body(desk.record, "substance", "K2CR2O7")
    site.put(desk.record, "substance", {**row, "classification": ["Ox. Sol. 2 H272"]})
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        await snap.send(pilot, ["down"] * 3)
        await snap.send(pilot, "cmr 1\r")
        await snap.send(pilot, ["down"] * 4)
        await snap.send(pilot, choice)
        await desks.settle(pilot)
        assert bool(len(app.screen.query_one(TablePage).rows)) is found
        assert f"classified {'then' if found else 'now'}" in " ".join(snap.text_of(app).split())


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
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        assert "2026-W10  ██" not in snap.text_of(app), "rows need the room"


async def test_the_log_is_chosen_by_enclosure_and_kind_of_handling(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        every = len(app.screen.query_one(TablePage).rows)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        await snap.send(pilot, ["down"] * 6)
        await snap.send(pilot, "E-1\r")
        await snap.send(pilot, "container\r")
        await desks.settle(pilot)
        await snap.send(pilot, "\r")
        await desks.settle(pilot)
        rows = app.screen.query_one(TablePage).rows
        assert 0 < len(rows) < every
        assert {r.cells[2] for r in rows} == {"container"}


async def test_a_week_of_the_sums_opens_the_handlings_of_its_days(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        for _ in range(5):
            await snap.press(pilot, "s")
            await desks.settle(pilot)
        assert [r.key for r in app.screen.query_one(TablePage).rows] == ["sum#2026-W10"]
        await snap.send(pilot, "1\r")
        await desks.settle(pilot)
        assert "since 2026-03-02 · until 2026-03-08" in snap.text_of(app)
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        assert "everybody · sums by week" in snap.text_of(app)


async def test_an_officer_enters_what_was_measured_and_others_see_places_and_their_own_air(
    tmp_path: Path,
) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "m")
        await desks.settle(pilot)
        await snap.press(pilot, "a")
        await desks.settle(pilot)
        await snap.press(pilot, "2")
        for typed in ("7778-50-9", "0.12 ug/m3", "2026-03-01", "op-1", "", "", "", "1 ug/m3", "local law"):
            await snap.send(pilot, f"{typed}\r")
            await pilot.pause(0.3)
        for _ in range(4):
            await snap.send(pilot, "\r")
            await pilot.pause(0.5)
        await desks.settle(pilot)
        snap.check(app, "exposure_measured")
        await snap.send(pilot, "1\r")
        assert "(limit 1 ug/m3, local law)" in snap.text_of(app)
    assert desk.acting.person == "so-1"
    handlings.monitor(desk.acting, what="personal air", substance="K2CR2O7", value="9 ug/m3", who="op-2")
    handlings.monitor(desk.acting, what="wipe", substance="K2CR2O7", value="3 ng/cm2", place="bench")
    desk.person = site.acting(desk.record, "op-1")
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "m")
        await desks.settle(pilot)
        assert [r.cells[3] for r in app.screen.query_one(TablePage).rows] == ["3 ng/cm2", "0.12 ug/m3"]
        await snap.press(pilot, "a")
        await desks.settle(pilot)
        assert isinstance(app.screen, ExposureLogScreen)


async def test_everybody_sees_totals_without_names_and_fewer_than_three_people_are_withheld(
    tmp_path: Path,
) -> None:
    desk = desks.desk(tmp_path, person="op-2", story=handled)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "n")
        await desks.settle(pilot)
        rows = {r.key: r.cells[1:] for r in app.screen.query_one(TablePage).rows}
        assert rows["nameless#CMR_1"] == ("fewer than 3", "", "", "", "")
        assert "op-1" not in snap.text_of(app)


async def test_words_are_looked_for_in_the_newest_handlings_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = desks.desk(tmp_path, story=handled)
    monkeypatch.setattr(exposure_views, "LOOKED_THROUGH", 2)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "f")
        await snap.send(pilot, "container\r")
        assert app.screen.query_one(TablePage).rows == ()
        assert "Looked through the newest 2 handlings" in snap.text_of(app)


async def test_the_filters_offer_substances_people_and_families_in_words(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=handled)
    screen = ExposureLogScreen(desk)
    app = desks.DeskApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        await snap.send(pilot, "op-1")
        await pilot.pause(0.1)
        assert "op-1  A. B." in snap.text_of(app)
        await snap.send(pilot, "\r")
        await snap.send(pilot, "7778")
        await pilot.pause(0.1)
        assert "K2CR2O7  potassium dichromate" in snap.text_of(app)
        await snap.press(pilot, "right")
        await snap.send(pilot, "\r")
        await pilot.pause(0.1)
        await snap.press(pilot, "down")
        await snap.send(pilot, "cmr 1")
        await pilot.pause(0.1)
        assert "cancer" in snap.text_of(app)
        await snap.press(pilot, "right")
        await snap.send(pilot, "\r")
        await pilot.pause(0.1)
        await snap.press(pilot, "down", "down", "down", "down", "enter")
        await desks.settle(pilot)
    assert (screen.which["person"], screen.which["substance"]) == ("op-1", "K2CR2O7")
    assert screen.which["family"] == "CMR_1"
