"""Portions of powder are containers of one lot: drawn from, traced, recalled and reviewed as one."""

from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from store.actions import amend, closing, planning, revise
from store.actions import racks as verbs
from store.procedure import powder
from store.queries import lots, recalled, registers, revised
from store.record.record import Record
from store.record.verify import verify
from tests import racks, site
from tests.tui import desks, snap
from tui.guide.labels import data_of, final_label
from tui.paper.label import label_html, label_text
from tui.screens.bench import BenchScreen
from tui.screens.portions import PortionsScreen
from tui.screens.prep_page import PrepPageScreen

LOT = "S-7F3A-0001"


def walked(record: Record, clock: site.TestClock, many: int = 3, *, wet: bool = False) -> str:
    prep = racks.planned(record, many, wet=wet)
    racks.player(record, prep, clock).play()
    return prep


def label(record: Record, prep: str, part: str) -> str:
    return label_text(data_of(record, record.prep_state(prep).part(part), "final"))


def test_portions_of_powder_are_containers_of_one_lot(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = walked(record, clock)
        state = record.prep_state(prep)
        assert {m["lot"]["id"] for m in state.made} == {LOT}
        assert [m["container"]["id"] for m in state.made] == [f"{LOT}-{n}" for n in (1, 2, 3)]
        assert [s.container for s in lots.stock_of_lot(record, LOT)] == [f"{LOT}-{n}" for n in (1, 2, 3)]
        for stock, place in zip(lots.stock_of_lot(record, LOT), ("1", "2", "3"), strict=True):
            assert stock.left_mg == pytest.approx(state.part(place).total_mg("solid"), abs=0.0005)
        history = record.query("SELECT count(*) AS n FROM register_history WHERE id = :lot", lot=LOT)
        assert history[0]["n"] == 1, "the lot is entered once"
        assert f"lot       {LOT}, container {LOT}-2\n" in label(record, prep, "2")
        for size in ((70.0, 37.0), (38.0, 19.0)):
            assert f"{LOT}-2" in label_html(data_of(record, state.part("2"), "final"), size)
    assert verify(tmp_path / "r.tarebook").ok


def test_a_lot_of_portions_is_traced_and_recalled_as_one(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = walked(record, clock)
        taken_mg = record.prep_state(prep).total_mg("solid")
        (down,) = lots.trace(record, "KD-2").down
        assert (down.child, down.doses) == (LOT, 3)
        assert down.net_mg == pytest.approx(taken_mg)
        (up,) = lots.trace(record, LOT).up
        assert up.parent == "KD-2"
        assert up.net_mg == pytest.approx(taken_mg)
        found = recalled.of(record, "KD-2")
        assert [r.container for r in found if r.lot == LOT] == [f"{LOT}-{n}" for n in (1, 2, 3)]
        assert [r.place for r in found if r.lot == LOT] == ["R-01", "R-02", "R-03"]


def test_a_solution_is_planned_from_one_portion_of_the_lot(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = walked(record, clock)
        closing.review(
            site.acting(record, "re-1"), prep, seen=record.prep_state(prep).last_entry, accept=True,
            reason="", meaning="checked",
        )  # fmt: skip
        assert registers.body(record, "lot", LOT)["status"] == "released"
        plan = replace(site.PLAN, container=f"{LOT}-2", target="0.9 mg/g", amount="10 g")
        assert planning.explain(site.acting(record), plan).basis["lot"]["id"] == LOT


def test_a_rack_with_a_rejected_place_is_reviewed(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record, 3, wet=True)
        player = racks.player(record, prep, clock)
        player.play(until=lambda g: g.state.step == 4 and not g.on_page and not g.asks)
        seen = record.prep_state(prep).last_entry
        verbs.reject(site.acting(record), prep, seen=seen, place="2", reason="powder on the rim")
        racks.player(record, prep, clock).play()
        seen = record.prep_state(prep).last_entry
        reviewer = site.acting(record, "re-1")
        closing.review(reviewer, prep, seen=seen, accept=True, reason="", meaning="checked")
        status = [registers.body(record, "lot", f"{LOT}.{n}")["status"] for n in (1, 3)]
        assert status == ["released", "released"]


def test_a_rack_closed_with_a_lot_for_each_portion_keeps_its_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As such racks were closed before portions of powder became one lot: their entries load for ever."""
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        with monkeypatch.context() as before:
            before.setattr(powder, "one_lot", lambda state: False)
            prep = walked(record, clock)
        state = record.prep_state(prep)
        assert [m["lot"]["id"] for m in state.made] == [f"{LOT}.{n}" for n in (1, 2, 3)]
        acting = site.acting(record)
        last = state.doses[-1]
        reads = f"{float(last.shown.removesuffix(' mg')) + 0.1:.2f}"
        amend.correct(
            acting, prep, seen=state.last_entry, entry=last.entry, text=reads,
            reason="misread",
        )  # fmt: skip
        closing.compute_anew(
            acting, prep, seen=record.prep_state(prep).last_entry, label=partial(final_label, record)
        )
        anew = record.prep_state(prep)
        assert [m["lot"]["id"] for m in anew.made] == [f"{LOT}.{n}" for n in (1, 2, 3)]
        assert [m["container"]["id"] for m in anew.made] == [f"{LOT}.{n}-1" for n in (1, 2, 3)]
        assert float(anew.made[-1]["result"]["value"]) == pytest.approx(last.total_mg + 0.1, abs=0.006)
        assert {link.child for link in lots.trace(record, "KD-2").down} == {f"{LOT}.{n}" for n in (1, 2, 3)}
    assert verify(tmp_path / "r.tarebook").ok


def test_a_revised_certificate_gives_portions_their_new_content(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = walked(record, clock)
        site.put(record, "lot", {**registers.body(record, "lot", "KD-2"), "assay": "98.9"})
        (row,) = revised.of(record, "KD-2")
        assert row.unit == "g/g"
        assert row.was == pytest.approx(0.999)
        assert row.now == pytest.approx(0.989)
        assert row.changed
        assert not row.print_again, "the content stands on no label"
        keeper, seen = site.acting(record, "ke-1"), record.prep_state(prep).last_entry
        revise.write_anew(keeper, prep, seen=seen, label=lambda part: "NEW")
        assert registers.body(record, "lot", LOT)["assay"] == "98.9"


@pytest.mark.parametrize("wet", [False, True])
def test_a_revised_certificate_says_nothing_of_a_rejected_place(tmp_path: Path, wet: bool) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record, 3, wet=wet)
        racks.player(record, prep, clock).play(
            until=lambda g: g.state.total_mg("solid") > 0 and not g.on_page
        )
        seen = record.prep_state(prep).last_entry
        verbs.reject(site.acting(record), prep, seen=seen, place="1", reason="powder on the rim")
        racks.player(record, prep, clock).play()
        site.put(record, "lot", {**registers.body(record, "lot", "KD-2"), "assay": "98.9"})
        found = revised.of(record, "KD-2")
        made = [f"{LOT}.2", f"{LOT}.3"] if wet else [LOT]
        assert sorted(row.made_lot for row in found) == ["", *made]
        (place,) = (row for row in found if not row.made_lot)
        assert (place.was, place.now, place.how) == (None, None, "no value was written")
        assert not place.changed
        for row in found:
            if row.made_lot:
                assert row.now is not None
                assert row.was is not None
                assert row.now / row.was == pytest.approx(98.9 / 99.9, rel=1e-6)


@pytest.mark.parametrize("wet", [False, True])
async def test_a_rack_is_planned_again_from_its_page(tmp_path: Path, wet: bool) -> None:
    def story(record: Record, clock: site.TestClock) -> None:
        racks.planned(record, 3, wet=wet)

    desk = desks.desk(tmp_path, story=story)
    app = desks.DeskApp(BenchScreen(desk), PrepPageScreen(desk, "P-7F3A-0001"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "n")
        await desks.settle(pilot)
        screen = app.screen
        assert isinstance(screen, PortionsScreen)
        values = screen.form.values
        assert values["vessels"] == "R-01, R-02, R-03"
        again = screen.asked(values)
        assert again == desk.record.prep_state("P-7F3A-0001").plan
