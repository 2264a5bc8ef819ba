"""The health of a balance on the screen: read, checked, weighed ten times, adjusted, by a keypad."""

from pathlib import Path

import pytest

from store.actions import balances as verbs
from store.procedure.balance_checks import CheckState
from store.queries import balances, registers
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tui.screens.balance_health import BalanceHealthScreen, WeighingsScreen

TEN = tuple(f"{100.0 + 0.01 * (n % 3):.2f}" for n in range(10))


def _checked(record: Record, clock: site.TestClock) -> None:
    """Story: ten weighings, an adjustment in air, then a week of checks that climb."""
    acting = site.acting(record)
    site.put(record, "balance", {
        **registers.body(record, "balance", "B-1"), "check_class": "E2", "check_u": "0.025 mg",
        "calibrated": "2026-01-12", "calibration_due": "2027-01-12", "certificate": "K-118",
        "calibration_u": ["1 g: 0.02 mg", "50 g: 0.09 mg"],
    })  # fmt: skip
    verbs.measure(acting, "B-1", weighings=TEN, load="12.03 g")
    verbs.adjusted(acting, "B-1", how="external weight", air="1.199 kg/m3", note="after moving")
    for n, off in enumerate((0, 2, 1, 1, 2, 3, 4, 5, 6)):
        clock.time.pass_(86_400 if n else 60)
        verbs.check(acting, "B-1", zero="0.00", shown=f"20000.{off:02d}")


@pytest.mark.parametrize("size", desks.SIZES)
async def test_the_page_says_whether_it_weighs_and_names_the_rule(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, story=_checked)
    app = desks.DeskApp(BalanceHealthScreen(desk, "B-1"))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "balance_health")
        assert "MAY WEIGH" in snap.text_of(app)
        await pilot.pause(1.0)
        await snap.press(pilot, "end")
        assert "s 0.008756 mg, n 10, load 12.03 g" in snap.text_of(app)


async def test_a_daily_check_is_written_by_keypad_alone(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(BalanceHealthScreen(desk, "B-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "never checked" in snap.text_of(app)
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        await snap.send(pilot, "0.00\r")
        await pilot.pause(0.5)
        await snap.send(pilot, "20000.04\r")
        await desks.settle(pilot)
        assert "MAY WEIGH" in snap.text_of(app)
    assert balances.checks(desk.record, "B-1")[0].shown == "20000.04 mg"


async def test_a_reading_with_a_digit_missing_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(BalanceHealthScreen(desk, "B-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        await snap.send(pilot, "0.00\r")
        await pilot.pause(0.5)
        await snap.send(pilot, "20000.0\r")
        await desks.settle(pilot)
        assert "shows 2 decimals" in snap.text_of(app)
    assert balances.checks(desk.record, "B-1") == ()


@pytest.mark.parametrize("size", desks.SIZES)
async def test_ten_weighings_are_typed_and_nine_are_not_written(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(BalanceHealthScreen(desk, "B-1"))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "2")
        await desks.settle(pilot)
        await snap.send(pilot, "12030.52\r")
        for text in TEN[:9]:
            await pilot.pause(0.45)
            await snap.send(pilot, f"{text}\r")
        await pilot.pause(0.5)
        await snap.send(pilot, "\r")
        assert "9 weighings are too few" in snap.text_of(app)
        snap.check(app, "weighings")
        assert isinstance(app.screen, WeighingsScreen)
        await pilot.pause(0.5)
        await snap.send(pilot, f"{TEN[9]}\r")
        await pilot.pause(0.5)
        await snap.send(pilot, "\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, BalanceHealthScreen)
    (found,) = balances.measured(desk.record, "B-1")
    assert (found.load, len(found.weighings)) == ("12030.52 mg", 10)
    assert found.sd_mg == pytest.approx(0.0087560, abs=1e-7)


async def test_an_adjustment_by_keypad_ends_the_check(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=_checked)
    app = desks.DeskApp(BalanceHealthScreen(desk, "B-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "3")
        await desks.settle(pilot)
        await snap.press(pilot, "1")
        await pilot.pause(0.5)
        await snap.send(pilot, "\r")
        await pilot.pause(0.5)
        await snap.send(pilot, "\r")
        await desks.settle(pilot)
        if not isinstance(app.screen, BalanceHealthScreen):
            await pilot.pause(0.5)
            await snap.send(pilot, "\r")
            await desks.settle(pilot)
        assert "DOES NOT WEIGH" in snap.text_of(app)
    row = registers.body(desk.record, "balance", "B-1")
    assert balances.check_standing(desk.record, row).state == CheckState.ADJUSTED
