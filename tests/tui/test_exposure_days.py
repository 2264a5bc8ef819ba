"""A handling entered later stands under its own day; the weeks drawn are those that were asked for."""

import io
from datetime import date
from pathlib import Path

from click.testing import CliRunner

from store.actions import handlings
from store.exchange import exports
from store.queries.totals import Total
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tui.__main__ import main
from tui.screens.exposure_log import ExposureLogScreen
from tui.screens.exposure_rows import weeks
from tui.widgets.table_page import TablePage


def late(record: Record, clock: site.TestClock) -> None:
    """Story: on Monday 2 March a glove change of Friday 20 February is entered, and one of today."""
    op_1 = site.acting(record)
    for day in ("2026-02-20", ""):
        handlings.handle_apart(
            op_1,
            what="glove change",
            day=day,
            substances=("K2CR2O7",),
            minutes="4",
            unusual=True,
            note="torn",
        )


async def test_a_handling_entered_later_stands_under_its_day_on_the_screen(tmp_path: Path) -> None:
    app = desks.DeskApp(ExposureLogScreen(desks.desk(tmp_path, person="so-1", story=late)))
    async with app.run_test(size=(80, 24)) as pilot:
        for key in ("h", "i"):
            await desks.settle(pilot)
            await snap.press(pilot, key)
            await desks.settle(pilot)
            today, before = (r.cells[0] for r in app.screen.query_one(TablePage).rows)
            assert today.startswith("2026-03-02 "), "the time of today is known"
            assert before == "2026-02-20"


def test_a_handling_entered_later_stands_under_its_day_in_the_command_and_for_print(tmp_path: Path) -> None:
    record = desks.desk(tmp_path, story=late).record
    for words in ((), ("--incidents",)):
        result = CliRunner().invoke(main, ["--record", str(record.path), "exposures", *words])
        assert result.exit_code == 0, result.output
        (line,) = (line for line in result.stdout.splitlines() if line.startswith("2026-02-20"))
        assert not line.startswith("2026-02-20 0")
    out = io.StringIO()
    exports.write(record, "exposures", out, form="html", made_by="so-1")
    assert "<td>2026-02-20</td>" in out.getvalue()


async def test_the_weeks_end_with_the_period_that_was_asked_for(tmp_path: Path) -> None:
    screen = ExposureLogScreen(desks.desk(tmp_path, person="so-1", story=late))
    screen.which.update(since="2026-02-10", until="2026-02-22")
    app = desks.DeskApp(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "b")
        await desks.settle(pilot)
        text = snap.text_of(app)
    assert [line.split()[0] for line in text.splitlines() if line.startswith(" 2026-W")] == [
        "2026-W07", "2026-W08",
    ]  # fmt: skip
    (week,) = (line for line in text.splitlines() if line.startswith(" 2026-W08"))
    assert "░" in week
    assert "~4:00" in week


def test_weeks_before_the_period_are_not_drawn_as_if_nothing_had_been_open_in_them() -> None:
    one = Total("2026-W10", 2, 0.0, 120.0, 1, 60.0, 60.0, 0, 0)
    every = weeks([one], until=date(2026, 3, 4), width=60)
    asked = weeks([one], since="2026-02-27", until=date(2026, 3, 4), width=60)
    assert [line[:8] for line in asked[1:]] == ["2026-W09", "2026-W10"]
    assert asked[-1] == every[-1]


async def test_what_was_said_of_a_key_goes_with_the_next_key(tmp_path: Path) -> None:
    app = desks.DeskApp(ExposureLogScreen(desks.desk(tmp_path, person="so-1", story=late)))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "q")
        await desks.settle(pilot)
        assert "q does nothing here" in snap.text_of(app)
        await snap.press(pilot, "i")
        await desks.settle(pilot)
        assert "does nothing here" not in snap.text_of(app)
