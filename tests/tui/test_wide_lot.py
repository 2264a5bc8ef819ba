"""A lot that many preps rest on: a page says how many there are, a file and the write-anew reach all."""

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from store.queries import lots, recalled, spread, trace
from tests.store.asked_story import Story, begin
from tests.tui import desks, snap
from tests.tui.test_screen_incident_page import submit
from tui.__main__ import main
from tui.cli import output, traced
from tui.screens import trace as screen
from tui.screens.trace import TraceScreen
from tui.widgets.entry_form import EntryForm

MADE = 7


@pytest.fixture
def told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Story]:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    monkeypatch.setattr(traced, "SHOWN", 3)
    monkeypatch.setattr(traced, "COMPUTED", 2)
    story = begin(tmp_path)
    for _ in range(MADE - 1):
        story.whole()
    story.whole(lot="S-7F3A-0001", content="aliquot")
    yield story
    story.record.close()


def run(told: Story, *words: str) -> str:
    result = CliRunner().invoke(main, ["--record", str(told.record.path), *words])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_a_table_shows_the_newest_and_says_how_many_there_are(told: Story) -> None:
    text = run(told, "trace", "W-1")
    assert "7 preps took 69.650 g of it in 7 doses" in text
    assert "Only the newest 3 are shown: --format csv gives all." in text
    assert "P-7F3A-0007" in text
    assert "P-7F3A-0004" not in text
    for option, shown in (("--recall", 3), ("--revised", 2)):
        text = run(told, "trace", "W-1", option)
        assert "7 preps took" in text
        assert text.count("S-7F3A-0007-1") == 1
        assert f"S-7F3A-{MADE - shown:04d}-1" not in text


def test_a_file_gets_every_row_of_it(told: Story) -> None:
    rows = list(csv.DictReader(io.StringIO(run(told, "trace", "W-1", "--format", "csv"))))
    links = trace.trace(told.record, "W-1").down
    assert sorted((r["prep"], r["parent"], r["child"]) for r in rows) == sorted(
        (x.prep, x.parent, x.child) for x in links
    )
    body = json.loads(run(told, "trace", "W-1", "--format", "json"))
    assert [x["prep"] for x in body["down"]] == [x.prep for x in links]
    assert (body["taken"]["preps"], body["lot"], body["up"]) == (MADE, "W-1", [])
    recall = json.loads(run(told, "trace", "W-1", "--recall", "--format", "json"))
    assert recall == json.loads(json.dumps([asdict(r) for r in recalled.of(told.record, "W-1")]))
    assert len(recall) == MADE + 1


ROWS: tuple[list[dict[str, Any]], ...] = (
    [], [{"a": 1.5, "b": ["x, y", "=z"]}], [{"a": None, "b": "two\nlines"}, {"a": float("inf"), "b": "é"}],
)  # fmt: skip


@pytest.mark.parametrize("rows", ROWS, ids=len)
def test_rows_are_the_same_printed_as_they_are_read(
    rows: list[dict[str, Any]], capsys: pytest.CaptureFixture[str]
) -> None:
    for form in ("csv", "json"):
        output.emit(rows, form, columns=("a", "b"))
        whole = capsys.readouterr().out
        output.stream(iter(rows), form, columns=("a", "b"))
        assert capsys.readouterr().out == whole
    output.emit({"lot": "L", "none": None, "down": rows}, "json")
    whole = capsys.readouterr().out
    output.stream(iter(rows), "json", columns=(), head={"lot": "L", "none": None, "down": None})
    assert capsys.readouterr().out == whole


def test_what_is_left_of_a_lot_is_asked_without_its_doses(told: Story) -> None:
    """The sums alone answer: they do so where no dose can be looked up."""
    stock = lots.stock(told.record, "W-1-1")
    with told.record.transaction():
        told.record._conn.execute("DELETE FROM dose")
    assert lots.stock(told.record, "W-1-1") == stock
    assert (stock.times_opened, stock.used_mg) == (MADE, MADE * 9950.0)


async def test_a_page_of_it_says_how_to_get_all_and_writes_anew_in_turn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module, name in ((screen, "SHOWN"), (screen, "COMPUTED"), (screen, "LOOKED_AT")):
        monkeypatch.setattr(module, name, 1)
    monkeypatch.setattr(spread, "few", lambda *_, **__: False)
    desk = desks.desk(tmp_path, person="ke-1", story=desks.closed_prep)
    app = desks.DeskApp(TraceScreen(desk, "KD-2"))
    async with app.run_test(size=(120, 60)) as pilot:
        await desks.settle(pilot)
        text = " ".join(snap.text_of(app).split())
        assert "1 prep took" in text
        for option in ("--format csv", "--revised --format csv", "--recall --format csv"):
            assert f"all: tarebook trace KD-2 {option}" in text
        await snap.press(pilot, "v")
        await desks.settle(pilot)
        form = app.screen.query_one(EntryForm)
        form.fields[0].value, form.fields[-1].value = "99.0", "certificate 7b"
        form.go(len(form.fields) - 1)
        await submit(pilot)
        assert "computed as you ask" in snap.text_of(app)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        app.screen.query_one(EntryForm).fields[0].value = "yes"
        await submit(pilot)
        assert "Print these labels again: tarebook label P-7F3A-0001." in snap.text_of(app)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        assert "begins again with the newest" in snap.text_of(app)
    assert desk.record.prep_state("P-7F3A-0001").result["was"]
