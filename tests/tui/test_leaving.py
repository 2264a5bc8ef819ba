"""Nothing typed and nothing open is left by one key: it is asked once, and a bounce is no answer."""

from pathlib import Path

import pytest

from store.model.words import ActKind
from store.queries import preps
from tests.tui import desks, snap
from tests.tui.every_screen import at
from tui.screens.bench import BenchScreen
from tui.screens.form_frame import AGAIN_S, DROPS, FormFrame
from tui.screens.plan import PlanScreen


@pytest.mark.parametrize(
    ("gap_s", "left"), [(AGAIN_S - 0.1, False), (AGAIN_S + 0.1, True)], ids=["a bounce", "meant"]
)
async def test_what_was_typed_is_dropped_by_the_same_key_again_and_not_by_a_bounce(
    tmp_path: Path, gap_s: float, left: bool
) -> None:
    app = desks.DeskApp(BenchScreen(desks.desk(tmp_path)), PlanScreen(desks.desk(tmp_path)))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "C-1\r")
        await snap.press(pilot, "-")  # back to the first field
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        form = app.screen
        assert isinstance(form, FormFrame)
        assert DROPS in snap.text_of(app)
        assert form.form.values["container"] == "C-1"
        form._asked = (form.form.pressed, form.form.pressed_s)
        form.form.pressed += 1
        form.form.pressed_s += gap_s
        form.leave()
        await desks.settle(pilot)
        assert isinstance(app.screen, BenchScreen) == left


async def test_another_key_keeps_what_was_typed_and_it_is_asked_anew(tmp_path: Path) -> None:
    app = desks.DeskApp(BenchScreen(desks.desk(tmp_path)), PlanScreen(desks.desk(tmp_path)))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "C-1\r")
        for key, asked in (("-", False), ("-", True), ("down", False), ("up", False), ("-", True)):
            await snap.press(pilot, key)
            await pilot.pause(1.0)
            assert (DROPS in snap.text_of(app)) == asked
        assert isinstance(app.screen, PlanScreen)
        assert app.screen.form.values["container"] == "C-1"


async def test_a_form_in_which_nothing_was_typed_is_left_at_once(tmp_path: Path) -> None:
    app = desks.DeskApp(BenchScreen(desks.desk(tmp_path)), PlanScreen(desks.desk(tmp_path)))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        assert isinstance(app.screen, BenchScreen)


async def test_the_bench_asks_once_before_it_is_left_while_a_container_is_open(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=at(ActKind.DOSE))
    ((prep, what),) = preps.left_open(desk.record)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "q")
        assert not app._exit
        assert f"STILL OPEN in {prep}: {what}." in snap.text_of(app)
        await snap.press(pilot, "t")
        await snap.press(pilot, "q")
        assert not app._exit, "another key takes the question back"
        await snap.press(pilot, "q")
        assert app._exit
