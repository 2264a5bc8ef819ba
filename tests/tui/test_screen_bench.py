"""The bench: what is owed and open has a digit, another person is seen, and the clock is judged."""

import json
from pathlib import Path
from typing import Any

import pytest

from store.model.words import IncidentKind
from store.queries.due import Bench, Due
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tui.screens import bench_rows
from tui.screens.bench import BenchScreen
from tui.screens.incident import IncidentScreen
from tui.screens.spill import SpillScreen
from tui.screens.step import StepScreen


@pytest.mark.parametrize("size", desks.SIZES)
async def test_the_bench_shows_what_waits(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "bench")


@pytest.mark.parametrize(("digit", "prep"), [("1", "P-7F3A-0002"), ("2", "P-7F3A-0003")])
async def test_a_digit_opens_what_is_owed_or_open(tmp_path: Path, digit: str, prep: str) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, digit)
        await desks.settle(pilot)
        assert isinstance(app.screen, StepScreen)
        assert app.screen.guide.prep == prep


async def test_who_is_no_operator_does_not_get_into_a_prep(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=desks.busy_bench)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "1")
        assert "so-1 may not do this: it takes the role of operator" in snap.text_of(app)
        assert isinstance(app.screen, BenchScreen)
        await snap.press(pilot, "n")
        assert "so-1 is no operator" in snap.text_of(app)


async def test_a_number_typed_by_a_device_opens_nothing(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "1.000\r")
        assert isinstance(app.screen, BenchScreen)


async def test_a_scanned_label_opens_its_prep(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "P-7F3A-0003\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, StepScreen)


async def test_nine_is_the_spill_card_and_leads_to_the_incident(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "9")
        await desks.settle(pilot)
        assert isinstance(app.screen, SpillScreen)
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        assert isinstance(app.screen, IncidentScreen)


async def test_an_incident_is_written_with_who_was_near(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "+")
        await desks.settle(pilot)
        await snap.press(pilot, "1", "2", "1", "2")
        snap.check(app, "incident")
        await pilot.pause(1.1)
        await snap.press(pilot, "enter")
        await desks.settle(pilot)
        assert isinstance(app.screen, BenchScreen)
    found = desk.record.query("SELECT prep, what, note, present FROM incident")[0]
    assert (found["prep"], found["what"]) == ("P-7F3A-0002", IncidentKind.SPILL)
    assert found["note"] == "powder on the pan or floor of the enclosure"
    assert json.loads(found["present"]) == ["op-1", "op-2"]


async def test_an_incident_can_be_told_in_other_words(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(IncidentScreen(desk, ""))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "3", "4")
        await pilot.pause(1.1)
        await snap.send(pilot, "dust on the sleeve [b]\r")
        await pilot.pause(1.1)
        await snap.press(pilot, "enter")
    found = desk.record.query("SELECT prep, what, note FROM incident")[0]
    assert (found["prep"], found["what"], found["note"]) == ("", "contact", "dust on the sleeve [b]")


async def test_a_clock_that_stands_back_is_said(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    desks.clock_of(desk).time.pass_(-600.0)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "The clock stands 10 min behind the last entry" in snap.text_of(app)


async def test_letters_change_colours_and_leave(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        before = app.theme
        await snap.press(pilot, "t")
        assert app.theme != before
        assert f"Colours: {app.theme}." in snap.text_of(app)
        await snap.press(pilot, "q")
        assert app._exit


@pytest.mark.parametrize("words", ["A[/x] [red]", "a\u202eb", "nul\x00byte", "\x1b[31m"])
async def test_outside_text_is_shown_as_it_is(tmp_path: Path, words: str) -> None:
    def story(record: Record, clock: site.TestClock) -> None:
        row = {**site.ROWS[0][1], "name": words}
        site.put(record, "substance", row)
        site.planned(record)

    desk = desks.desk(tmp_path, story=story)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        from tui.widgets.lines import visible

        assert visible(words) in snap.text_of(app)


def _bench(**given: Any) -> Bench:
    return Bench(
        **{"person": "op-1", "owed": (), "open": (), "due": (), "expiring": (), "reviews": 0, **given}
    )


def _due(n: int) -> Due:
    return Due("due", "check", "balance", f"B-{n}", "", "2026-03-02", 0)


def test_rows_that_do_not_fit_are_counted_not_hidden() -> None:
    bench = _bench(due=tuple(_due(n) for n in range(30)))
    found = bench_rows.sections(bench, room=10, names={}, reviewer=False)
    drawn = bench_rows.drawn(found, 78)
    assert len(drawn) <= 10
    assert drawn[-1].strip() == f"and {30 - len(found[0].lines)} more"


def test_no_digit_is_nine_and_eight_places_have_one() -> None:
    bench = _bench(due=tuple(_due(n) for n in range(12)))
    found = bench_rows.sections(bench, room=40, names={}, reviewer=False)
    assert [x.digit for x in found[0].lines] == [1, 2, 3, 4, 5, 6, 7, 8, 0, 0, 0, 0]


def test_only_a_reviewer_is_led_to_the_reviews() -> None:
    for reviewer, digit in ((True, 1), (False, 0)):
        found = bench_rows.sections(_bench(reviews=2), room=10, names={}, reviewer=reviewer)
        assert found[0].lines[0].digit == digit
