"""Past preps and the page of one: found, read whole, accepted or returned by a reviewer."""

from pathlib import Path

import pytest

from store.actions import revise
from store.model.words import PrepStatus
from store.queries import preps, registers
from store.queries.page import page as page_of
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tui.screens.bench import BenchScreen
from tui.screens.beside import BesideScreen
from tui.screens.past_preps import PastPrepsScreen
from tui.screens.prep_lines import sections
from tui.screens.prep_page import PrepPageScreen, ReviewScreen
from tui.widgets.table_page import TablePage

PREP = "P-7F3A-0001"


@pytest.mark.parametrize("size", desks.SIZES)
async def test_past_preps_are_listed_newest_first(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(PastPrepsScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "past_preps")
        assert [r.key[-1] for r in app.screen.query_one(TablePage).rows] == ["3", "2", "1"]


async def test_a_row_opens_the_page_of_its_prep(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(PastPrepsScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "3\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, PrepPageScreen)
        assert app.screen.prep == PREP


async def test_the_list_is_filtered_and_ordered(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(PastPrepsScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "o")
        assert [r.key[-1] for r in app.screen.query_one(TablePage).rows] == ["1", "2", "3"]
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        await snap.send(pilot, "potassium dichromate\r")
        await snap.send(pilot, ["down", *"closed", "enter"])
        await snap.send(pilot, "2026\r")
        await snap.send(pilot, "2026-13\r")
        assert "is not a date" in snap.text_of(app)
        await pilot.pause(0.5)
        await snap.send(pilot, "2026-03\r")
        await snap.send(pilot, "op-1\r")
        await desks.settle(pilot)
        shown = app.screen
        assert isinstance(shown, PastPrepsScreen)
        assert [r.key for r in shown.query_one(TablePage).rows] == [PREP]
        assert "status closed" in snap.text_of(app)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_the_page_of_a_prep_is_read_by_sections(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(PrepPageScreen(desk, PREP))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "prep_page")
        await snap.press(pilot, "4")
        snap.check(app, "prep_budget")
        await pilot.pause(1.0)
        await snap.press(pilot, "enter", "home", "end")
        assert page_of(desk.record, PREP).head[:40] in snap.text_of(app)


def test_the_page_holds_every_dose_budget_row_text_and_entry(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    page = page_of(desk.record, PREP)
    assert page.result is not None
    text = "\n".join(line for _, lines in sections(page, 116, desk.local_time) for line in lines)
    for dose in page.state.doses:
        assert dose.shown in text
    for row in page.result.budget:
        assert row.name in text
    for shown in page.cautions:
        assert shown.digest[:16] in text
    for entry in page.log:
        assert f"\n{entry.entry}" in text
    assert page.head[:40] in text


@pytest.mark.parametrize("width", [76, 116])
def test_no_line_of_a_page_is_wider_than_the_screen(tmp_path: Path, width: int) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    page = page_of(desk.record, PREP)
    for _, lines in sections(page, width, desk.local_time):
        assert [line for line in lines if len(line) > width] == []


async def test_a_reviewer_accepts_with_the_pin_and_the_lot_is_released(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="re-1", story=desks.closed_prep)
    app = desks.DeskApp(PrepPageScreen(desk, PREP))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "a")
        await desks.settle(pilot)
        await snap.press(pilot, "1")
        await pilot.pause(1.1)
        await snap.press(pilot, "enter")
        await snap.send(pilot, "1111\r")
        assert "do not fit" in snap.text_of(app)
        assert desk.record.prep_state(PREP).status == PrepStatus.CLOSED
        desks.clock_of(desk).time.pass_(60.0)
        await snap.send(pilot, "4444\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, PrepPageScreen)
        assert "accepted" in snap.text_of(app)
    assert registers.body(desk.record, "lot", "S-7F3A-0001")["status"] == "released"


@pytest.mark.parametrize("size", desks.SIZES)
async def test_returning_needs_a_reason(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, person="re-1", story=desks.closed_prep)
    app = desks.DeskApp(PrepPageScreen(desk, PREP))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "r")
        await desks.settle(pilot)
        await snap.press(pilot, "2")
        await pilot.pause(1.1)
        await snap.press(pilot, "enter")
        assert "still empty" in snap.text_of(app)
        snap.check(app, "review")
        assert isinstance(app.screen, ReviewScreen)
        await snap.send(pilot, "the balance had drifted\r")
        await snap.send(pilot, "4444\r")
        await desks.settle(pilot)
    assert desk.record.prep_state(PREP).status == PrepStatus.RETURNED
    assert registers.body(desk.record, "lot", "S-7F3A-0001")["status"] == "blocked"


async def test_who_accepts_is_told_which_certificate_was_revised_since(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="re-1", story=desks.closed_prep)
    seen = registers.row(desk.record, "lot", "KD-2").entry
    keeper = site.acting(desk.record, "ke-1")
    revise.certificate(keeper, "KD-2", {"assay": "99.0"}, reason="revised", seen=seen)
    app = desks.DeskApp(PrepPageScreen(desk, PREP))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        text = " ".join(snap.text_of(app).split())
        assert "REVISED, closed" in text
        assert "REVISED lot KD-2 was revised since: assay 99.9, now 99.0" in text
        await snap.press(pilot, "a")
        await desks.settle(pilot)
        text = " ".join(snap.text_of(app).split())
        assert "! lot KD-2 was revised since: assay 99.9, now 99.0; its result is the old one" in text


@pytest.mark.parametrize("person", ["op-1", "so-1"])
async def test_who_is_no_reviewer_is_offered_no_review(tmp_path: Path, person: str) -> None:
    desk = desks.desk(tmp_path, person=person, story=desks.closed_prep)
    app = desks.DeskApp(PrepPageScreen(desk, PREP))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "a accept" not in snap.text_of(app)
        await snap.press(pilot, "a")
        assert "Only a reviewer decides" in snap.text_of(app)
        assert isinstance(app.screen, PrepPageScreen)


async def test_outside_text_in_a_prep_is_shown_as_it_is(tmp_path: Path) -> None:
    def story(record: Record, clock: site.TestClock) -> None:
        site.put(record, "substance", {**site.ROWS[0][1], "name": "A[/x] \u202e\x00 [red]"})
        site.planned(record)

    desk = desks.desk(tmp_path, story=story)
    app = desks.DeskApp(PastPrepsScreen(desk), PrepPageScreen(desk, PREP))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "A[/x] ‹202E›␀ [red]" in snap.text_of(app)


async def test_below_the_list_stands_what_the_columns_of_a_closed_prep_have_no_room_for(
    tmp_path: Path,
) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(PastPrepsScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        (row,) = preps.past(desk.record)
        assert row.deviation is not None
        said = f"target 1.000 mg/g · off {100 * row.deviation:+.2f} % · lot KD-2 · op-1 · B-1 · open "
        assert said in snap.text_of(app)


async def test_the_prep_beside_another_is_named_by_its_row_as_well(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(BenchScreen(desk), PrepPageScreen(desk, "P-7F3A-0001"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "b")
        await desks.settle(pilot)
        assert " 2  P-7F3A-0002  " in snap.text_of(app)
        await snap.send(pilot, "2\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, BesideScreen)
        assert [page.state.prep for page in app.screen.pages] == ["P-7F3A-0001", "P-7F3A-0002"]
