"""What a reading may not be: over what balance or vessel can bear, and what nobody knows to be steady."""

from random import Random

import pytest

from store.actions import amend
from store.errors import NeedsSecondPerson, NotAllowed
from store.model.words import PrepStatus, StepName
from store.procedure import outcome
from store.queries import log, registers
from store.record.record import Record
from tests import site
from tests.tui import desks, typed_hand
from tui.cli.printing import lines_of
from tui.guide import connected, keys
from tui.guide.guide import Guide
from tui.guide.player import Player


def at_dose(record: Record, clock: site.TestClock, *, step: str = "", live: bool = False) -> Guide:
    """Give the guide of a prep that stands at a dose, typed by hand unless it is live."""
    guide = site.guide(record, site.planned(record), clock)

    def there(g: Guide) -> bool:
        act = g.state.act
        return not g.on_page and act is not None and act.key == "dose" and typed_hand.step_is(g, step)

    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(until=there)
    if not live:
        guide.balance = guide.bench = None
    return guide


def take_dose(guide: Guide, text: str) -> None:
    """Type a dose and take it, with a reason where one is asked."""
    guide.take(keys.Typed(text))
    guide.take(keys.Act())


def last_choices(guide: Guide) -> str:
    return " ".join(guide.asks[-1].text) if guide.asks else ""


# ---- over what balance and vessel bear ----


@pytest.mark.parametrize(("shown", "refused"), [("67965.48", False), ("67965.49", True)])
def test_vessel_and_content_over_the_capacity_of_the_balance_need_a_second_person(
    record: Record, clock: site.TestClock, shown: str, refused: bool
) -> None:
    """The balance weighs up to 80 g; the vessel was read as 12.034 52 g in the tare step."""
    guide = at_dose(record, clock, step=StepName.WEIGH_SOLID)
    vessel = next(r for r in guide.state.reads if r.what == "vessel")
    off = vessel.mass_mg - 12034.52
    text = f"{float(shown) - off:.2f}"
    take_dose(guide, text)
    guide.take(keys.Chosen(2))
    guide.take(keys.Chosen(1))
    assert ("over the capacity of 80 g of B-1" in last_choices(guide)) == refused
    assert bool([d for d in guide.state.doses if d.counts]) != refused


def test_a_portion_that_overloads_the_pan_is_refused_as_well(record: Record, clock: site.TestClock) -> None:
    guide = at_dose(record, clock, step=StepName.WEIGH_SOLID)
    take_dose(guide, "70000.00")
    guide.take(keys.Chosen(3))
    assert "over the capacity" in last_choices(guide)
    assert not guide.state.doses


def test_a_vessel_filled_by_its_solid_has_room_for_no_solvent_and_the_screen_says_so(
    record: Record, clock: site.TestClock
) -> None:
    guide = at_dose(record, clock, step=StepName.WEIGH_SOLID)
    take_dose(guide, "25000.00")
    guide.take(keys.Chosen(2))
    guide.take(keys.Chosen(1))
    window = outcome.window(guide.state, "solvent")
    assert (window.aim_mg, window.half_mg) == (0.0, 0.01)
    assert "no room for solvent" in window.aim_words("mg")
    later = at_dose_of(guide, record, clock, StepName.ADD_SOLVENT)
    later.take(keys.Typed("10.00"))
    view = later.view()
    assert view.live is not None
    assert view.live.halvings.startswith("· ■")


def at_dose_of(guide: Guide, record: Record, clock: site.TestClock, step: str) -> Guide:
    """Walk on by typed readings to the dose of a step."""
    again = site.guide(record, guide.prep, clock, live=False)
    typed_hand.walk(again, clock, until=lambda g: typed_hand.at(g, "dose", step))
    return again


# ---- corrections ----


def test_a_correction_below_the_minimum_weight_asks_for_a_second_person_as_the_dose_did(
    record: Record, clock: site.TestClock
) -> None:
    guide = at_dose(record, clock, step=StepName.WEIGH_SOLID)
    least = outcome.minimum_mg(guide.state.basis)
    take_dose(guide, "10.00")
    assert [d.shown for d in guide.state.doses] == ["10.00 mg"]
    low = f"{least - 0.05:.2f}"
    correct(guide, low)
    assert "below the minimum weight" in last_choices(guide)
    assert guide.state.total_mg("solid") == pytest.approx(10.0)
    guide.take(keys.Chosen(guide.asks[-1].choices.index("so-1") + 1))
    guide.take(keys.Typed("3333"))
    guide.take(keys.Chosen(1))
    assert guide.state.total_mg("solid") == pytest.approx(float(low))
    assert guide.state.let_through[-1]["second"] == "so-1"
    told = " ".join(line.says for line in log.of_subject(record, f"prep:{guide.prep}"))
    assert "so-1" in told


def test_a_correction_above_the_minimum_weight_needs_nobody_else(
    record: Record, clock: site.TestClock
) -> None:
    guide = at_dose(record, clock, step=StepName.WEIGH_SOLID)
    least = outcome.minimum_mg(guide.state.basis)
    take_dose(guide, "10.00")
    correct(guide, f"{least + 0.05:.2f}")
    assert not guide.asks
    assert guide.state.total_mg("solid") == pytest.approx(round(least + 0.05, 2))


def test_a_correction_from_the_desk_cannot_go_round_the_second_person(
    record: Record, clock: site.TestClock
) -> None:
    prep = desks.play(record, clock)
    state = record.prep_state(prep)
    assert state.status == PrepStatus.CLOSED
    solid = next(d for d in state.doses if d.content == "solid")
    who = site.acting(record)
    head = record.head()
    with pytest.raises(NeedsSecondPerson, match="below the minimum weight"):
        amend.correct(
            who, prep, seen=record.last_entry(f"prep:{prep}"), entry=solid.entry,
            text="1.00", reason="misread",
        )  # fmt: skip
    assert record.head() == head


def correct(guide: Guide, text: str) -> None:
    """Correct the last dose."""
    guide.take(keys.Back())
    guide.take(keys.Chosen(next(n for n, c in enumerate(guide.asks[-1].choices, 1) if "misread" in c)))
    guide.take(keys.Typed(text))
    guide.take(keys.Chosen(1))


@pytest.mark.parametrize("text", ["10,0O", "10.0", "", "ten"])
def test_a_correction_that_is_no_reading_of_this_balance_is_refused_before_any_reason_is_asked(
    record: Record, clock: site.TestClock, text: str
) -> None:
    guide = at_dose(record, clock, step=StepName.WEIGH_SOLID)
    take_dose(guide, "10.00")
    guide.take(keys.Back())
    guide.take(keys.Chosen(next(n for n, c in enumerate(guide.asks[-1].choices, 1) if "misread" in c)))
    guide.take(keys.Typed(text))
    assert guide.said
    assert not guide.asks


# ---- typed ----


def test_a_typed_reading_is_called_typed_and_never_steady(record: Record, clock: site.TestClock) -> None:
    guide = at_dose(record, clock, step=StepName.WEIGH_SOLID)
    guide.take(keys.Typed("10.00"))
    view = guide.view()
    assert view.live is not None
    assert (view.live.word, view.live.steady) == ("typed", None)
    said = "\n".join(lines_of(view))
    assert "display 10.00 mg  typed" in said
    assert "steady" not in said.lower()
    assert "if accepted now" in said
    guide.take(keys.Act())
    assert guide.state.doses[-1].source == "typed"


def test_what_is_typed_beside_a_live_display_is_what_is_taken_and_marked_as_typed(
    record: Record, clock: site.TestClock
) -> None:
    guide = at_dose(record, clock, step=StepName.WEIGH_SOLID, live=True)
    guide.poll()
    guide.take(keys.Typed("10.03"))
    view = guide.view()
    assert view.live is not None
    assert (view.live.shown, view.live.word) == ("10.03", "typed")
    guide.take(keys.Back())
    assert guide.typed_reading == ""
    assert not guide.asks
    guide.take(keys.Typed("10.04"))
    guide.take(keys.Act())
    dose = guide.state.doses[-1]
    assert (dose.shown, dose.source) == ("10.04 mg", "typed")


def test_a_wedge_is_named_as_the_source_of_what_it_typed(record: Record, clock: site.TestClock) -> None:
    site.put(record, "balance", {**registers.body(record, "balance", "B-1"), "source": "wedge"})
    guide = at_dose(record, clock, step=StepName.WEIGH_SOLID, live=True)
    from tui.balance.typed import Typed

    guide.balance, guide.bench = Typed("B-1", "wedge"), None
    take_dose(guide, "10.00")
    assert guide.state.doses[-1].source == "wedge"


# ---- who is no operator ----


def test_who_is_no_operator_may_close_what_is_open_but_open_nothing(
    record: Record, clock: site.TestClock
) -> None:
    mine = at_dose(record, clock, step=StepName.WEIGH_SOLID)
    prep = mine.prep
    assert mine.something_open
    with pytest.raises(NotAllowed, match="operator"):
        connected.guide_of(
            site.acting(record, "so-1"), prep, monotonic=clock.time, chance=Random(3)
        )  # a screen or a line prompt never gets so far
    theirs = site.guide(record, prep, clock, person="so-1")
    theirs.take(keys.Chosen(2))  # it was open, I have closed it now
    assert not theirs.something_open
    theirs.take(keys.Acknowledged(theirs.digit))
    before = theirs.state.last_entry
    theirs.take(keys.Act())
    assert "takes the role of operator" in theirs.said
    assert theirs.state.last_entry == before
