"""Other orders, other balances, and the ways back, walked whole."""

from dataclasses import replace
from functools import partial
from random import Random

import pytest

from store import events as ev
from store.actions import closing
from store.model.words import PrepStatus
from store.queries import registers
from store.record.record import Record
from store.record.verify import verify
from tests import site
from tui.guide import keys
from tui.guide.guide import Guide
from tui.guide.labels import final_label
from tui.guide.player import Player


def play(guide: Guide, clock: site.TestClock, *, until: str = "") -> None:
    """Play to the end, or until an act of this key is open and its page read."""

    def reached(g: Guide) -> bool:
        return bool(until) and g.state.act is not None and g.state.act.key == until and not g.on_page

    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(until=reached)


def choose(guide: Guide, *words: str) -> None:
    """Answer questions by the choice that contains the words."""
    for word in words:
        choices = guide.asks[-1].choices
        guide.take(keys.Chosen(next(n for n, c in enumerate(choices, 1) if word in c)))


@pytest.mark.parametrize("shows", ["net", "gross", "sum"])
@pytest.mark.parametrize("unit", ["mg", "g"])
@pytest.mark.parametrize("recipe", ["solution, solid first", "solution, solvent first"])
def test_every_recipe_closes_on_every_kind_of_display(
    record: Record, clock: site.TestClock, shows: str, unit: str, recipe: str
) -> None:
    row = registers.body(record, "balance", "B-1")
    site.put(record, "balance", {**row, "shows": shows, "unit": unit})
    prep = site.planned(record, replace(site.PLAN, recipe=recipe))
    guide = site.guide(record, prep, clock)
    play(guide, clock)
    state = record.prep_state(prep)
    assert state.status == PrepStatus.CLOSED
    assert abs(float(state.result["value"]) - 1.0) < 0.06
    # What the rig truly let fall is what the record says, within the balance's own scatter.
    assert abs(state.total_mg("solid") - 10.0) < 0.6
    assert all(r.within for r in state.reads)
    assert verify(record.path).ok


@pytest.mark.parametrize(
    ("target", "unit"), [("5 mmol/L", "mmol/L"), ("5 mmol/kg", "mmol/kg"), ("1 mg/mL", "mg/mL")]
)
def test_the_other_kinds_of_concentration_come_out_near_their_target(
    record: Record, clock: site.TestClock, target: str, unit: str
) -> None:
    prep = site.planned(record, replace(site.PLAN, target=target))
    play(site.guide(record, prep, clock), clock)
    result = record.prep_state(prep).result
    assert result["unit"] == unit
    assert abs(float(result["deviation"])) < 0.02


def test_a_corrected_dose_moves_the_solvent_aim_and_keeps_the_exposure(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    play(guide, clock, until="close")
    first = guide.state.doses[-1]
    handlings = len(guide.state.handlings)
    guide.take(keys.Back())
    choose(guide, "misread")
    guide.take(keys.Typed(f"{first.total_mg + 1:.2f}"))
    choose(guide, "misread")
    assert guide.state.total_mg("solid") == pytest.approx(first.total_mg + 1, abs=1e-6)
    assert len(guide.state.handlings) == handlings
    entry = record.entry(record.last_entry(f"prep:{guide.prep}")).event
    assert isinstance(entry, ev.Corrected)
    assert entry.reason == "misread"


def test_what_never_happened_takes_a_second_persons_pin(record: Record, clock: site.TestClock) -> None:
    guide = site.guide(record, site.planned(record), clock)
    play(guide, clock, until="close")
    guide.take(keys.Back())
    choose(guide, "never happened", "so-1")
    guide.take(keys.Typed("9999"))
    choose(guide, "checked together")
    assert guide.state.total_mg("solid") > 0
    assert "do not fit" in guide.said
    guide.asks.clear()
    clock.time.pass_(60)
    guide.take(keys.Back())
    choose(guide, "never happened", "so-1")
    guide.take(keys.Typed("3333"))
    choose(guide, "checked together")
    assert guide.state.total_mg("solid") == 0
    assert guide.state.doses[-1].state == "never happened"


def test_a_correction_after_closing_makes_it_stale_until_computed_anew(
    record: Record, clock: site.TestClock
) -> None:
    prep = site.planned(record)
    play(site.guide(record, prep, clock), clock)
    state = record.prep_state(prep)
    solid = next(d for d in state.doses if d.content == "solid")
    from store.actions import amend

    acting = site.acting(record)
    seen = record.last_entry(f"prep:{prep}")
    amend.correct(
        acting, prep, seen=seen, entry=solid.entry, text=f"{solid.total_mg * 1.1:.2f}", reason="misread"
    )
    assert record.prep_state(prep).stale
    closing.compute_anew(
        acting, prep, seen=record.last_entry(f"prep:{prep}"), label=partial(final_label, record)
    )
    after = record.prep_state(prep)
    assert not after.stale
    assert float(after.result["value"]) == pytest.approx(float(state.result["value"]) * 1.1, rel=2e-3)
    results = [e.event for e in record.entries(subject=f"prep:{prep}", kinds=["prep_closed"])]
    assert len(results) == 2


def test_giving_up_asks_for_the_owed_note_and_what_became_of_the_material(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    play(guide, clock, until="dose")
    guide.take(keys.Back())
    choose(guide, "close what is open")
    assert guide.state.owed
    guide.take(keys.Back())
    choose(guide, "give the prep up", "nothing unusual")
    assert not guide.state.owed
    choose(guide, "not needed", "waste container")
    assert guide.state.status == PrepStatus.ABANDONED
    assert "waste container" in guide.state.material
