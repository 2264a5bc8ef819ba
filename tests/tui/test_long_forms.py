"""Long forms of the registers: nothing typed is lost or skipped, and nobody has to know the words."""

from pathlib import Path

import pytest

from store.queries import registers
from tests.tui import desks, snap
from tui.screens.register_form import RegisterForm


async def typed(pilot: desks.Pilot[None], *lines: str | list[str]) -> None:
    for line in lines:
        await snap.send(pilot, line)
        await pilot.pause(0.05)


async def opened(pilot: desks.Pilot[None], app: desks.DeskApp) -> RegisterForm:
    await desks.settle(pilot)
    screen = app.screen
    assert isinstance(screen, RegisterForm)
    return screen


def at(form: RegisterForm, key: str) -> None:
    form.form.go([f.key for f in form.form.fields].index(key))


async def test_one_field_is_changed_and_written_without_walking_through_the_rest(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, "balance", registers.row(desk.record, "balance", "B-1")))
    before = registers.body(desk.record, "balance", "B-1")
    async with app.run_test(size=(80, 24)) as pilot:
        form = await opened(pilot, app)
        at(form, "certificate")
        await typed(pilot, "C-77", ["ctrl+s"])
        assert form.form.current.key == "why"
        await typed(pilot, "new certificate", ["ctrl+s"])
        await desks.settle(pilot)
    after = registers.body(desk.record, "balance", "B-1")
    assert {k: v for k, v in after.items() if k in before} == before
    assert after["certificate"] == "C-77"


async def test_what_is_needed_says_so_when_a_form_is_ended_too_early(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, "vessel"))
    async with app.run_test(size=(80, 24)) as pilot:
        form = await opened(pilot, app)
        await typed(pilot, "V-99\r", "vial", ["ctrl+s"])
        assert form.form.current.key == "capacity"
        assert "still empty" in snap.text_of(app)
        await typed(pilot, "20 mL", ["ctrl+s"])
        await desks.settle(pilot)
    assert registers.body(desk.record, "vessel", "V-99")["capacity"] == "20 mL"


async def test_a_formula_is_confirmed_before_a_row_is_written_from_the_middle(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, "substance"))
    async with app.run_test(size=(80, 24)) as pilot:
        form = await opened(pilot, app)
        await typed(pilot, "NaF\r", "sodium fluoride\r")
        at(form, "formula")
        await typed(pilot, "NaF", ["ctrl+s"])
        assert form.form.current.key == "molar_mass"
        await pilot.pause(0.3)
        await snap.press(pilot, "1")
        await typed(pilot, ["ctrl+s"])
        await desks.settle(pilot)
    assert registers.body(desk.record, "substance", "NaF")["formula"] == "NaF"


async def test_what_was_refused_comes_back_to_be_edited(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, "enclosure"))
    async with app.run_test(size=(80, 24)) as pilot:
        form = await opened(pilot, app)
        at(form, "test_due")
        await typed(pilot, "2027-13-01\r")
        assert "→ edits it" in snap.text_of(app)
        await snap.press(pilot, "right", *["backspace"] * 5)
        await typed(pilot, "03-01\r")
        assert form.form.values["test_due"] == "2027-03-01"


async def test_enter_after_the_digit_of_a_choice_does_not_skip_the_field_after_it(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, "enclosure"))
    async with app.run_test(size=(80, 24)) as pilot:
        form = await opened(pilot, app)
        await typed(pilot, "GB-9\r", "box\r")
        await pilot.pause(0.3)
        await snap.press(pilot, "2", "enter")
        assert (form.form.values["kind"], form.form.current.key) == ("glovebox", "gas")
        await pilot.pause(0.8)
        await snap.press(pilot, "enter")
        assert form.form.current.key == "pressure_low"


async def test_a_field_that_does_not_fit_the_others_is_not_left_at_once(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, "lot"))
    async with app.run_test(size=(80, 24)) as pilot:
        form = await opened(pilot, app)
        await typed(pilot, "L-9\r", "K2CR2O7\r")
        at(form, "received")
        await typed(pilot, "2026-03-02\r", "2026-03-01\r")
        assert form.form.current.key == "expiry"
        assert "before received" in snap.text_of(app)
        await typed(pilot, "2026-03-03\r")
        assert form.form.current.key == "retest"


@pytest.mark.parametrize(
    ("register", "field", "typing", "offered"),
    [
        ("substance", "classification", "h350", "Carc. 1B H350"),
        ("substance", "edition", "clp", "CLP 2025-09-01"),
        ("substance", "tags", "chromate; oxid", "chromate; oxidiser_strong"),
        ("container", "conditioning", "room", "to room temperature, closed"),
        ("enclosure", "cleaning", "70", "70 % 2-propanol"),
        ("glove", "breakthrough", "wat", "WATER: "),
        ("person", "training", "weigh_s", "weigh_solid: 2026-03-02 to "),
        ("rule", "steps", "waste", "waste"),
    ],
)
async def test_a_field_completes_the_words_that_it_may_hold(
    tmp_path: Path, register: str, field: str, typing: str, offered: str
) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, register))
    async with app.run_test(size=(80, 24)) as pilot:
        form = await opened(pilot, app)
        at(form, field)
        await typed(pilot, typing)
        suggest = form.form.current.suggest
        assert suggest is not None
        assert offered in suggest(typing)
        assert offered.strip() in snap.text_of(app)


async def test_a_long_value_stands_whole_where_the_keys_go_and_in_one_line_elsewhere(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    found = registers.row(desk.record, "substance", "K2CR2O7")
    many = "; ".join(found.row["classification"])
    app = desks.DeskApp(RegisterForm(desk, "substance", found))
    async with app.run_test(size=(80, 24)) as pilot:
        form = await opened(pilot, app)
        assert "field 1 of" in snap.text_of(app)
        at(form, "classification")
        await pilot.pause()
        shown = snap.text_of(app)
        assert "".join(many.split()) in "".join(shown.split())
        assert "field 7 of" in shown
