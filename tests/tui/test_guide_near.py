"""Who was near an incident is asked in the prep too, after the entry is written."""

from dataclasses import replace

import pytest

from store.model.words import ActKind
from store.queries import incidents
from store.record.record import Record
from tests import site
from tests.tui.test_guide_walk import walk_to
from tui.guide import keys


@pytest.mark.parametrize("goes_on", ["enter", "back", "away"])
def test_an_incident_is_written_before_it_is_asked_who_was_near(
    record: Record, clock: site.TestClock, goes_on: str
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    walk_to(guide, clock, ActKind.OPEN, "container")
    guide.take(keys.Note())
    guide.take(keys.Chosen(1))
    guide.take(keys.Chosen(1))
    (noted,) = incidents.standing_open(record)
    assert noted.present == ("op-1",)
    assert guide.view().body == ("The incident is written. Who else was near?",)
    if goes_on != "away":
        guide.take(keys.Back() if goes_on == "back" else keys.Typed(""))
        assert guide.asks == []
        assert guide.on_page
    assert incidents.standing_open(record) == (noted,)


def test_who_was_near_an_incident_is_chosen_by_digits(record: Record, clock: site.TestClock) -> None:
    guide = site.guide(record, site.planned(record), clock)
    walk_to(guide, clock, ActKind.OPEN, "container")
    guide.take(keys.Note())
    guide.take(keys.Chosen(1))
    guide.take(keys.Chosen(1))
    (before,) = incidents.standing_open(record)
    first, second = guide.asks[-1].choices[:2]
    machine = keys.KeyMachine()
    machine.expect(guide.expect())
    (intent,) = machine.press("2", 1.0)
    guide.take(intent)
    assert second not in guide.asks[-1].choices
    guide.take(keys.Chosen(1))
    guide.take(keys.Chosen(len(guide.asks[-1].choices)))
    assert guide.asks == []
    (noted,) = incidents.standing_open(record)
    assert noted.present == ("op-1", second, first)
    assert replace(noted, present=before.present, detailed=before.detailed) == before
