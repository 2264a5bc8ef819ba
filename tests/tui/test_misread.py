"""A reading of a closed prep is put right: on its page and from the shell, the result and the lot anew."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from store.actions import closing, misread
from store.errors import NotAllowed, NotFound, Refused
from store.model.words import PrepStatus
from store.procedure.done import DoseDone
from store.queries import registers
from store.queries.page import page as page_of
from store.record.record import Record
from store.record.verify import verify
from tests import racks, site
from tests.tui import desks, snap
from tui.__main__ import main
from tui.guide.labels import final_label
from tui.screens.bench import BenchScreen
from tui.screens.prep_page import PrepPageScreen
from tui.screens.second import SecondScreen
from tui.screens.small_form import SmallForm

PREP = "P-7F3A-0001"


def solid_of(record: Record) -> DoseDone:
    return next(d for d in record.prep_state(PREP).doses if d.content == "solid" and d.counts)


def by_a_tenth_more(dose: DoseDone) -> str:
    number, _ = dose.shown.split(" ")
    return f"{float(number) + dose.net_mg / 10:.2f}"


def put_right(record: Record, person: str = "op-1", **other: object) -> None:
    dose = solid_of(record)
    given = {
        "seen": record.prep_state(PREP).last_entry,
        "entry": dose.entry,
        "shown": by_a_tenth_more(dose),
        "reason": "misread",
        "label": lambda part: final_label(record, part),
    } | other
    misread.write(site.acting(record, person), PREP, **given)  # type: ignore[arg-type]


async def filled(pilot: desks.Pilot[None], shown: str, *, why: str) -> None:
    """Say on the page of the prep that its first dose was misread."""
    await snap.press(pilot, "m")
    await desks.settle(pilot)
    assert isinstance(pilot.app.screen, SmallForm)
    for line in ("1", shown, why):
        await snap.send(pilot, f"{line}\r")
    await desks.settle(pilot)


async def test_an_operator_puts_a_reading_right_on_the_page_and_the_result_follows(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    before = desk.record.prep_state(PREP)
    app = desks.DeskApp(PrepPageScreen(desk, PREP))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await filled(pilot, by_a_tenth_more(solid_of(desk.record)), why="seen on the printout")
        assert isinstance(app.screen, PrepPageScreen)
        assert "Print the label again" in snap.text_of(app)
    after = desk.record.prep_state(PREP)
    assert float(after.result["value"]) == pytest.approx(1.1 * float(before.result["value"]), rel=2e-3)
    assert not after.stale
    assert after.label != before.label
    lot = registers.row(desk.record, "lot", str(after.lot["id"])).row
    assert str(lot["concentration"]).startswith(f"{float(after.result['value']):.2f}")
    page = page_of(desk.record, PREP)
    assert [c.reason for c in page.changes][-1] == "seen on the printout"
    desk.record.close()
    assert verify(tmp_path / "r.tarebook").ok


async def test_what_falls_below_the_minimum_weight_by_it_asks_a_second_person(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = desks.DeskApp(PrepPageScreen(desk, PREP))
    number = solid_of(desk.record).shown.split(" ")[0]
    less = f"{float(number) - 0.9 * solid_of(desk.record).net_mg:.2f}"
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await filled(pilot, less, why="a digit too many")
        assert isinstance(app.screen, SecondScreen)
        assert "minimum weight" in snap.text_of(app)
        assert record_of(desk.record) == number
        await snap.send(pilot, "so-1\r")
        await snap.send(pilot, f"{site.PINS['so-1']}\r")
        await snap.send(pilot, "checked together\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, PrepPageScreen)
    assert record_of(desk.record) == less
    desk.record.close()


def record_of(record: Record) -> str:
    return solid_of(record).shown.split(" ")[0]


async def test_nobody_but_an_operator_is_offered_it(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench, person="so-1")
    app = desks.DeskApp(PrepPageScreen(desk, PREP))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "misread" not in snap.text_of(app)
        await snap.press(pilot, "m")
        await desks.settle(pilot)
        assert isinstance(app.screen, PrepPageScreen | BenchScreen)
    with pytest.raises(NotAllowed):
        put_right(desk.record, "so-1")
    desk.record.close()


def test_an_accepted_prep_waits_for_its_reviewer_again(tmp_path: Path) -> None:
    with desks.desk(tmp_path, story=desks.busy_bench).record as record:
        reviewer = site.acting(record, "re-1")
        seen = record.prep_state(PREP).last_entry
        closing.review(reviewer, PREP, seen=seen, accept=True, reason="", meaning="readings and sums checked")
        put_right(record)
        assert record.prep_state(PREP).status == PrepStatus.CLOSED


def test_an_open_prep_and_a_dose_that_is_none_are_refused(tmp_path: Path) -> None:
    with desks.desk(tmp_path, story=desks.busy_bench).record as record:
        with pytest.raises(NotFound, match="no standing dose"):
            put_right(record, entry=1)
        open_prep = next(p for p in ("P-7F3A-0002", "P-7F3A-0003") if record.prep_state(p).status == "open")
        with pytest.raises(Refused, match="correct it with - in its steps"):
            misread.write(
                site.acting(record), open_prep, seen=record.prep_state(open_prep).last_entry, entry=1,
                shown="1.00", reason="x", label=str,
            )  # fmt: skip


def test_the_shell_puts_right_one_place_of_a_rack_and_leaves_the_rejected_one_out(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 3)
        player = racks.player(record, PREP, clock)
        player.play(until=lambda g: len(g.state.doses) == 3 and not g.something_open and not g.state.owed)
        from store.actions import racks as verbs

        seen = record.prep_state(PREP).last_entry
        verbs.reject(site.acting(record), PREP, seen=seen, place="2", reason="cracked")
        racks.player(record, PREP, clock).play()
        dose = solid_of(record)
    done = CliRunner().invoke(
        main,
        ["--record", str(tmp_path / "r.tarebook"), "enter", "misread", PREP, str(dose.entry),
         f"{float(dose.shown.split(' ')[0]) + 0.10:.2f}", "--why", "misread", "--as", "op-1", "--pin-stdin"],
        input=f"{site.PINS['op-1']}\n",
        env={"TAREBOOK_TERMINAL": "7F3A"},
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert f"R-01: {dose.net_mg + 0.10:.3f} mg" in done.output
    assert "R-02: REJECTED" in done.output
    with Record.open(tmp_path / "r.tarebook", now=clock, terminal="7F3A", write=False) as record:
        assert [m["part"] for m in record.prep_state(PREP).made] == ["1", "3"]
