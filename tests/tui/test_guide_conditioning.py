"""What a container needs before it is opened: warmth, mixing, the dark."""

from typing import Any

import pytest

from store.actions import planning
from store.queries import lots
from store.record.record import Record
from tests import site
from tests.tui.walking import change, walk
from tui.guide import keys


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
