"""The plan: found by name or CAS, explained while it is typed, let through by a second person, written."""

from pathlib import Path

import pytest

from store import events as ev
from store.queries import registers
from tests import site
from tests.tui import desks, rehearsed, snap
from tui.screens.bench import BenchScreen
from tui.screens.plan import PlanScreen
from tui.screens.plan_frame import WholeScreen
from tui.screens.second import SecondScreen
from tui.screens.step import StepScreen

USUAL = ["down"] * 9
"""What the form fills in by itself is passed over."""


async def typed(pilot: desks.Pilot[None], *lines: str | list[str]) -> None:
    for line in lines:
        await snap.send(pilot, line)
        await pilot.pause(0.1)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_plan_is_explained_while_it_is_typed(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(PlanScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "778-50")
        snap.check(app, "plan_suggests")
        await typed(pilot, "\r", "1,000 mg/g\r")
        await typed(pilot, "10 g\r", "water\r", USUAL)
        snap.check(app, "plan_explained")


@pytest.mark.parametrize("size", desks.SIZES)
async def test_what_has_no_room_beside_the_form_is_counted_and_read_whole_with_its_generic_limits(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    app = desks.DeskApp(PlanScreen(desks.desk(tmp_path)))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "C-1\r", "1.000 mg/g\r", "10 g\r", "water\r", USUAL)
        await desks.settle(pilot)
        assert "lines more: + shows all" in snap.text_of(app)
        await snap.press(pilot, "+")
        await desks.settle(pilot)
        assert isinstance(app.screen, WholeScreen)
        snap.check(app, "plan_whole")
        words = " ".join(app.screen.text(78))
        for said in ("weigh  10.01 mg", "reaches Carc. 1B from 0.1 %", "nothing is lowered", "lot KD-2"):
            assert said in words
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        assert isinstance(app.screen, PlanScreen)
        assert app.screen.form.values["target"] == "1.000 mg/g"


async def test_a_plan_is_written_and_its_first_step_begins(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(BenchScreen(desk), PlanScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "dichromate\r", "1.000 mg/g\r", "10 g\r", "water\r", USUAL)
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        assert isinstance(app.screen, StepScreen)
        assert app.screen.guide.prep == "P-7F3A-0001"
        await snap.press(pilot, "/")
        await desks.settle(pilot)
        assert isinstance(app.screen, BenchScreen)
    assert desk.record.prep_state("P-7F3A-0001").plan.target == "1.000 mg/g"


@pytest.mark.parametrize(("digit", "rehearsal"), [("2", False), ("3", True)])
async def test_a_plan_may_be_for_later_or_a_rehearsal(tmp_path: Path, digit: str, rehearsal: bool) -> None:
    desk = desks.desk(tmp_path, story=rehearsed.harmless)
    app = desks.DeskApp(BenchScreen(desk), PlanScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "SC-1\r", "20 mmol/L\r", "15 mL\r", "WB-1\r", USUAL)
        await snap.press(pilot, digit)
        await desks.settle(pilot)
        assert isinstance(app.screen, StepScreen if rehearsal else BenchScreen)
        assert ("P-7F3A-0001 is planned; it stands on the bench." in snap.text_of(app)) is not rehearsal
    assert desk.record.prep_state("P-7F3A-0001").plan.rehearsal is rehearsal


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        (("xyzzy\r",), "fits"),
        (("C-1\r", "5 %\r"), "%"),
        (("C-1\r", "1.000 mg/g\r", "ten\r"), "ten"),
    ],
)
async def test_what_cannot_be_meant_is_refused_beside_its_field(
    tmp_path: Path, lines: tuple[str, ...], sentence: str
) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(PlanScreen(desk))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, *lines)
        assert isinstance(app.screen, PlanScreen)
        assert sentence in app.screen.form.current.error
        assert app.screen.form.at == len(lines) - 1


@pytest.mark.parametrize("size", desks.SIZES)
async def test_what_stands_against_a_plan_is_said_and_let_through_by_a_second_person(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(BenchScreen(desk), PlanScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "C-1\r", "0.01 mg/g\r", "10 g\r", "water\r", USUAL)
        snap.check(app, "plan_stop")
        assert "STOP" in snap.text_of(app)
        await snap.press(pilot, "2")
        await desks.settle(pilot)
        assert isinstance(app.screen, SecondScreen)
        await typed(pilot, "op-1\r", "1111\r", "it is fine\r")
        assert "must be somebody else" in snap.text_of(app)
        await pilot.pause(0.3)
        await typed(pilot, "op-2\r", "9999\r", "it is fine\r")
        assert "do not fit" in snap.text_of(app)
        desks.clock_of(desk).time.pass_(60.0)
        await pilot.pause(0.3)
        await typed(pilot, "\r", "2222\r")
        snap.check(app, "second")
        await typed(pilot, "checked together\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, BenchScreen)
    decision = desk.record.prep_state("P-7F3A-0001").let_through[0]
    assert (decision["second"], decision["reason"]) == ("op-2", "checked together")
    assert "minimum weight" in decision["what"][0]


async def test_going_back_from_the_second_person_writes_nothing(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(BenchScreen(desk), PlanScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "C-1\r", "0.01 mg/g\r", "10 g\r", "water\r", USUAL)
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        assert isinstance(app.screen, PlanScreen)
        assert "Not written" in snap.text_of(app)
    assert not desk.record.query("SELECT 1 FROM prep")


async def test_a_site_that_lets_nothing_through_refuses_the_plan(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    site.put(desk.record, "setting", {"id": "second_person", "value": "no"})
    app = desks.DeskApp(BenchScreen(desk), PlanScreen(desk))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "C-1\r", "0.01 mg/g\r", "10 g\r", "water\r", USUAL)
        assert "this site lets nobody let it through" in snap.text_of(app)
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        assert "This plan is refused" in snap.text_of(app)
        assert isinstance(app.screen, PlanScreen)
    assert not desk.record.query("SELECT 1 FROM prep")


async def test_what_it_is_stated_as_is_chosen_by_digit_and_said_wherever_the_strength_stands(
    tmp_path: Path,
) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(BenchScreen(desk), PlanScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "dichromate\r", "1.000 mg/g\r", "15 g\r", "water\r", USUAL[:-4])
        shown = snap.text_of(app)
        assert "1  K2Cr2O7  as it is" in shown
        await typed(pilot, "2\r")
        shown = snap.text_of(app)
        assert "stated as, formula     Cr" in shown
        assert "mg/g ±" in shown.replace("\n", " ")
        assert " as Cr" in shown
        await typed(pilot, ["down"] * 3)
        await snap.press(pilot, "2")
        await desks.settle(pilot)
    assert desk.record.prep_state("P-7F3A-0001").target == "1.000 mg/g as Cr"


async def test_the_field_that_is_typed_in_stays_in_sight_and_an_error_left_behind_is_gone(
    tmp_path: Path,
) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(PlanScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "dichromate\r", "1.000 mg/g\r", "10 g\r", "water\r", ["down"] * 4)
        await typed(pilot, "99\r")
        assert "✗ 99 %: write more" in snap.text_of(app)
        await typed(pilot, ["down", "down"], "10.123 g in 10.00 mL ± 0.02\r", ["up"])
        shown = snap.text_of(app)
        assert "✗" not in shown
        assert "▸ density of solution    10.123 g in 10.00 mL" in shown
        assert "\n                          ± 0.02▏" in shown
        await typed(pilot, ["down"] * 3)
        assert "3  rehearse" in snap.text_of(app)


async def test_an_expired_lot_is_said_where_it_is_chosen_and_beside(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    body = dict(registers.row(desk.record, "lot", "KD-2").row) | {"expiry": "2025-01-31"}
    desk.record.append(ev.Registered(register="lot", id="KD-2", row=body), person="k-1", subject="lot:KD-2")
    app = desks.DeskApp(PlanScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "778-50")
        assert "EXPIRED on 2025-01-31: " in snap.text_of(app)
        await typed(pilot, "\r")
        await desks.settle(pilot)
        assert app.screen.form.values["container"] == "C-1"  # type: ignore[attr-defined]
        assert "EXPIRED on 2025-01-31" in " ".join(snap.text_of(app).split())


@pytest.mark.parametrize(("own", "follows"), [("", True), ("E-1", False)])
async def test_the_enclosure_follows_the_balance_unless_the_person_set_another(
    tmp_path: Path, own: str, follows: bool
) -> None:
    desk = desks.desk(tmp_path)
    row = registers.body(desk.record, "enclosure", "E-1")
    for n in (2, 3):
        site.put(desk.record, "enclosure", {**row, "id": f"E-{n}"})
        balance = registers.body(desk.record, "balance", "B-1")
        site.put(desk.record, "balance", {**balance, "id": f"B-{n}", "enclosure": f"E-{n}"})
    app = desks.DeskApp(PlanScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "C-1\r", "1 mg/g\r", "10 g\r", "water\r", "V-17\r", "B-2\r")
        assert isinstance(app.screen, PlanScreen)
        assert app.screen.form.values["enclosure"] == "E-2"
        await typed(pilot, f"{own}\r" if own else ["down"])
        await typed(pilot, ["up", "up"], "B-3\r")
        assert app.screen.form.values["balance"] == "B-3"
        assert app.screen.form.values["enclosure"] == ("E-3" if follows else own)
        assert ("Enclosure E-3: balance B-3 stands there." in snap.text_of(app)) == follows
