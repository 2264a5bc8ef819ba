"""The clock of gloves against the liquids that are met."""

import pytest

from store.actions import planning
from store.actions.gloves import change_gloves
from store.errors import Owed
from store.model.words import ActKind
from store.queries import gloves
from store.record.record import Record
from tests import site
from tests.tui.walking import walk
from tui.guide import keys
from tui.guide.guide import Guide


def gloved(record: Record, minutes: str = "10") -> None:
    site.put(
        record, "glove",
        {"id": "G-1", "material": "nitrile", "worn": "put on", "enclosure": "E-1",
         "breakthrough": [f"WATER: {minutes}"], "source": "test"},
    )  # fmt: skip


def open_solvent(record: Record, clock: site.TestClock) -> Guide:
    guide = site.guide(record, site.planned(record), clock)
    walk(guide, clock, "open", "add_solvent")
    guide.take(keys.Act())
    assert guide.state.open_handlings
    return guide


def test_a_liquid_without_a_time_is_said_at_the_plan_and_stops_nothing(record: Record) -> None:
    site.put(record, "glove", {"id": "G-1", "material": "nitrile", "enclosure": "E-1"})
    found = planning.explain(site.acting(record), site.PLAN)
    said = [f for f in found.findings if "breakthrough" in f.what]
    assert [f.stop for f in said] == [False]


@pytest.mark.parametrize(("open_s", "rings"), [(470.0, False), (481.0, True)])
def test_the_clock_of_the_gloves_counts_while_it_is_open_and_rings_a_fifth_before_the_end(
    record: Record, clock: site.TestClock, open_s: float, rings: bool
) -> None:
    gloved(record)
    guide = open_solvent(record, clock)
    assert guide.view().glove_left == pytest.approx(600.0, abs=1.0)
    clock.time.pass_(open_s)
    view = guide.view()
    assert view.glove_left == pytest.approx(600.0 - open_s, abs=1.0)
    assert bool(view.alarm) == rings
    if rings:
        assert "nearly through" in view.said


def test_gloves_that_are_through_open_nothing_until_they_are_changed(
    record: Record, clock: site.TestClock
) -> None:
    gloved(record)
    guide = open_solvent(record, clock)
    clock.time.pass_(601.0)
    assert "is through" in guide.view().said
    with pytest.raises(Owed):
        change_gloves(guide.acting, guide.prep, seen=guide.state.last_entry)
    guide.take(keys.Back())
    guide.take(keys.Chosen(1))  # close what is open
    assert not guide.state.open_handlings
    walk_note(guide)
    assert gloves.clocks(record, guide.state)[0].left_s < 0
    walk(guide, clock, "open", "add_solvent")
    guide.take(keys.Act())
    assert "gloves G-1: WATER is through" in guide.view().body[1]
    guide.take(keys.Back())
    guide.take(keys.Note())
    guide.take(keys.Chosen(guide.asks[-1].choices.index("gloves changed, nothing wrong") + 1))
    assert gloves.clocks(record, guide.state)[0].left_s == 600.0
    assert guide.state.owed
    guide.take(keys.Act())
    assert guide.state.open_handlings


def walk_note(guide: Guide) -> None:
    """Write the exposure note if it is asked at once."""
    while guide.asks:
        guide.take(keys.Chosen(1))


def test_an_exposure_note_of_changed_gloves_starts_their_clock_anew(
    record: Record, clock: site.TestClock
) -> None:
    gloved(record, "600")
    guide = open_solvent(record, clock)
    clock.time.pass_(120.0)
    walk(guide, clock, "note", "add_solvent")
    assert gloves.clocks(record, guide.state)[0].used_s > 119.0
    guide.take(keys.Chosen(2))
    guide.take(keys.Chosen(guide.asks[-1].choices.index("outer gloves changed") + 1))
    assert guide.state.current is not None
    assert gloves.clocks(record, guide.state)[0].used_s == 0.0
    assert guide.state.act is not None
    assert guide.state.act.kind != ActKind.NOTE, "the note is written"
