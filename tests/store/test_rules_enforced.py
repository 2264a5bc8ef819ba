"""Local rules that demand a second person, a checklist, a mass or minutes: enforced where it is done."""

from dataclasses import replace
from random import Random
from typing import Any

import pytest

from store.actions import notes, planning, rules_now, steps
from store.actions.acting import second_person
from store.errors import BadInput, NeedsSecondPerson, Refused
from store.queries import registers
from store.record.record import Record
from tests import site
from tests.store.sample_site import refused
from tests.tui import desks
from tui.guide import keys
from tui.guide.guide import Guide
from tui.guide.player import Player


def rule(record: Record, **demands: Any) -> None:
    row = {"id": "7", "text": "Cr(VI).", "since": "2026-01-01", "substances": ["K2CR2O7"]}
    site.put(record, "rule", {**row, "steps": ["weigh_solid"], **demands})


def key_of(guide: Guide) -> str:
    return guide.state.act.key if guide.state.act is not None else ""


def at_opening(record: Record, clock: site.TestClock) -> Guide:
    """Play a prep until the container of the solid is to be opened."""
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    Player(guide, time=clock.time, chance=Random(3), show=lambda _: None).play(
        until=lambda g: not g.on_page and g.state.step == 3 and key_of(g) == "open"
    )
    return guide


def test_a_second_person_signs_with_their_pin_before_the_container_is_opened(
    record: Record, clock: site.TestClock
) -> None:
    rule(record, second_person=True)
    guide = at_opening(record, clock)
    guide.take(keys.Act())
    assert not guide.something_open
    assert "local rule 7 (since 2026-01-01) asks for a second person" in " ".join(guide.asks[-1].text)
    guide.take(keys.Chosen(guide.asks[-1].choices.index("so-1") + 1))
    guide.take(keys.Typed("0000"))
    guide.take(keys.Chosen(1))
    assert not guide.something_open, "a wrong PIN opens nothing"
    clock.time.pass_(60)
    guide.take(keys.Act())
    guide.take(keys.Chosen(guide.asks[-1].choices.index("so-1") + 1))
    guide.take(keys.Typed(site.PINS["so-1"]))
    guide.take(keys.Chosen(1))
    assert guide.something_open
    assert guide.state.let_through[-1]["second"] == "so-1"


def test_where_nobody_is_let_through_a_rule_still_has_its_second_person(
    record: Record, clock: site.TestClock
) -> None:
    site.put(record, "setting", {"id": "second_person", "value": "no"})
    rule(record, second_person=True)
    guide = at_opening(record, clock)
    guide.take(keys.Act())
    assert "asks for a second person" in " ".join(guide.asks[-1].text)


def test_after_a_step_back_the_second_person_is_asked_again(record: Record, clock: site.TestClock) -> None:
    rule(record, second_person=True)
    guide = at_opening(record, clock)
    with pytest.raises(NeedsSecondPerson) as stopped:
        steps.open_up(guide.acting, guide.prep, seen=guide.state.last_entry)
    let = second_person(
        guide.acting, second="so-1", pin="3333", reason="checked together", what=stopped.value.what
    )
    steps.open_up(guide.acting, guide.prep, seen=guide.state.last_entry, let_through=let)
    seen = record.last_entry(f"prep:{guide.prep}")
    steps.close_up(guide.acting, guide.prep, seen=seen, open_s=3.0)
    seen = record.last_entry(f"prep:{guide.prep}")
    notes.note_exposure(guide.acting, guide.prep, seen=seen, gloves="nitrile")
    seen = record.last_entry(f"prep:{guide.prep}")
    steps.go_back(guide.acting, guide.prep, seen=seen, step=3, reason="again")
    state = record.prep_state(guide.prep)
    found = rules_now.against(guide.acting, replace(state, done=state.done | {(3, "pressure")}))
    assert [f.group for f in found] == ["demand"]
    assert found[0].what not in stopped.value.what


def test_a_checklist_is_told_item_by_item_and_the_record_keeps_what_was_said(
    record: Record, clock: site.TestClock
) -> None:
    rule(record, checklist=["pressure shown [Pa]", "cleaning liquid: water / 2-propanol 70 %", "lid bolted"])
    guide = at_opening(record, clock)
    with pytest.raises(Refused, match="pressure shown"):
        steps.open_up(guide.acting, guide.prep, seen=guide.state.last_entry)
    guide.take(keys.Typed("nonsense"))
    assert "number" in guide.said
    guide.take(keys.Typed("-85"))
    guide.take(keys.Chosen(2))
    guide.take(keys.Chosen(2))
    assert "lid bolted" in guide.said, "not done: nothing goes on"
    guide.take(keys.Act())
    assert not guide.something_open
    guide.take(keys.Chosen(1))
    guide.take(keys.Act())
    assert guide.something_open
    told = [a for k, a in guide.state.answers.items() if "rule:7" in k]
    assert told == ["pressure shown: -85 Pa", "cleaning liquid: 2-propanol 70 %", "lid bolted: done"]


def test_a_prep_with_a_checklist_is_played_to_its_end(record: Record, clock: site.TestClock) -> None:
    rule(record, checklist=["pressure shown [Pa]", "lid bolted"], steps=[])
    prep = desks.play(record, clock)
    state = record.prep_state(prep)
    assert state.status == "closed"
    assert {int(k.split("/")[0]) for k in state.answers if "rule:7" in k} == {0, 3, 4, 7, 8, 9}


@pytest.mark.parametrize(("limit", "stops"), [("5 g", False), ("4.999 g", True)])
def test_a_mass_in_the_enclosure_is_held_against_the_container_brought_in(
    record: Record, clock: site.TestClock, limit: str, stops: bool
) -> None:
    rule(record, mass_limit=limit, steps=[])
    assert any("allows" in s for s in planning.explain(site.acting(record), site.PLAN).stops) == stops


def test_what_another_open_prep_brought_in_counts_until_it_is_brought_out(
    record: Record, clock: site.TestClock
) -> None:
    site.put(record, "container", {"id": "C-2", "lot": "KD-2", "content": "5 g"})
    at_opening(record, clock)
    rule(record, mass_limit="9.9 g", steps=[])
    other = replace(site.PLAN, container="C-2")
    stops = planning.explain(site.acting(record), other).stops
    assert any("10 g (C-2, C-1)" in s for s in stops), stops
    desks.play_on(site.guide(record, "P-7F3A-0001", clock), clock)
    assert not planning.explain(site.acting(record), other).stops


def test_a_container_of_unknown_content_stands_against_a_limit_of_mass(record: Record) -> None:
    site.put(record, "container", {"id": "C-1", "lot": "KD-2"})
    rule(record, mass_limit="100 g", steps=[])
    assert any("does not know" in s for s in planning.explain(site.acting(record), site.PLAN).stops)


def test_the_mass_is_held_again_at_the_transfer_in(record: Record, clock: site.TestClock) -> None:
    prep = site.planned(record)
    rule(record, mass_limit="1 g", steps=[])
    guide = site.guide(record, prep, clock)
    Player(guide, time=clock.time, chance=Random(3), show=lambda _: None).play(
        until=lambda g: not g.on_page and key_of(g) == "in"
    )
    guide.take(keys.Act())
    assert "allows 1 g of K2CR2O7 in E-1" in " ".join(guide.asks[-1].text)
    assert not guide.state.handlings


@pytest.mark.parametrize(("minutes", "stops"), [("30", False), ("1", True)])
def test_minutes_open_of_a_rule_are_those_of_its_substances_today(
    record: Record, clock: site.TestClock, minutes: str, stops: bool
) -> None:
    desks.play(record, clock)
    rule(record, open_minutes=minutes)
    guide = at_opening(record, clock)
    used_s = rules_now.open_s(record, rules_now.of_step(record, guide.state)[0], "op-1")
    assert 60 < used_s < 1800
    assert rules_now.left_s(record, guide.state, "op-1") == 60 * float(minutes) - used_s
    guide.take(keys.Act())
    assert guide.something_open != stops


def test_a_limit_that_the_site_lets_nobody_through_is_final(record: Record) -> None:
    site.put(record, "setting", {"id": "never_let_through", "value": "rule"})
    rule(record, mass_limit="1 g", steps=[])
    with pytest.raises(Refused, match="refused"):
        planning.write(site.acting(record), site.PLAN)


@pytest.mark.parametrize(("since", "text"), [("2026-03-02", "new"), ("2026-03-03", "old")])
def test_a_version_to_come_leaves_the_one_before_in_force(record: Record, since: str, text: str) -> None:
    for words, day in (("old", "2026-01-01"), ("new", since)):
        site.put(record, "rule", {"id": "7", "text": words, "since": day})
    found = registers.rules_for(record, step="weigh_solid", substances=("K2CR2O7",), families=())
    assert [r.text for r in found] == [text]


def test_a_plan_says_beforehand_what_rules_will_demand(record: Record) -> None:
    rule(record, second_person=True, checklist=["lid bolted"])
    found = planning.explain(site.acting(record), site.PLAN)
    assert not found.stops
    assert any("local rule 7 demands a second person" in f.what for f in found.findings)


def test_a_demand_is_no_field_for_a_step_that_opens_nothing(record: Record) -> None:
    site.put(record, "rule", {"id": "7", "text": "t", "since": "2026-01-01"})
    acting = site.acting(record, "so-1")
    later = {"since": "2026-02-01"}
    assert refused(acting, "rule", "7", **later, steps=("dissolve",), second_person="yes") == "steps"
    assert refused(acting, "rule", "7", second_person="yes") == "since"
    assert refused(acting, "rule", "7", **later, checklist=("pressure [Pa",)) == "checklist"
    assert refused(acting, "rule", "7", **later, open_minutes="0") == "open_minutes"


def test_nothing_is_told_that_is_not_asked(record: Record, clock: site.TestClock) -> None:
    rule(record, checklist=["lid bolted"])
    guide = at_opening(record, clock)
    with pytest.raises(Refused, match="not asked"):
        steps.tell_rule(
            guide.acting, guide.prep, seen=guide.state.last_entry, key="rule:8:x:0", answer="done"
        )
    with pytest.raises(BadInput):
        rules_now.answer_of(replace(guide.untold[0], kind="tell"), "x")  # type: ignore[arg-type]
