"""An empty record is set up at the keyboard, or filled with the samples; what is missing is said in words."""

from pathlib import Path
from random import Random

import pytest

from store.actions import people
from store.actions import samples as loading
from store.actions.acting import Acting
from store.errors import NotAllowed, Refused
from store.queries import registers, setup
from store.record import people as pins
from store.record.record import Record
from tests import site
from tests.store.sample_site import SAMPLES
from tests.tui import desks, snap
from tui.screens.bench import BenchScreen
from tui.screens.desk import Desk
from tui.screens.register_form import RegisterForm
from tui.screens.set_up import SetUpScreen


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pins, "N", site.LOW_N)


def new(folder: Path) -> Desk:
    clock = site.TestClock()
    path = folder / "new.tarebook"
    record = Record.create(path, now=clock, terminal="7F3A", site="")
    keeper = people.first_keeper(record, id="ke-1", name="K. P.", pin="9000")
    return Desk(
        record=record, path=path, now=clock, terminal="7F3A", monotonic=clock.time, chance=Random(1),
        samples=lambda: SAMPLES, person=keeper,
    )  # fmt: skip


def lacking(record: Record) -> list[str]:
    return [n.register for n in setup.missing(record)]


def test_each_thing_that_is_entered_is_missing_no_more(tmp_path: Path) -> None:
    desk = new(tmp_path)
    every = ["enclosure", "balance", "substance", "lot", "container", "vessel", "person"]
    assert lacking(desk.record) == every
    for register, row in site.ROWS:
        before = len(lacking(desk.record))
        site.put(desk.record, register, row)
        assert len(lacking(desk.record)) <= before
    assert lacking(desk.record) == ["person"]
    assert setup.missing(desk.record)[0].missing == "a PIN for op-1"
    people.set_pin(desk.acting, "op-1", "1111")
    assert lacking(desk.record) == []


def test_a_balance_without_a_check_weight_and_one_of_two_lots_are_not_enough(tmp_path: Path) -> None:
    desk = new(tmp_path)
    rows = {f"{k}:{r['id']}": (k, r) for k, r in site.ROWS}
    k, balance = rows["balance:B-1"]
    site.put(desk.record, k, {name: v for name, v in balance.items() if not name.startswith("check")})
    for key in ("substance:K2CR2O7", "lot:KD-2"):
        site.put(desk.record, *rows[key])
    said = {n.register: n.missing for n in setup.missing(desk.record)}
    assert said["balance"] == "a check weight for balance B-1"
    assert said["lot"] == "a lot for the other of the two"


def test_the_samples_fill_an_empty_record_and_no_other(tmp_path: Path) -> None:
    desk = new(tmp_path)
    with pytest.raises(NotAllowed):
        loading.load(Acting(desk.record, "ke-1", ("operator",)), SAMPLES)
    given = loading.load(desk.acting, SAMPLES)
    assert lacking(desk.record) == []
    assert people.sign_in(desk.record, "op-1", given["op-1"]).person == "op-1"
    assert registers.row(desk.record, "person", "ke-1").row["name"] == "K. P."
    before = desk.record.head()
    with pytest.raises(Refused, match="already"):
        loading.load(desk.acting, SAMPLES)
    assert desk.record.head() == before


@pytest.mark.parametrize("size", desks.SIZES)
async def test_the_set_up_leads_to_the_form_of_what_is_missing(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = new(tmp_path)
    app = desks.DeskApp(BenchScreen(desk), SetUpScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "set_up")
        await pilot.pause(0.3)  # an Enter within 0.4 s of a new screen is the bounce of the one before
        await snap.press(pilot, "enter")
        await desks.settle(pilot)
        form = app.screen
        assert isinstance(form, RegisterForm)
        assert form.register == "enclosure"
        for line in ("E-1\r", "isolator 1\r", "isolator\r", "air\r", ["down", "down"], "nitrile\r"):
            await snap.send(pilot, line)
        await snap.send(pilot, ["down"] * 20)
        await snap.send(pilot, "\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, SetUpScreen)
        assert "6 of 7 are missing" in snap.text_of(app)
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        assert "Still missing for a first prep: a balance" in snap.text_of(app)
        snap.check(app, "bench_missing")
        await snap.press(pilot, "u")
        await desks.settle(pilot)
        assert isinstance(app.screen, SetUpScreen)


async def test_the_set_up_leads_to_a_missing_pin_and_to_a_reviewer(tmp_path: Path) -> None:
    desk = new(tmp_path)
    for register, row in site.ROWS:
        if row["id"] != "re-1":
            site.put(desk.record, register, row)
    app = desks.DeskApp(SetUpScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await pilot.pause(0.3)
        await snap.send(pilot, "7\r")
        await desks.settle(pilot)
        assert "PIN of op-1" in snap.text_of(app)
        await snap.send(pilot, "1111\r")
        await snap.send(pilot, "1111\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, SetUpScreen)
        assert lacking(desk.record) == []
        await pilot.pause(0.5)
        await snap.send(pilot, "10\r")
        await desks.settle(pilot)
        form = app.screen
        assert isinstance(form, RegisterForm)
        assert form.form.values["roles"] == "reviewer"


def test_a_lot_that_lacks_is_named_by_its_substance(tmp_path: Path) -> None:
    desk = new(tmp_path)
    for register, row in site.ROWS:
        if (register, row["id"]) in (("substance", "K2CR2O7"), ("substance", "WATER"), ("lot", "KD-2")):
            site.put(desk.record, register, row)
    said = {n.register: n.missing for n in setup.missing(desk.record)}
    assert said["lot"] == "a lot of WATER"


async def test_the_samples_are_loaded_after_a_question(tmp_path: Path) -> None:
    desk = new(tmp_path)
    app = desks.DeskApp(SetUpScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        await snap.press(pilot, "2")
        await desks.settle(pilot)
        assert "7 of 7 are missing" in snap.text_of(app)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        await snap.press(pilot, "1")
        await pilot.pause(1.0)
        assert "All that a first prep needs is there" in snap.text_of(app)
        assert "op-1 1111" in snap.text_of(app)
