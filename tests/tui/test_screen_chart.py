"""In control or not, two preps side by side, and a past prep planned again."""

from pathlib import Path

import pytest

from store.calc.chart import individuals
from store.queries import control
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tests.tui.test_screen_incident_page import submit
from tui.screens.beside import BesideScreen
from tui.screens.chart import ChartScreen
from tui.screens.past_preps import PastPrepsScreen
from tui.screens.plan import PlanScreen
from tui.screens.prep_page import PrepPageScreen
from tui.widgets import chart as signs
from tui.widgets.entry_form import EntryForm


def several(record: Record, clock: site.TestClock) -> None:
    """Story: op-1 made three preps of one substance, and planned a fourth."""
    for _ in range(3):
        desks.play(record, clock)
    site.planned(record)


def test_the_chart_takes_what_came_to_a_result_the_oldest_first(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=several)
    found = control.of(desk.record, "K2CR2O7")
    assert [p.prep for p in found.points] == [f"P-7F3A-000{n}" for n in (1, 2, 3)]
    for point in found.points:
        state = desk.record.prep_state(point.prep)
        assert point.ratio == pytest.approx(float(state.result["value"]) / 1.000, rel=1e-9)
    assert found.chart == individuals([p.ratio for p in found.points])
    assert control.of(desk.record, "K2CR2O7", last=2).chart is None
    assert control.of(desk.record, "K2CR2O7", target="2 mg/g").points == ()


def test_a_point_that_completes_a_rule_is_marked_and_the_rule_named() -> None:
    values = [1.0, 1.001] * 6 + [1.02]
    chart = individuals(values)
    drawn = signs.drawn(values, chart, width=40, height=9)
    assert sum(line.count("X") for line in drawn) == len({s.at for s in chart.signals})
    assert any("one point beyond 3 sigma" in r and "p13" in r
               for r in signs.rules(chart, [f"p{n}" for n in range(1, 14)]))  # fmt: skip


@pytest.mark.parametrize("width", [14, 30, 80])
def test_no_line_of_the_plot_is_wider_than_its_room(width: int) -> None:
    values = [1.0 + n % 3 / 100 for n in range(50)]
    assert all(len(line) <= width for line in signs.drawn(values, individuals(values), width=width, height=8))


@pytest.mark.parametrize("size", desks.SIZES)
async def test_past_preps_lead_to_the_chart_of_their_substance(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=several)
    app = desks.DeskApp(PastPrepsScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "c")
        await desks.settle(pilot)
        assert isinstance(app.screen, ChartScreen)
        snap.check(app, "chart")


async def test_a_past_prep_is_planned_again_with_its_lots_checked_afresh(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=several)
    site.put(desk.record, "lot", {"id": "KD-2", "substance": "K2CR2O7", "assay": "99.9", "status": "blocked",
                                  "status_reason": "recalled by its maker"})  # fmt: skip
    app = desks.DeskApp(PrepPageScreen(desk, "P-7F3A-0001"))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "n")
        await desks.settle(pilot)
        assert isinstance(app.screen, PlanScreen)
        plan = app.screen.plan
        assert plan is not None
        assert (plan.container, plan.target, plan.amount) == ("C-1", "1.000 mg/g", "10 g")
        assert "blocked" in snap.text_of(app)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_two_preps_stand_side_by_side_with_a_mark_where_they_differ(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, story=several)
    app = desks.DeskApp(PrepPageScreen(desk, "P-7F3A-0001"))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "b")
        await desks.settle(pilot)
        app.screen.query_one(EntryForm).fields[0].value = "P-7F3A-0002"
        await submit(pilot)
        await desks.settle(pilot)
        assert isinstance(app.screen, BesideScreen)
        snap.check(app, "beside")
