"""Incidents and handlings without a prep, at the desk and at the shell."""

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from store.actions import notes
from store.errors import NotAllowed
from store.queries import exposures, incidents
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tui.__main__ import main
from tui.screens.bench import BenchScreen
from tui.screens.exposure_log import ExposureLogScreen
from tui.screens.incident_page import IncidentPageScreen
from tui.widgets.entry_form import EntryForm


def hurt(record: Record, clock: site.TestClock) -> None:
    """Story: op-1 had a drop on the skin, op-2 was near."""
    notes.note_incident(site.acting(record), "", what="contact", note="on the skin", present=("op-2",))


def number(record: Record) -> int:
    return incidents.standing_open(record)[0].entry


async def submit(pilot: desks.Pilot[Any]) -> None:
    """Press Enter until the form is gone: on a busy machine a key may count as a bounce."""
    form = pilot.app.screen
    for _ in range(10):
        await snap.send(pilot, "\r")
        await desks.settle(pilot)
        if pilot.app.screen is not form:
            return
    raise AssertionError(snap.text_of(pilot.app))


@pytest.mark.parametrize("size", desks.SIZES)
async def test_an_open_incident_stands_on_the_bench_and_its_digit_leads_to_its_page(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=hurt)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        assert "Incidents" in snap.text_of(app)
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        assert isinstance(app.screen, IncidentPageScreen)
        snap.check(app, "incident_page")


async def test_details_and_the_end_are_written_from_the_page(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=hurt)
    app = desks.DeskApp(IncidentPageScreen(desk, number(desk.record)))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "d")
        await desks.settle(pilot)
        form = app.screen.query_one(EntryForm)
        for field, value in zip(
            form.fields,
            ("skin", "left hand", "a drop", "rinsed", "no", "a torn glove", "new gloves", "E-1"),
            strict=False,
        ):  # fmt: skip
            field.value = value
        form.go(len(form.fields) - 1)
        await submit(pilot)
        assert "left hand" in snap.text_of(app)
        assert "enclosure         E-1" in snap.text_of(app)
        await snap.press(pilot, "c")
        await desks.settle(pilot)
        app.screen.query_one(EntryForm).fields[0].value = "gloves changed"
        await submit(pilot)
        assert "closed by so-1" in snap.text_of(app)
    assert incidents.standing_open(desk.record) == ()


async def test_who_was_not_there_and_is_no_officer_does_not_see_it(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="re-1", story=hurt)
    with pytest.raises(NotAllowed):
        IncidentPageScreen(desk, number(desk.record))


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_handling_without_a_prep_is_entered_from_the_exposure_log(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "a")
        await desks.settle(pilot)
        snap.check(app, "handling_form")
        form = app.screen.query_one(EntryForm)
        form.fields[0].value = "wipe-down"
        form.fields[4].value = "K2CR2O7"
        form.fields[6].value = "5"
        form.go(len(form.fields) - 1)
        await submit(pilot)
        assert "wipe-down" in snap.text_of(app)
    (row,) = exposures.of(desk.record, person="op-1", family="CMR_1")
    assert (row.what, row.gloves, row.open_s, row.prep) == ("wipe-down", "nitrile, double", 300.0, "")


# ---- the shell ----


def run(path: Path, *words: str, pin: str = "") -> Result:
    return CliRunner().invoke(main, ["--record", str(path), *words], input=f"{pin}\n")


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    with site.begin(tmp_path / "r", site.TestClock()) as record:
        hurt(record, site.TestClock())
    return tmp_path / "r"


def test_a_handling_is_entered_at_the_shell_and_counts(path: Path) -> None:
    given = ("enter", "handling", "filter change", "--enclosure", "E-1", "--substances", "7778-50-9")
    result = run(path, *given, "--present", "op-2,op-1", "--as", "op-1", "--pin-stdin", pin=site.PINS["op-1"])
    assert result.exit_code == 0, result.output
    assert "filter change of K2CR2O7" in result.output
    assert "filter change" in run(path, "exposures", "--family", "CMR_1").output


def test_a_wrong_pin_or_a_fault_writes_nothing_and_says_why(path: Path) -> None:
    assert run(path, "enter", "handling", "visit", "--as", "op-2", "--pin-stdin", pin="0000").exit_code == 2
    late = ("enter", "handling", "visit", "--on", "2999-01-01", "--as", "op-1", "--pin-stdin")
    result = run(path, *late, pin=site.PINS["op-1"])
    assert result.exit_code == 2
    assert "still to come" in result.output


def test_details_left_out_at_the_shell_stay_and_an_officer_closes(path: Path) -> None:
    with Record.open(path, now=site.TestClock(), terminal="7F3A") as record:
        n = str(number(record))
    who = ("--as", "so-1", "--pin-stdin")
    assert run(path, "enter", "incident", n, "--route", "skin", *who, pin=site.PINS["so-1"]).exit_code == 0
    result = run(path, "enter", "incident", n, "--referred", "yes", "--close", "seen to", *who,
                 pin=site.PINS["so-1"])  # fmt: skip
    assert result.exit_code == 0, result.output
    with Record.open(path, now=site.TestClock(), terminal="7F3A") as record:
        page = incidents.page(record, int(n))
    assert (page.route, page.referred, page.closed_reason) == ("skin", "yes", "seen to")


def test_a_measurement_is_entered_as_it_was_reported(path: Path) -> None:
    given = ("enter", "monitoring", "wipe", "K2CR2O7", "< 2.0 ng/cm2", "--place", "bench")
    result = run(path, *given, "--as", "so-1", "--pin-stdin", pin=site.PINS["so-1"])
    assert result.exit_code == 0, result.output
    assert "< 2.0 ng/cm2" in result.output
