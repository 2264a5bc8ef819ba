"""The guide asks the registers as they stand now: scans, conditioning, gloves."""

from random import Random
from typing import Any

import pytest

from store.actions import lot_status, people, planning
from store.actions.acting import LetThrough
from store.actions.gloves import change_gloves
from store.errors import NeedsSecondPerson, Owed
from store.model.words import ActKind
from store.procedure import pan
from store.queries import gloves, lots, registers
from store.record.record import Record
from tests import site
from tui.guide import keys
from tui.guide.guide import Guide
from tui.guide.player import Player


def walk(guide: Guide, clock: site.TestClock, act: str, step: str = "") -> None:
    def there(g: Guide) -> bool:
        now, open_ = g.state.act, g.state.current
        fits = now is not None and now.key == act and open_ is not None and (not step or open_.name == step)
        return not g.on_page and fits

    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(until=there)


def at_compare(record: Record, clock: site.TestClock) -> Guide:
    guide = site.guide(record, site.planned(record), clock)
    walk(guide, clock, "compare")
    return guide


def change(record: Record, kind: str, id: str, **fields: Any) -> None:
    site.put(record, kind, dict(registers.row(record, kind, id).row) | fields)


# ---- scans ----


def test_the_label_of_the_plan_s_container_answers_the_comparison(
    record: Record, clock: site.TestClock
) -> None:
    guide = at_compare(record, clock)
    guide.take(keys.Scanned("C-1"))
    assert guide.state.answers["0/compare"] == "scanned C-1"
    assert guide.state.act is not None
    assert guide.state.act.key == "pressure"


@pytest.mark.parametrize(
    ("label", "says"),
    [
        ("WB-1", "WB-1 is water, lot W-3: the solvent of this plan"),
        ("C-9", "Wrong container: C-9 is potassium dichromate, lot KD-8, blocked"),
        ("C-77", "is no container of the register"),
        ("c-1", "is no container of the register"),
    ],
)
def test_a_wrong_label_is_refused_with_what_it_was(
    record: Record, clock: site.TestClock, label: str, says: str
) -> None:
    site.put(record, "lot", {"id": "KD-8", "substance": "K2CR2O7", "status": "blocked", "status_reason": "x"})
    site.put(record, "container", {"id": "C-9", "lot": "KD-8"})
    guide = at_compare(record, clock)
    before = record.head()
    guide.take(keys.Scanned(label))
    assert says in guide.said
    assert record.head() == before
    assert guide.state.act is not None
    assert guide.state.act.key == "compare"


@pytest.mark.parametrize("intent", [keys.Scanned("C-1"), keys.Chosen(1)])
def test_a_lot_that_was_blocked_after_the_plan_is_refused_at_the_scan(
    record: Record, clock: site.TestClock, intent: keys.Intent
) -> None:
    guide = at_compare(record, clock)
    lot_status.set_status(people.sign_in(record, "so-1", "3333"), "KD-2", "blocked", "seal broken")
    guide.take(intent)
    assert "0/compare" not in guide.state.answers
    assert "lot KD-2 is in status blocked (seal broken)" in guide.view().body[1]
    guide.take(keys.Chosen(guide.asks[-1].choices.index("so-1") + 1))
    guide.take(keys.Typed("3333"))
    guide.take(keys.Chosen(1))
    assert "0/compare" in guide.state.answers
    assert guide.state.let_through[-1]["second"] == "so-1"


@pytest.mark.parametrize(("due", "stops"), [("2026-03-02", False), ("2026-03-01", True)])
def test_an_enclosure_overdue_since_the_plan_stops_what_is_brought_in(
    record: Record, clock: site.TestClock, due: str, stops: bool
) -> None:
    guide = at_compare(record, clock)
    change(record, "enclosure", "E-1", test_due=due)
    guide.take(keys.Chosen(1))
    assert bool(guide.asks) == stops
    assert ("0/compare" in guide.state.answers) != stops


def test_what_was_let_through_at_the_plan_is_not_asked_again(record: Record, clock: site.TestClock) -> None:
    change(record, "lot", "KD-2", expiry="2026-03-01")
    acting = site.acting(record)
    with pytest.raises(NeedsSecondPerson) as refused:
        planning.write(acting, site.PLAN)
    second = LetThrough("so-1", "retested", refused.value.what)
    guide = site.guide(record, planning.write(acting, site.PLAN, let_through=second), clock)
    walk(guide, clock, "compare")
    guide.take(keys.Chosen(1))
    assert not guide.asks
    assert "0/compare" in guide.state.answers


# ---- conditioning ----


def cold(record: Record, **fields: Any) -> None:
    change(record, "container", "C-1", conditioning=["to room temperature, closed"], **fields)


@pytest.mark.parametrize(("waited_s", "goes_on"), [(1799.0, False), (1800.0, True)])
def test_a_cold_container_waits_closed_for_its_minutes(
    record: Record, clock: site.TestClock, waited_s: float, goes_on: bool
) -> None:
    cold(record, warm_minutes="30")
    guide = site.guide(record, site.planned(record), clock)
    walk(guide, clock, "cold")
    assert "leave it closed" in guide.view().body[0]
    guide.take(keys.Act())
    assert guide.state.act is not None
    assert guide.state.act.key == "warm"
    clock.time.pass_(waited_s)
    said = guide.view()
    assert ("The time is over" in " ".join(said.body)) == goes_on
    assert bool(said.alarm) == goes_on
    guide.take(keys.Act())
    assert "Read the cautions" in guide.said, "the wait was a break"
    while guide.on_page:
        guide.take(keys.Acknowledged(guide.digit))
    guide.take(keys.Act())
    assert bool(guide.asks) != goes_on, "before its time a second person is asked for"
    assert (guide.state.act is not None and guide.state.act.key == "warm") != goes_on


def test_without_minutes_it_is_asked_whether_it_is_warm_and_dry(
    record: Record, clock: site.TestClock
) -> None:
    cold(record)
    guide = site.guide(record, site.planned(record), clock)
    walk(guide, clock, "warm")
    assert "dry outside" in guide.view().body[0]


def test_light_mixing_and_other_words_are_each_asked_for_and_mixing_right_before_the_opening(
    record: Record, clock: site.TestClock
) -> None:
    change(
        record, "container", "C-1", conditioning=["protect from light", "mix before use", "tap the lid first"]
    )
    guide = site.guide(record, site.planned(record), clock)
    first, weigh = guide.state.steps[0], guide.state.steps[3]
    texts = " ".join(a.text for a in first.acts)
    assert "lights low" in texts
    assert "tap the lid first" in texts
    keys_of = [a.key for a in weigh.acts]
    assert keys_of[keys_of.index("mix") + 1] == "open"


@pytest.mark.parametrize(("before", "stops"), [("2", False), ("3", True)])
def test_a_container_thawed_as_often_as_it_may_be_is_refused(
    record: Record, before: str, stops: bool
) -> None:
    change(record, "container", "C-1", thaws=before, thaws_most="3")
    found = planning.explain(site.acting(record), site.PLAN)
    assert any("thawed" in s for s in found.stops) == stops


def test_each_prep_that_brings_a_container_in_counts_as_one_thaw(
    record: Record, clock: site.TestClock
) -> None:
    change(record, "container", "C-1", thaws="1", thaws_most="3")
    guide = site.guide(record, site.planned(record), clock)
    assert "time 2 of 3" in " ".join(a.text for a in guide.state.steps[0].acts)
    assert lots.thawed(record, "C-1") == 1
    walk(guide, clock, "open", "weigh_solid")
    assert lots.thawed(record, "C-1") == 2


# ---- gloves ----


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


# ---- tare sets ----


@pytest.mark.parametrize(("off_mg", "fits"), [(4.0, True), (6.0, False)])
def test_a_vessel_that_is_off_its_tare_set_is_not_taken_for_it(
    record: Record, clock: site.TestClock, off_mg: float, fits: bool
) -> None:
    change(record, "vessel", "V-17", tare_set="T-1", tared="12.03452 g", tared_on="2026-02-27")
    state = record.prep_state(site.planned(record))
    act = next(a for step in state.steps for a in step.acts if a.what == "vessel")
    assert pan.expectation(state, act).holds(12034.52 + off_mg) == fits
    assert pan.expectation(state, act).holds(12034.52 - off_mg) == fits


# ---- labels at every act ----


@pytest.mark.parametrize("by_number", [False, True])
@pytest.mark.parametrize(
    ("label", "says", "right"),
    [
        ("V-17", "Right: V-17 is a vessel, vial 20 mL", True),
        ("C-1", "Right: C-1 is potassium dichromate, lot KD-2", True),
        ("KD-2", "Right lot: KD-2 is a lot of potassium dichromate; the container of this step is C-1", True),
        ("V-18", "Wrong label: V-18 is a vessel, vial 50 mL. This step names C-1 and V-17", False),
        ("WB-1", "Wrong label: WB-1 is water, lot W-3", False),
        ("W-3", "Wrong label: W-3 is a lot of water", False),
    ],
)
def test_a_label_scanned_at_any_act_is_told_for_what_it_is_and_does_nothing(
    record: Record, clock: site.TestClock, label: str, says: str, right: bool, by_number: bool
) -> None:
    """At the opening a scanned line comes by itself; where a reading is asked for, it comes as one."""
    site.put(record, "vessel", {"id": "V-18", "name": "vial 50 mL", "capacity": "50 mL"})
    guide = site.guide(record, site.planned(record), clock)
    walk(guide, clock, "dose" if by_number else "open", "weigh_solid")
    before = record.head()
    guide.take(keys.Typed(label) if by_number else keys.Scanned(label))
    assert says in guide.said
    assert guide.refused != right
    assert record.head() == before
    assert guide.typed_reading == ""


@pytest.mark.parametrize(
    ("label", "says"),
    [("KD-2", "KD-2 is a lot of potassium dichromate"), ("V-17", "V-17 is a vessel, vial 20 mL")],
)
def test_at_the_comparison_a_lot_or_a_vessel_does_not_stand_for_the_container(
    record: Record, clock: site.TestClock, label: str, says: str
) -> None:
    guide = at_compare(record, clock)
    before = record.head()
    guide.take(keys.Scanned(label))
    assert guide.said == f"{says}: scan the label of container C-1."
    assert record.head() == before


def test_a_wedge_at_the_screen_s_keys_selects_the_container_by_its_label_alone(
    record: Record, clock: site.TestClock
) -> None:
    guide = at_compare(record, clock)
    machine = keys.KeyMachine()
    machine.expect(guide.expect())
    for n, key in enumerate((*"C-1", "enter")):
        for intent in machine.feed(key, 10.0 + n / 500):
            guide.take(intent)
    assert guide.state.answers["0/compare"] == "scanned C-1"


# ---- the foot switch ----


def test_between_acknowledgements_choices_and_told_numbers_a_foot_switch_is_enough(
    record: Record, clock: site.TestClock
) -> None:
    """Every other act of a whole prep on a live balance takes Enter alone, while another hand doses."""
    guide = site.guide(record, site.planned(record), clock)
    machine = keys.KeyMachine()
    player = Player(guide, time=clock.time, chance=Random(3), show=lambda view: None)
    by_foot = 0
    while not guide.finished:
        clock.time.pass_(2.0)
        for _ in range(20):
            clock.time.pass_(0.25)
            guide.poll()
        mode = guide.expect()
        act = guide.state.act
        dosing = act is not None and act.kind == ActKind.DOSE and not isinstance(player._portion(), keys.Act)
        told = isinstance(mode, keys.Number) and not mode.live
        if isinstance(mode, keys.Page | keys.Choose) or told or (dosing and not guide.on_page):
            player.turn()
            continue
        machine.expect(mode)
        (intent,) = machine.press("enter", clock.time())
        guide.take(intent)
        by_foot += 1
    assert by_foot > 20
    assert guide.state.result
