"""Sign in and lock: by keypad, with waits after refusals, and nobody goes on in another's name."""

from pathlib import Path

import pytest

from tests import site
from tests.tui import desks, snap
from tui.screens.bench import BenchScreen
from tui.screens.sign_in import SignInScreen, known, lock


@pytest.mark.parametrize("size", desks.SIZES)
async def test_signing_in_asks_for_an_id_and_a_pin(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, person="")
    desk.hint = ("Demo: type 1, Enter, then 1111, Enter.", "People: op-1 [x], PIN 1111")
    app = desks.DeskApp(SignInScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "sign_in")
        await snap.send(pilot, "op-1\r")
        await snap.send(pilot, "11")
        snap.check(app, "sign_in_pin")
        await pilot.pause(0.3)
        await snap.send(pilot, "11\r")
    assert app.given == ["op-1"]
    assert desk.acting.person == "op-1"
    assert desk.acting.roles == ("operator",)


async def test_a_keypad_number_signs_in_as_the_id_does(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="")
    row = {"id": "op-2", "name": "C. D.", "roles": ["operator"], "number": "22"}
    site.put(desk.record, "person", row)
    app = desks.DeskApp(SignInScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "22\r")
        await snap.send(pilot, "2222\r")
    assert app.given == ["op-2"]


async def test_a_number_that_two_people_have_means_nobody(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="")
    for id in ("op-1", "op-2"):
        site.put(desk.record, "person", {"id": id, "name": id, "roles": ["operator"], "number": "5"})
    assert known(desk, "5") == "5"
    assert known(desk, "OP-1") == "op-1"


async def test_a_refused_pin_says_how_long_to_wait_and_counts_down(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="")
    app = desks.DeskApp(SignInScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        for _ in range(3):
            await snap.send(pilot, "op-1\r")
            await snap.send(pilot, "9999\r")
            desks.clock_of(desk).time.pass_(2.0)
        shown = snap.text_of(app)
        assert "do not fit" in shown
        desks.clock_of(desk).time.pass_(-1.0)
        await pilot.pause(0.6)
        assert "The next PIN is taken in" in snap.text_of(app)
        await snap.send(pilot, "op-1\r")
        await snap.send(pilot, "1111\r")
        assert "wait" in snap.text_of(app)
        assert desk.person is None
        desks.clock_of(desk).time.pass_(60.0)
        await snap.send(pilot, "op-1\r")
        await snap.send(pilot, "1111\r")
    assert app.given == ["op-1"]


async def test_an_unknown_id_is_refused_in_the_same_words_and_not_written(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="")
    before = desk.record.head()
    app = desks.DeskApp(SignInScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "nobody[/x]\r")
        await snap.send(pilot, "1111\r")
        assert "This id and PIN do not fit" in snap.text_of(app)
    assert desk.record.head() == before


async def test_a_pin_never_stands_on_the_screen(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="")
    app = desks.DeskApp(SignInScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "op-1\r")
        await snap.send(pilot, "73519")
        assert "•••••" in snap.text_of(app)
        assert "73519" not in snap.text_of(app)


async def test_nine_opens_the_spill_card_without_a_pin(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="")
    app = desks.DeskApp(SignInScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, "9\r")
        await desks.settle(pilot)
        assert "Spill card" in snap.text_of(app)
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        await snap.send(pilot, "op-1\r")
        await desks.settle(pilot)
        await snap.send(pilot, "9\r")
        await desks.settle(pilot)
        assert "Spill card" in snap.text_of(app)
    assert app.given == []


async def test_leaving_takes_the_key_twice(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="")
    app = desks.DeskApp(SignInScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "/")
        assert app.is_running
        assert "again to leave" in snap.text_of(app)
        await snap.press(pilot, "/")
        assert app.return_code == 0


@pytest.mark.parametrize(("who", "stays"), [("op-1", True), ("op-2", False)])
async def test_behind_the_lock_only_the_same_person_finds_the_desk_work_again(
    tmp_path: Path, who: str, stays: bool
) -> None:
    from tui.screens.help import HelpScreen

    desk = desks.desk(tmp_path)
    app = desks.DeskApp(BenchScreen(desk), HelpScreen(desk, "x", (), ()))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        lock(app, desk, how="idle")
        await desks.settle(pilot)
        assert "Locked by op-1" in snap.text_of(app)
        assert desk.person is None
        await snap.send(pilot, f"{who}\r")
        await snap.send(pilot, f"{site.PINS[who]}\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, HelpScreen if stays else BenchScreen)
        assert desk.acting.person == who
        if not stays:
            assert "op-2 is signed in now; before it was op-1" in snap.text_of(app)
