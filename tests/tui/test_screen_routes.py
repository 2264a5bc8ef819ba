"""Dilution routes: asked for in a form, reached from the bench and from a plan, every route with its cost."""

from pathlib import Path

import pytest

from store.errors import BadField
from store.procedure import layout
from store.queries import choices, routes
from store.queries.routes import SHARED, Asked
from store.record.record import Record
from store.units import quantity
from tests import site
from tests.tui import desks, snap
from tui.screens import route_words
from tui.screens.plan import PlanScreen
from tui.screens.plan_several import PlanSeveralScreen
from tui.screens.routes import RouteListScreen, RoutesScreen

ASKED = Asked(
    source="1 mg/g", target="0.1 ug/g", amount="8 g", vessels="V-17, 2 x 20 mL, 5 mL", balance="B-1",
    wanted_percent="0.1", step_percent="0.005", least_fill="1 g",
)  # fmt: skip


async def typed(pilot: desks.Pilot[None], *lines: str | list[str]) -> None:
    for line in lines:
        await snap.send(pilot, line)
        await pilot.pause(0.1)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_routes_are_designed_from_the_plan(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(PlanScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "/")
        await desks.settle(pilot)
        await typed(pilot, "1 mg/g\r", "0.1 ug/g\r", "8 g\r", "V-17, 2 x 20 mL, 5 mL\r", ["down"], "0.1\r")
        snap.check(app, "routes_form")
        await typed(pilot, ["down"] * 2)
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        assert isinstance(app.screen, RouteListScreen)
        snap.check(app, "routes")
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        assert isinstance(app.screen, RoutesScreen)


async def test_what_stands_in_the_plan_is_taken_along(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(PlanScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "dichromate\r", "1.000 mg/g\r", "10 g\r")
        await snap.press(pilot, "/")
        await desks.settle(pilot)
        assert isinstance(app.screen, RoutesScreen)
        assert app.screen.form.values["amount"] == "10 g"
        assert app.screen.form.values["balance"] == "B-1"


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (("CS\r",), "no container 'CS' holds a solution"),
        (("1 mg/g\r", "1 mg/L\r"), "two kinds"),
        (("1 mg/g\r", "CS\r"), "CS"),
        (("1 mg/g\r", "1 ug/g\r", "CS\r"), "CS"),
        (("1 mg/g\r", "1 ug/g\r", "8 g\r", "CS\r"), "CS"),
        (("1 mg/g\r", "1 ug/g\r", "8 g\r", "V-17\r", "B-1\r", "101\r"), "0 to 100"),
        (("1 mg/g\r", "1 ug/g\r", "8 g\r", "V-17\r", "B-1\r", ["down"], ["down"], "CS\r"), "CS"),
    ],
)
async def test_a_field_that_cannot_be_used_is_refused_where_it_is_typed(
    tmp_path: Path, lines: tuple[str | list[str], ...], says: str
) -> None:
    app = desks.DeskApp(RoutesScreen(desks.desk(tmp_path)))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, *lines)
        assert isinstance(app.screen, RoutesScreen)
        assert app.screen.form.at == len(lines) - 1
        assert says in app.screen.form.current.error


def test_the_balance_in_force_and_the_registers_vessels_are_what_routes_rest_on(tmp_path: Path) -> None:
    found = routes.designed(desks.desk(tmp_path).record, ASKED)
    assert found.wanted.sd_mg == pytest.approx(0.0045)
    assert found.wanted.minimum_mg == pytest.approx(9.0)
    assert [v.name for v in found.wanted.vessels] == ["V-17", "20 mL (2)", "20 mL (3)", "5 mL (4)"]
    assert found.wanted.u_wanted == pytest.approx(0.0005)
    assert found.mass_fraction == pytest.approx(1e-3)


def test_a_container_of_a_solution_brings_its_concentration_and_what_is_left(tmp_path: Path) -> None:
    record = desks.desk(tmp_path, story=desks.closed_prep).record
    ((container, words),) = choices.solutions(record, limit=2)
    assert "K2CR2O7" in words
    found = routes.designed(record, _like(source=container, target="0.01 mg/g"))
    assert found.concentration.to("mg/g") == pytest.approx(1.0, rel=0.02)
    assert found.left_mg is not None
    assert found.wanted.source_mg == found.left_mg


def _like(**other: str) -> Asked:
    return Asked(**({key: getattr(ASKED, key) for key in Asked.__slots__} | other))


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("source", "5 apples"), ("target", "1 mg/L"), ("amount", "0 g"), ("vessels", ""), ("vessels", "V-99"),
        ("vessels", "11 x 5 mL"), ("vessels", "V-17, V-17"), ("wanted_percent", "101"),
    ],
)  # fmt: skip
def test_a_wrong_field_is_named(tmp_path: Path, field: str, text: str) -> None:
    with pytest.raises(BadField) as caught:
        routes.designed(desks.desk(tmp_path).record, _like(**{field: text}))
    assert caught.value.field == field


def test_the_page_says_what_a_single_step_costs_where_the_balance_allows_it(tmp_path: Path) -> None:
    record = desks.desk(tmp_path).record
    page = "\n".join(
        route_words.page(routes.designed(record, _like(target="10 ug/g", wanted_percent="")), 100)
    )
    assert "A single step is possible; it costs" in page
    refused = "\n".join(route_words.page(routes.designed(record, _like(wanted_percent="")), 100))
    assert "A single step is possible" not in refused
    assert "below the minimum weight" in refused


def test_the_page_says_so_where_nothing_can_be_made(tmp_path: Path) -> None:
    found = routes.designed(desks.desk(tmp_path).record, _like(vessels="V-17", zeroing=SHARED))
    page = "\n".join(route_words.page(found, 80))
    assert "NO ROUTE CAN BE MADE" in page
    assert "one reading shared" in " ".join(page.split())


def test_no_line_of_the_page_is_wider_than_the_screen(tmp_path: Path) -> None:
    found = routes.designed(desks.desk(tmp_path).record, ASKED)
    assert all(len(line) <= 78 for line in route_words.page(found, 78))


def _two_vials(record: Record, clock: site.TestClock) -> None:
    """Story: a solution was made, and there are two vials more."""
    desks.closed_prep(record, clock)
    for id in ("V-18", "V-19"):
        site.put(record, "vessel", {"id": id, "name": "vial 20 mL", "capacity": "20 mL", "mass": "12.1 g"})


async def test_a_chosen_route_is_handed_to_the_plan_of_a_dilution(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=_two_vials)
    ((container, _),) = choices.solutions(desk.record, limit=2)
    found = routes.designed(
        desk.record, _like(source=container, target="0.1 ug/g", vessels="V-18, V-19", amount="8 g")
    )
    app = desks.DeskApp(RouteListScreen(desk, found))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "g")
        await desks.settle(pilot)
        await typed(pilot, "2\r")
        await desks.settle(pilot)
        screen = app.screen
        assert isinstance(screen, PlanSeveralScreen)
        values = screen.form.values
    assert values["sources"] == container
    assert sorted(values["vessels"].split(", ")) == ["V-18", "V-19"]
    first, last = layout.targets(values["targets"])
    assert quantity(last, "mass_fraction").to("ug/g") == pytest.approx(0.1)
    assert quantity(first, "mass_fraction").to("ug/g") == pytest.approx(
        1000 / found.design.routes[1].factors[0], rel=0.02
    )


@pytest.mark.parametrize(("number", "why"), [(0, "no route"), (1, "cannot be made"), (2, "container")])
def test_a_route_that_cannot_be_planned_says_why(tmp_path: Path, number: int, why: str) -> None:
    record = desks.desk(tmp_path).record
    with pytest.raises(BadField, match=why):
        routes.as_planned(record, routes.designed(record, ASKED), number)
