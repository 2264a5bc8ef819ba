"""What is found out about lots, containers and balances is entered where they stand, at the desk."""

from pathlib import Path

import pytest

from store.actions import lot_status, stock
from store.queries import lot_checks, lots, storage
from tests import site
from tests.tui import desks, snap
from tui.screens.balance_health import BalanceHealthScreen
from tui.screens.register_row import RegisterRowScreen
from tui.screens.small_form import SmallForm
from tui.screens.trace import TraceScreen


async def lines(pilot: desks.Pilot[None], *typed: str) -> None:
    """Type lines as a hand does, a pause after each Enter."""
    for text in typed:
        await snap.send(pilot, f"{text}\r")
        await pilot.pause(0.5)


async def test_a_stocktake_stands_beside_what_the_record_expected(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(RegisterRowScreen(desk, "container", "C-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "k")
        await desks.settle(pilot)
        snap.check(app, "stocktake")
        await lines(pilot, "3 g", "1")
        await lines(pilot, "")
        assert isinstance(app.screen, SmallForm)
        assert "write what it comes from" in snap.text_of(app)
        await lines(pilot, "spilt, see entry")
        assert isinstance(app.screen, RegisterRowScreen)
        assert "stocktake on 2026-03-02: 3.000 g" in snap.text_of(app)
    assert lots.stock(desk.record, "C-1").left_mg == 3000.0


async def test_a_sealed_gross_before_use_says_what_was_lost(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    stock.weigh_sealed(desk.acting, "C-1", when="at closing", balance="B-1", shown="20000.00")
    app = desks.DeskApp(RegisterRowScreen(desk, "container", "C-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "g")
        await desks.settle(pilot)
        await snap.press(pilot, "2")
        await lines(pilot, "", "19990.00", "")
        assert isinstance(app.screen, RegisterRowScreen)
        assert "lost 10 mg in 0 days, 0.2 % of the content" in " ".join(snap.text_of(app).split())
    assert [w.shown for w in storage.weighings(desk.record, "C-1")] == ["20000.00 mg", "19990.00 mg"]


async def test_a_lot_is_held_against_an_independent_check_and_judged_by_its_limit(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(RegisterRowScreen(desk, "lot", "KD-2"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "y")
        await desks.settle(pilot)
        await snap.press(pilot, "2")
        await lines(pilot, "titration", "iodometric titration", "0.970", "", "2", "")
        assert isinstance(app.screen, RegisterRowScreen)
        assert "ratio 0.97: OUT OF its limit" in snap.text_of(app)
        assert "OUT OF LIMIT" in snap.text_of(app)
        await snap.press(pilot, "t")
        await desks.settle(pilot)
        assert isinstance(app.screen, TraceScreen)
    assert [c.within for c in lot_checks.of(desk.record, "KD-2")] == [False]


async def test_a_balance_in_the_register_leads_to_its_health(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(RegisterRowScreen(desk, "balance", "B-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "h health" in snap.text_of(app)
        await snap.press(pilot, "h")
        await desks.settle(pilot)
        assert isinstance(app.screen, BalanceHealthScreen)


async def test_a_reviewer_takes_no_stock(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="re-1")
    app = desks.DeskApp(RegisterRowScreen(desk, "container", "C-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "k")
        await desks.settle(pilot)
        await lines(pilot, "5 g", "1", "")
        assert "operator" in snap.text_of(app)
    assert lots.stock(desk.record, "C-1").counted_mg is None


@pytest.mark.parametrize(("register", "id"), [("lot", "S-7F3A-0001"), ("container", "S-7F3A-0001-1")])
async def test_what_was_made_of_a_recalled_lot_says_so_on_its_page(
    tmp_path: Path, register: str, id: str
) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    said = "✗ lot S-7F3A-0001 was made of lot KD-2, which is recalled (the maker says so)"
    for recalled in (False, True):
        if recalled:
            lot_status.set_status(site.acting(desk.record, "ke-1"), "KD-2", "recalled", "the maker says so")
        app = desks.DeskApp(RegisterRowScreen(desk, register, id))
        async with app.run_test(size=(120, 40)) as pilot:
            await desks.settle(pilot)
            assert (said in " ".join(snap.text_of(app).split())) is recalled


async def test_what_a_loss_makes_of_the_content_stands_on_the_page_and_after_a_leak_that_it_is_not_known(
    tmp_path: Path,
) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    id = "S-7F3A-0001-1"
    gross = storage.weighings(desk.record, id)[0].mass_mg
    for lost, said in ((50, "if only solvent escaped"), (1000, "what is in it is not known, it leaked by")):
        stock.weigh_sealed(desk.acting, id, when="before use", balance="B-1", shown=f"{gross - lost:.2f} mg")
        app = desks.DeskApp(RegisterRowScreen(desk, "container", id))
        async with app.run_test(size=(120, 40)) as pilot:
            await desks.settle(pilot)
            text = " ".join(snap.text_of(app).split())
            assert said in text
            assert ("if only solvent escaped" in text) is (lost == 50)
