"""The step screen to the eye: a page, a reading, a dose, a note; digits that are read from two metres."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from store.record.record import Record
from tests import site
from tests.tui import desks, every_screen, snap, typed_hand
from tui.guide.guide import Guide
from tui.guide.player import Player
from tui.guide.view import Live
from tui.screens.step import StepScreen
from tui.widgets.big_digits import BigDigits


def page(guide: Guide) -> bool:
    return guide.on_page and guide.state.current is not None and guide.state.current.name == "weigh_solid"


def reading(guide: Guide) -> bool:
    return typed_hand.at(guide, "check")


def dose(guide: Guide) -> bool:
    return typed_hand.at(guide, "dose", "weigh_solid")


def note(guide: Guide) -> bool:
    return typed_hand.at(guide, "note", "weigh_solid")


def walked(record: Record, clock: site.TestClock, until: Callable[[Guide], bool]) -> Guide:
    guide = site.guide(record, site.planned(record), clock)
    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(until=until)
    for _ in range(24):
        clock.time.pass_(0.25)
        guide.poll()
    return guide


@pytest.mark.parametrize("size", desks.SIZES)
@pytest.mark.parametrize("until", [page, reading, dose, note])
async def test_the_step_screen_stands_as_it_is(
    tmp_path: Path, size: tuple[int, int], until: Callable[[Guide], bool]
) -> None:
    desk = desks.desk(tmp_path)
    guide = walked(desk.record, desks.clock_of(desk), until)
    app = desks.DeskApp(StepScreen(desk, guide))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, f"step_{until.__name__}")
    desk.record.close()


@pytest.mark.parametrize(("size", "rows"), [((80, 24), 5), ((120, 40), 10)])
async def test_digits_are_five_rows_high_at_80_by_24_and_more_where_there_is_room(
    tmp_path: Path, size: tuple[int, int], rows: int
) -> None:
    """At the fullest: a dose with every line that can stand beside it, and a sentence below."""
    desk = desks.desk(tmp_path)
    clock = desks.clock_of(desk)
    guide = walked(desk.record, clock, dose)
    assert guide.bench is not None
    guide.bench.dose(1, clock.time())
    clock.time.pass_(45 * 60)  # the tare is old by now
    for _ in range(40):
        clock.time.pass_(0.25)
        guide.poll()
    app = desks.DeskApp(StepScreen(desk, guide))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "12,34,5\r")
        text = snap.text_of(app)
        assert "if accepted now" in text
        assert "tare again" in text
        assert "creep" in text
        drawn = [line for line in text.splitlines() if "██" in line]
        assert len(drawn) >= rows, text
    desk.record.close()


async def test_in_80_by_24_the_digits_keep_five_rows_and_what_has_no_room_is_counted(tmp_path: Path) -> None:
    shown = every_screen.SCREENS["step, interrupted"]
    desk = desks.desk(tmp_path, story=shown.story)
    guide = desk.guide(every_screen.PREP)
    crowded = replace(
        guide.view(), page=(), choices=(), prompt="", hazards=("DANGER", *("carcinogen 1B",) * 9),
        short=("One container open at a time.", "Site rules first."),
        body=("Dose it.", "Not checked.", "Slowly."),
        said="Gloves nearly through: close what is open, then change them and press +. " * 2,
        live=Live("-12034.52", "mg", True, aim="aim 79983.23 mg",
                  window="inside from 79883.40 to 80083.06 mg", where="B-1 · sum · live by serial",
                  to_go="to go 1 mg",
                  accepted=("solvent to add 9 g", "BELOW the minimum weight"), tare=("old", "pressure"),
                  by_itself="taken by itself in 4 s"),
    )  # fmt: skip
    guide.view = lambda: crowded  # type: ignore[method-assign] # all that can stand there at once
    app = desks.DeskApp(StepScreen(desk, guide))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        text = snap.text_of(app)
        assert app.screen.query_one(BigDigits).size.height >= 5
        assert "aim 79983.23 mg  inside from 79883.40 to 80083.06 mg" in text
        assert "B-1 · sum · serial" in text
        for words in ("BELOW the minimum weight", "more, see the label", "2 lines more have no room"):
            assert words in text
        await pilot.resize_terminal(120, 40)
        await desks.settle(pilot)
        text = snap.text_of(app)
        assert app.screen.query_one(BigDigits).size.height >= 10
        assert "pressure: tare again" in text
        assert "no room here" not in text
    desk.record.close()
