"""What a step says of the empty pan follows from how the vessel was tared: a tared vessel leaves no zero."""

from dataclasses import replace
from random import Random

import pytest

from store.model.words import ActKind
from store.procedure import pan
from store.queries import registers
from store.record.record import Record
from tests import racks, site
from tui.guide.guide import Guide
from tui.guide.player import Player


def at_return(guide: Guide, clock: site.TestClock) -> str:
    """Walk to the first empty pan after a dose, and give what the step says of it."""

    def there(g: Guide) -> bool:
        return not g.on_page and g.state.act is not None and g.state.act.what == "return"

    Player(guide, time=clock.time, chance=Random(3), show=None).play(until=there)
    return " ".join(guide.view().body)


def vessel_mg(guide: Guide) -> float:
    return pan.vessel_mg(guide.state.here)


def test_a_vessel_that_was_tared_away_leaves_its_mass_below_zero_and_the_step_says_so(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    said = at_return(guide, clock)
    assert f"The display should show -{vessel_mg(guide):.2f} mg within " in said
    assert "since the vessel was tared away" in said
    assert "zero" not in said


def test_a_balance_that_shows_gross_comes_back_to_zero_and_the_step_says_so(
    record: Record, clock: site.TestClock
) -> None:
    site.put(record, "balance", {**registers.body(record, "balance", "B-1"), "shows": "gross"})
    said = at_return(site.guide(record, site.planned(record), clock), clock)
    assert "The display should show 0.00 mg within " in said
    assert "tared away" not in said


def test_a_rack_weighed_by_its_grosses_comes_back_to_zero(record: Record, clock: site.TestClock) -> None:
    said = at_return(racks.player(record, racks.planned(record, 3), clock).guide, clock)
    assert "The display should show 0.00 mg within " in said


@pytest.mark.parametrize("words", pan.OF_ITS_ZERO)
def test_a_plan_of_before_says_it_as_well(record: Record, clock: site.TestClock, words: str) -> None:
    guide = site.guide(record, site.planned(record), clock)
    at_return(guide, clock)
    act = guide.state.act
    assert act is not None
    old = replace(act, text=f"Take the vessel off the pan, doors closed{words}")
    assert pan.told(guide.state.here, old) == pan.told(guide.state.here, act)


def test_a_vessel_weighed_again_with_its_content_is_not_called_empty(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    before = guide.state.step_of(ActKind.READ, "vessel")
    at_return(guide, clock)
    tare = next(a for s in guide.state.steps for a in s.acts if a.what == "vessel")
    assert before is None or "the empty vessel" in tare.text
    assert "empty vessel" not in pan.told(guide.state.here, tare)
    assert pan.told(guide.state.here, tare).endswith("What is in it stays in it.")
