"""One vessel of several made anew: the others stay, what was made from it goes with it."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from store.model.words import PrepStatus
from store.queries import registers, revised, trace
from store.record.record import Record
from store.record.verify import verify
from tests import several, site
from tests.tui import audit, desks, snap
from tests.tui.test_screen_incident_page import submit
from tests.tui.test_several_walk import guide_of, play
from tui.guide import keys
from tui.guide.guide import Guide
from tui.screens.trace import TraceScreen
from tui.widgets.entry_form import EntryForm


@pytest.fixture
def record(tmp_path: Path, clock: site.TestClock) -> Iterator[Record]:
    with site.begin(tmp_path / "r.tarebook", clock) as made:
        several.begin(made)
        yield made


def made_anew(guide: Guide, vessel: str) -> None:
    """Press what discards one vessel and begins it anew, for the first reason offered."""
    guide.take(keys.Back())
    choices = guide.asks[-1].choices
    guide.take(keys.Chosen(next(n for n, c in enumerate(choices, 1) if "make it anew" in c)))
    choices = guide.asks[-1].choices
    guide.take(keys.Chosen(next(n for n, c in enumerate(choices, 1) if c.startswith(vessel))))
    guide.take(keys.Chosen(1))


def test_a_level_out_of_tolerance_is_made_anew_alone(record: Record, clock: site.TestClock) -> None:
    plan = several.series("1 ug/g", "5 ug/g", "20 ug/g")
    guide = guide_of(record, clock, plan)
    play(guide, clock, until=lambda g: g.state.current is None)
    before = {p.key: (p.total_mg("aliquot"), p.total_mg("solvent")) for p in guide.state.each}
    opened = len(guide.state.handlings)
    made_anew(guide, "V-2")
    assert guide.state.act is not None
    assert guide.state.act.key == "vessel:2"
    assert guide.state.part("2").total_mg("aliquot") == 0
    state = play(guide, clock)
    assert state.status == PrepStatus.CLOSED
    after = {p.key: (p.total_mg("aliquot"), p.total_mg("solvent")) for p in state.each}
    assert (after["1"], after["3"]) == (before["1"], before["3"])
    assert after["2"] != before["2"]
    again = [h.what for h in state.handlings[opened:]]
    assert again[:2] == ["container", "vessel"], "its source and the solvent were opened once more"
    assert {"surfaces", "waste"} <= set(again), "and cleaned up after once more"
    assert sum(1 for d in state.doses if not d.counts) == 2
    assert float(state.made[1]["result"]["value"]) == pytest.approx(5.0, rel=0.03)
    found = audit.of_prep(record, state.prep)
    assert found.faults == []
    record.rebuild()
    assert record.prep_state(state.prep) == state
    assert verify(record.path).ok


def test_what_was_made_from_a_vessel_goes_with_it(record: Record, clock: site.TestClock) -> None:
    guide = guide_of(record, clock, several.dilution())
    play(guide, clock, until=lambda g: g.state.current is None)
    made_anew(guide, "V-1")
    assert guide.state.total_mg("aliquot") == 0
    state = play(guide, clock)
    assert state.status == PrepStatus.CLOSED
    assert float(state.result["value"]) == pytest.approx(0.1, rel=0.03)
    assert audit.of_prep(record, state.prep).faults == []


def test_what_a_revised_stock_changes_is_said_of_every_vessel(record: Record, clock: site.TestClock) -> None:
    play(guide_of(record, clock, several.dilution()), clock)
    site.put(record, "lot", {**registers.body(record, "lot", "KS-1"), "concentration": "1.0103 mg/g"})
    first, second = revised.of(record, "KS-1")
    assert [first.made_lot, second.made_lot] == ["S-7F3A-0001.1", "S-7F3A-0001.2"]
    assert [first.how, second.how] == ["computed", "in proportion"]
    for row in (first, second):
        assert row.now is not None
        assert row.was is not None
        assert row.now / row.was == pytest.approx(1.0103 / 1.0003, rel=1e-6)


def _two_generations(record: Record, clock: site.TestClock) -> None:
    """A dilution of a stock, a level of that, then another concentration on the stock's certificate."""
    several.begin(record)
    first = play(guide_of(record, clock, several.dilution()), clock)
    stock, lot = first.made[0]["container"]["id"], str(first.made[0]["lot"]["id"])
    site.put(record, "lot", {**registers.body(record, "lot", lot), "status": "released"})
    level = several.part("3", "1.000 ug/g", container=stock)
    again = replace(several.series("1.000 ug/g", container=stock), parts=(level,), vessel="V-3")
    play(guide_of(record, clock, again), clock)
    site.put(record, "lot", {**registers.body(record, "lot", "KS-1"), "concentration": "1.0103 mg/g"})


def test_a_generation_met_before_the_one_it_rests_on_is_in_proportion_too(
    tmp_path: Path, clock: site.TestClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The nearest come first: what is thinned once more with the same lot comes before what it rests on."""
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        _two_generations(record, clock)
        _whichever_is_met_first(record, monkeypatch)


def _whichever_is_met_first(record: Record, monkeypatch: pytest.MonkeyPatch) -> None:
    usual = {row.made_lot: row for row in revised.of(record, "KS-1")}
    assert [row.how for row in usual.values()] == ["computed", "in proportion", "in proportion"]
    found = trace.trace(record, "KS-1")
    monkeypatch.setattr(trace, "trace", lambda *_: replace(found, down=found.down[::-1]))
    assert {row.made_lot: row for row in revised.of(record, "KS-1")} == usual


async def test_every_generation_below_a_revised_stock_is_written_anew_at_once(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1", story=_two_generations)
    record, second = desk.record, "P-7F3A-0002"
    was = float(record.prep_state(second).made[0]["result"]["value"])
    assert {r.how for r in revised.of(record, "KS-1") if r.prep == second} == {"in proportion"}
    app = desks.DeskApp(TraceScreen(desk, "KS-1"))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        assert second in snap.text_of(app)
        app.screen.query_one(EntryForm).fields[0].value = "yes"
        await submit(pilot)
        assert "WITH THE CERTIFICATE" not in snap.text_of(app)
    value = float(record.prep_state(second).made[0]["result"]["value"])
    assert value == pytest.approx(was * 1.0103 / 1.0003, rel=2e-4)  # by the digits of the label between
    assert not any(r.changed for r in revised.of(record, "KS-1"))
