"""Grain or drop: the keys and the choices of a dose follow the form of what is dosed."""

from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from tests import site
from tests.tui import typed_hand
from tui.guide import forms, texts
from tui.guide.player import Player


@pytest.mark.parametrize(
    ("step", "least", "unusual"),
    [
        ("weigh_solid", "a grain", texts.UNUSUAL_POWDER),
        ("add_solvent", "a drop", texts.UNUSUAL_LIQUID),
    ],
)
def test_a_powder_falls_in_grains_and_a_solvent_in_drops(
    tmp_path: Path, step: str, least: str, unusual: tuple[str, ...]
) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        guide = site.guide(record, site.planned(record), clock)
        hand = Player(guide, time=clock.time, chance=Random(3), show=lambda view: None)
        hand.play(until=lambda guide: typed_hand.at(guide, "dose", step))
        view = guide.view()
        assert ("3", least) in view.keys
        assert view.live is not None
        aim = view.live.aim.removeprefix("aim ")
        assert view.body[0].endswith(f" Display: to {aim}.")
        assert forms.unusual(guide.state) == unusual
        assert forms.rest(guide.state) == {"a grain": "powder", "a drop": "a drop"}[least]


def test_a_liquid_substance_is_dosed_in_drops_too(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        state = record.prep_state(site.planned(record))
        held = state.basis["substances"]
        lot = state.basis["lot"]["substance"]
        for form, least in (("powder", "a grain"), ("pellets", "a grain"), ("liquid", "a drop")):
            of = {**held, lot: {**held[lot], "form": form}}
            poured = replace(state, basis={**state.basis, "substances": of})
            assert forms.least(poured, "solid") == least
            said = forms.take_reasons(poured, "solid")
            assert any("powder" in reason for reason in said) is (least == "a grain")
