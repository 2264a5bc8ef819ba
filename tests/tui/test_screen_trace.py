"""Trace, a revised certificate, recall and search, at the desk and at the shell."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from store.model.words import PrepStatus
from store.queries import preps, revised
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tests.tui.test_screen_incident_page import submit
from tui.__main__ import main
from tui.screens.bench import BenchScreen
from tui.screens.prep_page import PrepPageScreen
from tui.screens.search import SearchScreen
from tui.screens.trace import TraceScreen
from tui.widgets.entry_form import EntryForm


@pytest.mark.parametrize("size", desks.SIZES)
async def test_the_trace_of_a_lot_shows_what_was_made_of_it_and_where_it_is(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(TraceScreen(desk, "KD-2"))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "trace")
        assert "S-7F3A-0001-1" in snap.text_of(app)


async def test_a_revised_certificate_is_entered_and_results_are_written_anew(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1", story=desks.closed_prep)
    record = desk.record
    app = desks.DeskApp(TraceScreen(desk, "KD-2"))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "v")
        await desks.settle(pilot)
        form = app.screen.query_one(EntryForm)
        form.fields[0].value, form.fields[-1].value = "99.0", "certificate 7b"
        form.go(len(form.fields) - 1)
        await submit(pilot)
        assert "PRINT LABEL AGAIN" in snap.text_of(app)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        app.screen.query_one(EntryForm).fields[0].value = "yes"
        await submit(pilot)
        assert "WITH THE CERTIFICATE" not in snap.text_of(app)
        assert "Print these labels again: tarebook label P-7F3A-0001." in snap.text_of(app)
    state = record.prep_state("P-7F3A-0001")
    assert state.status == PrepStatus.CLOSED
    assert float(state.result["value"]) == pytest.approx(float(state.result["was"]) * 99.0 / 99.9, rel=1e-9)
    value = f"{float(state.result['value']):.3f}"
    assert value[:4] in state.label


async def test_an_operator_enters_no_certificate(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(TraceScreen(desk, "KD-2"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "v")
        await desks.settle(pilot)
        assert "keeper" in snap.text_of(app)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        assert isinstance(app.screen, TraceScreen)


async def test_the_page_of_a_prep_leads_to_the_lot_that_it_made(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(PrepPageScreen(desk, "P-7F3A-0001"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "t")
        await desks.settle(pilot)
        assert "Trace of lot S-7F3A-0001" in snap.text_of(app)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_one_box_finds_by_cas_and_leads_there(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "f")
        await desks.settle(pilot)
        assert isinstance(app.screen, SearchScreen)
        await snap.send(pilot, "7778-50\r")
        await desks.settle(pilot)
        snap.check(app, "search")
        await snap.send(pilot, "1\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, PrepPageScreen)


# ---- the shell ----


def run(path: Path, *words: str, pin: str = "") -> Result:
    return CliRunner().invoke(main, ["--record", str(path), *words], input=f"{pin}\n")


def data(path: Path, *words: str) -> Any:
    result = run(path, *words, "--format", "json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    desk = desks.desk(tmp_path, person="", story=desks.closed_prep)
    desk.record.close()
    return desk.path


def test_a_certificate_at_the_shell_names_what_changes_and_the_recall_what_is_where(path: Path) -> None:
    given = ("enter", "certificate", "KD-2", "assay=99.0", "--reason", "certificate 7b", "--as", "ke-1")
    result = run(path, *given, "--pin-stdin", pin=site.PINS["ke-1"])
    assert result.exit_code == 0, result.output
    assert "1 prep has another value now" in result.output
    (row,) = data(path, "trace", "KD-2", "--revised")
    assert row["now"] == pytest.approx(row["was"] * 99.0 / 99.9, rel=1e-9)
    assert "print again" in run(path, "trace", "KD-2", "--revised").output
    assert [r["container"] for r in data(path, "trace", "KD-2", "--recall")] == ["C-1", "S-7F3A-0001-1"]


def test_a_stocktake_a_sealed_gross_and_a_comparison_are_entered_at_the_shell(path: Path) -> None:
    who = ("--as", "op-1", "--pin-stdin")
    pin = site.PINS["op-1"]
    assert run(path, "enter", "stock", "C-1", "4.99 g", *who, pin=pin).exit_code == 0
    with Record.open(path, now=site.TestClock(), terminal="7F3A") as record:
        gross = record.query("SELECT mass_mg FROM reading WHERE what = 'sealed'")[0]["mass_mg"]
    given = ("enter", "sealed", "S-7F3A-0001-1", f"{gross - 20:.2f} mg", "--balance", "B-1")
    result = run(path, *given, *who, pin=pin)
    assert result.exit_code == 0, result.output
    assert "if only solvent escaped" in result.output
    words = [
        "--how",
        "independent check",
        "--against",
        "gravimetry",
        "--method",
        "photometry",
        "--limit",
        "0.5",
    ]
    result = run(path, "enter", "verification", "KD-2", "0.998", *words, *who, pin=pin)
    assert result.exit_code == 0, result.output
    assert "ratio 0.998" in result.output


def test_words_are_found_at_the_shell(path: Path) -> None:
    found = data(path, "search", "potassium", "dichrom")
    assert {row["kind"] for row in found} == {"prep", "substance"}
    assert data(path, "search", "nothing-like-it") == []


def test_what_a_certificate_changes_is_none_while_it_stands(path: Path) -> None:
    with Record.open(path, now=site.TestClock(), terminal="7F3A") as record:
        assert not any(r.changed for r in revised.of(record, "KD-2"))
        assert preps.past(record, limit=1)[0].status == "closed"
