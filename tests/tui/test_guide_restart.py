"""Killed at any act of a prep, it goes on to its end; and what an interruption leaves open is bridged."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from store.model.prep import Plan
from store.model.words import PrepStatus
from tests import site
from tests.tui import audit
from tests.tui.prepared import Moment, moments, opened
from tui.guide import keys
from tui.guide.guide import Guide
from tui.guide.player import Player

SOLVENT_FIRST = replace(site.PLAN, recipe="solution, solvent first")


class Desk:
    """A guide at a moment of a prep, and the player beside it."""

    def __init__(self, moment: Moment, folder: Path) -> None:
        self.clock = moment.clock()
        self.record = opened(moment.copy(folder / "r.tarebook"), self.clock)
        self.prep = moment.prep
        self.restart()

    def restart(self, *, live: bool = True) -> None:
        self.guide: Guide = site.guide(self.record, self.prep, self.clock, live=live)
        self.player = Player(self.guide, time=self.clock.time, chance=Random(3), show=lambda _: None)

    def to_the_act(self) -> None:
        """Read the page and answer what is asked, up to the open act."""
        while self.guide.on_page or self.guide.asks:
            self.player.turn()

    def to_step(self, step: int) -> None:
        self.player.play(until=lambda guide: guide.state.step >= step)

    def to_the_dose(self) -> None:
        self.player.play(
            until=lambda g: g.state.act is not None and g.state.act.key == "dose" and not g.on_page
        )

    def to_the_end(self, turns: int = 400) -> None:
        for _ in range(turns):
            if self.guide.finished:
                break
            self.player.turn()
        assert self.guide.state.status == PrepStatus.CLOSED, self.guide.view()
        assert audit.of_prep(self.record, self.prep).faults == []

    def back(self, way: str, *answers: str) -> None:
        """Take the way back whose words hold `way`; answers are choices by their words, or typed."""
        self.guide.take(keys.Back())
        for answer in (way, *answers):
            choices = self.guide.asks[-1].choices
            found = [n for n, choice in enumerate(choices, 1) if answer in choice]
            self.guide.take(keys.Chosen(found[0]) if found else keys.Typed(answer))


@pytest.fixture
def desk(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Desk]:
    plan, name = request.param
    made = Desk(moments(plan)[name], tmp_path)
    yield made
    made.record.close()


def at(*names: str, plan: Plan = site.PLAN) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("desk", [(plan, n) for n in names], ids=names, indirect=True)


@pytest.mark.parametrize("plan", [site.PLAN, SOLVENT_FIRST], ids=["solid first", "solvent first"])
def test_killed_at_any_act_a_prep_goes_on_to_its_end_with_every_dose(tmp_path: Path, plan: Plan) -> None:
    for number, moment in enumerate(moments(plan).values()):
        folder = tmp_path / str(number)
        folder.mkdir()
        desk = Desk(moment, folder)
        before = audit.of_prep(desk.record, desk.prep)
        desk.to_the_act()
        assert audit.of_prep(desk.record, desk.prep).standing == before.standing, moment.name
        assert desk.guide.state.step == moment.step, moment.name
        if moment.step < 5:
            desk.to_step(moment.step + 1)
        else:
            desk.to_the_end()
        found = audit.of_prep(desk.record, desk.prep)
        assert found.faults == [], moment.name
        assert found.standing[: len(before.standing)] == before.standing, moment.name
        desk.record.close()


@at("3-close", "3-return", "3-note", "4-open", "5-look", "10-end")
def test_a_dose_that_never_happened_is_dosed_again_before_the_prep_goes_on(desk: Desk) -> None:
    desk.to_the_act()
    note = ["nothing unusual"] if desk.guide.state.owed and desk.guide.state.step > 3 else []
    desk.back("never happened", *note, "so-1", site.PINS["so-1"], "repeated")
    content = "solid" if not desk.guide.state.in_vessel("solid") else "solvent"
    assert not desk.guide.state.in_vessel(content)
    desk.to_the_end()
    assert len(desk.guide.state.in_vessel("solid")) == len(desk.guide.state.in_vessel("solvent")) == 1


@at("3-note", "4-return", "5-look")
def test_what_is_discarded_is_made_anew_after_the_note_that_is_owed(desk: Desk) -> None:
    desk.to_the_act()
    owed = bool(desk.guide.state.owed)
    desk.back("discard", *(["nothing unusual"] if owed else []), "cannot be trusted")
    assert desk.guide.state.current is not None
    assert (desk.guide.state.current.name, desk.guide.state.owed) == ("tare", ())
    desk.to_the_end()


@at("10-end")
def test_at_the_end_the_acts_of_no_step_are_done_again(desk: Desk) -> None:
    desk.guide.take(keys.Back())
    assert not any("again" in choice for choice in desk.guide.asks[-1].choices)


@at("3-close")
@pytest.mark.parametrize(("shown", "taken"), [("0.00", False), ("-0.01", False), ("0.01", True)])
def test_a_dose_is_not_corrected_to_nothing(desk: Desk, shown: str, taken: bool) -> None:
    desk.to_the_act()
    # What is left is below the minimum weight, which takes a second person as it does at the dose.
    second = ("so-1", site.PINS["so-1"], "checked together, accepted for this prep") if taken else ()
    desk.back("misread", shown, "misread", *second)
    assert (desk.guide.state.total_mg("solid") == 0.01) == taken
    assert bool(desk.guide.said) != taken


@at("2-tared")
def test_nets_count_from_a_tare_that_a_second_person_let_stand(desk: Desk) -> None:
    desk.restart(live=False)
    desk.to_the_act()
    desk.guide.take(keys.Typed("0.50"))
    desk.guide.take(keys.Chosen(2))
    for answer in ("so-1", site.PINS["so-1"], "repeated"):
        found = [n for n, choice in enumerate(desk.guide.asks[-1].choices, 1) if answer in choice]
        desk.guide.take(keys.Chosen(found[0]) if found else keys.Typed(answer))
    desk.player.play(
        until=lambda guide: (
            guide.state.act is not None and guide.state.act.key == "dose" and not guide.on_page
        )
    )
    for typed in ("10.52", ""):
        desk.guide.take(keys.Typed(typed))
    assert desk.guide.state.total_mg("solid") == pytest.approx(10.02)
    assert audit.of_prep(desk.record, desk.prep).faults == []


@at("3-dose")
def test_powder_that_fell_before_the_interruption_and_was_not_accepted_still_counts(desk: Desk) -> None:
    desk.restart(live=False)
    desk.to_the_act()
    guide = desk.guide
    desk.to_the_dose()
    for intent in (keys.Typed("4.00"), keys.Typed(""), keys.Chosen(3)):
        guide.take(intent)
    assert guide.state.total_mg("solid") == 4.0

    desk.restart(live=False)
    guide = desk.guide
    desk.to_the_act()
    guide.take(keys.Typed("6.50"))
    assert "It should be 4.00" in " ".join(guide.view().body)
    guide.take(keys.Chosen(2))
    desk.to_the_dose()
    for intent in (keys.Typed("9.90"), keys.Typed("")):
        guide.take(intent)
    assert [d.shown for d in guide.state.doses] == ["4.00 mg", "9.90 mg"]
    assert guide.state.total_mg("solid") == pytest.approx(9.9)
    assert audit.of_prep(desk.record, desk.prep).faults == []


@at("3-dose")
def test_where_the_display_does_not_count_on_the_vessel_is_tared_with_what_it_holds(desk: Desk) -> None:
    desk.restart(live=False)
    desk.to_the_act()
    desk.to_the_dose()
    for intent in (keys.Typed("4.00"), keys.Typed(""), keys.Chosen(3)):
        desk.guide.take(intent)
    desk.restart(live=False)
    guide = desk.guide
    desk.to_the_act()
    guide.take(keys.Typed("-3.00"))
    guide.take(keys.Chosen(3))
    assert "exposure note" in " ".join(guide.view().body)
    guide.take(keys.Chosen(1))
    desk.to_the_act()
    assert guide.state.act is not None
    assert (guide.state.act.key, guide.state.total_mg("solid")) == ("tared", 4.0)
    guide.take(keys.Typed("0.00"))
    desk.to_the_dose()
    for intent in (keys.Typed("6.00"), keys.Typed("")):
        guide.take(intent)
    assert guide.state.total_mg("solid") == pytest.approx(10.0)
    assert audit.of_prep(desk.record, desk.prep).faults == []


@at("3-dose")
@pytest.mark.parametrize(("shown", "taken"), [("0.00", False), ("-5.00", False), ("0.01", True)])
def test_a_portion_of_nothing_is_no_dose(desk: Desk, shown: str, taken: bool) -> None:
    desk.restart(live=False)
    desk.to_the_act()
    desk.to_the_dose()
    for intent in (keys.Typed(shown), keys.Typed(""), keys.Chosen(3)):
        desk.guide.take(intent)
    assert bool(desk.guide.state.doses) == taken
