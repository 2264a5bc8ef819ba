"""Register rows are entered, changed and retired at the keyboard; what is wrong stands beside its field."""

from pathlib import Path

import pytest

from store.actions import people
from store.queries import registers
from tests import site
from tests.tui import desks, snap
from tui.screens.register_form import RegisterForm
from tui.screens.register_row import RegisterRowScreen
from tui.screens.registers import RegisterScreen
from tui.screens.small_form import SmallForm


async def typed(pilot: desks.Pilot[None], *lines: str | list[str]) -> None:
    for line in lines:
        await snap.send(pilot, line)
        await pilot.pause(0.05)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_substance_is_entered_and_its_molar_mass_confirmed(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterScreen(desk, "substance"))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "a")
        await desks.settle(pilot)
        form = app.screen
        assert isinstance(form, RegisterForm)
        await typed(pilot, "NaN3\r", "sodium azide\r", "26628-22-9")
        assert "✗" in snap.text_of(app)
        snap.check(app, "register_form_fault")
        await typed(pilot, ["escape"], "26628-22-8\r", "NaN3")
        assert "65.011 g/mol" in snap.text_of(app)
        await typed(pilot, "\r")
        assert form.form.current.key == "molar_mass"
        snap.check(app, "register_form_molar_mass")
        await typed(pilot, "\r")
        assert form.form.current.key == "molar_mass"
        await snap.press(pilot, "1")
        assert form.form.current.key == "form"
        await typed(pilot, ["down"] * 40, "\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, RegisterScreen)
        assert "sodium azide" in snap.text_of(app)
    found = registers.row(desk.record, "substance", "NaN3")
    assert (found.row["cas"], found.row["formula"], found.by) == ("26628-22-8", "NaN3", "ke-1")


async def test_a_change_asks_for_a_reason_and_both_stand_in_the_history(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterRowScreen(desk, "lot", "KD-2"))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "c")
        await desks.settle(pilot)
        screen = app.screen
        assert isinstance(screen, RegisterForm)
        at = [f.key for f in screen.form.fields].index("expiry")
        screen.form.go(at)
        await typed(pilot, "2026-12-31\r", ["down"] * 40, "\r")
        assert screen.form.current.key == "why"
        assert "still empty" in screen.form.current.error
        await typed(pilot, "certificate read again\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, RegisterRowScreen)
        shown = snap.text_of(app)
        assert "changed: certificate read again" in shown
        assert "2027-12-31 → 2026-12-31" in shown.replace("\n", " ")
    assert registers.body(desk.record, "lot", "KD-2")["expiry"] == "2026-12-31"


async def test_a_reference_is_completed_by_name_and_cas_number(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, "lot"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        form = app.screen
        assert isinstance(form, RegisterForm)
        await typed(pilot, "L-9\r", "7778-50")
        assert "K2CR2O7  potassium dichromate" in snap.text_of(app)
        await typed(pilot, "\r")
        assert form.form.values["substance"] == "K2CR2O7"


async def test_fields_that_do_not_fit_together_are_said_beside_the_field_at_once(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, "lot"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        screen = app.screen
        assert isinstance(screen, RegisterForm)
        await typed(pilot, "L-9\r", "K2CR2O7\r")
        by_key = {f.key: n for n, f in enumerate(screen.form.fields)}
        screen.form.go(by_key["received"])
        await typed(pilot, "2026-03-02\r", "2026-03-01\r")
        assert "before received" in screen.form.fields[by_key["expiry"]].error
        screen.form.go(by_key["expiry"])
        await typed(pilot, "2026-03-03\r")
        assert screen.form.fields[by_key["expiry"]].error == ""


async def test_who_is_no_keeper_reads_and_changes_nothing(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="op-1")
    app = desks.DeskApp(RegisterRowScreen(desk, "vessel", "V-17"))
    before = desk.record.head()
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        for key in ("c", "x"):
            await snap.press(pilot, key)
            assert isinstance(app.screen, RegisterRowScreen)
            assert "takes the role of keeper" in snap.text_of(app)
    assert desk.record.head() == before


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_row_is_retired_with_a_reason_and_stays_readable(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterRowScreen(desk, "vessel", "V-17"))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "x")
        await desks.settle(pilot)
        assert isinstance(app.screen, SmallForm)
        snap.check(app, "register_retire")
        await typed(pilot, "\r")
        assert isinstance(app.screen, SmallForm)
        await typed(pilot, "chipped\r")
        await desks.settle(pilot)
        assert "RETIRED" in snap.text_of(app)
        assert "retired: chipped" in snap.text_of(app)
    assert registers.row(desk.record, "vessel", "V-17").retired


async def test_an_officer_blocks_a_lot_and_may_not_release_it(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="so-1")
    app = desks.DeskApp(RegisterRowScreen(desk, "lot", "KD-2"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        await typed(pilot, "blocked\r", "seal broken\r")
        await desks.settle(pilot)
        assert "status blocked, by so-1 on 2026-03-02" in snap.text_of(app)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        await typed(pilot, "released\r", "looks fine\r")
        assert "takes the role of keeper or reviewer" in snap.text_of(app)
    assert registers.body(desk.record, "lot", "KD-2")["status_reason"] == "seal broken"


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_setting_is_shown_with_its_meaning_and_changed_within_its_limits(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterScreen(desk, "setting"))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "register_settings")
        await typed(pilot, "tolerance_percent\r")
        await desks.settle(pilot)
        assert "half-width of the window" in snap.text_of(app)
        await snap.press(pilot, "c")
        await desks.settle(pilot)
        await typed(pilot, "51")
        assert "from 0.1 to 50" in snap.text_of(app)
        await typed(pilot, ["escape"], "50\r", "wider for the course\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, RegisterRowScreen)
        assert "wider for the course" in snap.text_of(app)
    assert registers.settings(desk.record)["tolerance_percent"] == "50"


async def test_a_keeper_sets_a_pin_and_another_may_set_only_the_own_one(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="op-1")
    app = desks.DeskApp(RegisterRowScreen(desk, "person", "op-2"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "p")
        assert "Only a keeper" in snap.text_of(app)
    desk.record.close()
    (tmp_path / "k").mkdir()
    desk = desks.desk(tmp_path / "k", person="ke-1")
    app = desks.DeskApp(RegisterRowScreen(desk, "person", "op-2"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "p")
        await desks.settle(pilot)
        await typed(pilot, "5555\r", "5556\r")
        assert "The two PINs differ" in snap.text_of(app)
        await pilot.pause(0.3)
        await typed(pilot, "5555\r", "5555\r")
        await desks.settle(pilot)
    assert people.sign_in(desk.record, "op-2", "5555").person == "op-2"


async def test_a_row_that_somebody_changed_meanwhile_is_not_written_over(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterForm(desk, "vessel", registers.row(desk.record, "vessel", "V-17")))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        site.put(desk.record, "vessel", {"id": "V-17", "name": "another", "capacity": "20 mL"})
        await typed(pilot, "vial\r", ["down"] * 9, "mine\r")
        assert "has moved on since you saw it" in snap.text_of(app)
    assert registers.body(desk.record, "vessel", "V-17")["name"] == "another"
