"""A tare set of the register held against the display, and a prep taken by a foot switch."""

from random import Random

import pytest

from store.model.words import ActKind
from store.procedure import pan
from store.record.record import Record
from tests import site
from tests.tui.walking import change
from tui.guide import keys
from tui.guide.player import Player


@pytest.mark.parametrize(("off_mg", "fits"), [(4.0, True), (6.0, False)])
def test_a_vessel_that_is_off_its_tare_set_is_not_taken_for_it(
    record: Record, clock: site.TestClock, off_mg: float, fits: bool
) -> None:
    change(record, "vessel", "V-17", tare_set="T-1", tared="12.03452 g", tared_on="2026-02-27")
    state = record.prep_state(site.planned(record))
    act = next(a for step in state.steps for a in step.acts if a.what == "vessel")
    assert pan.expectation(state, act).holds(12034.52 + off_mg) == fits
    assert pan.expectation(state, act).holds(12034.52 - off_mg) == fits


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
