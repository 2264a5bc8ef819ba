"""The fold of a prep's entries: what is done, open, owed, in the vessel."""

import pytest

from store import events as ev
from store.model.words import PrepStatus
from store.procedure.standing import Standing, standing
from tests.store.history import PREP, STEPS, History


@pytest.fixture
def history() -> History:
    return History()


def at_weighing(history: History) -> History:
    history.read()
    history.add(ev.StepDone(prep=PREP, step=0))
    return history


def test_the_open_act_is_the_first_one_not_done(history: History) -> None:
    assert history.state().act == STEPS[0].acts[0]
    at_weighing(history).open()
    found = history.state().act
    assert found is not None
    assert found.key == "dose"


def test_a_reading_outside_its_limit_is_kept_but_does_not_end_the_act(history: History) -> None:
    history.read(within=False)
    state = history.state()
    assert state.reads[0].within is False
    assert state.act == STEPS[0].acts[0]


def test_a_reading_let_through_ends_the_act(history: History) -> None:
    history.read(within=False, let_through=({"second": "so-1", "reason": "r", "what": []},))
    assert history.state().act is None


def test_what_is_open_owes_a_note_until_it_is_written(history: History) -> None:
    opened = at_weighing(history).open()
    assert [h.entry for h in history.state().owed] == [opened]
    history.dose("10", net="10", ends=True)
    history.add(ev.Closed(prep=PREP, step=1, act="close", opened=opened, open_s="42.0"))
    state = history.state()
    assert not state.open_handlings
    assert [h.entry for h in state.owed] == [opened]
    history.add(
        ev.ExposureNoted(
            prep=PREP, step=1, act="note", handlings=(opened,), enclosure="E-1", gloves="nitrile"
        )
    )
    assert history.state().owed == ()
    assert history.state().handlings[0].open_s == 42.0


def test_closing_before_its_turn_asks_for_the_opening_again(history: History) -> None:
    opened = at_weighing(history).open()
    history.dose("4", net="4")
    history.add(ev.Closed(prep=PREP, step=1, act="open", opened=opened, open_s="10", estimated=True))
    found = history.state().act
    assert found is not None
    assert found.key == "open"
    assert history.state().total_mg("solid") == 4.0


def test_a_portion_does_not_end_the_dosing(history: History) -> None:
    at_weighing(history).open()
    history.dose("4", net="4")
    assert history.state().act is not None
    assert history.state().act.key == "dose"  # type: ignore[union-attr]
    history.dose("10", net="6", ends=True)
    assert history.state().act.key == "close"  # type: ignore[union-attr]


def test_a_corrected_portion_moves_the_next_nets_but_not_the_exposure(history: History) -> None:
    opened = at_weighing(history).open()
    first = history.dose("4", net="4")
    history.dose("10", net="6", ends=True)
    history.add(
        ev.Corrected(prep=PREP, entry=first, shown="5 mg", net_mg="5", total_mg="5", reason="misread")
    )
    state = history.state()
    assert [d.net_mg for d in state.doses] == [5.0, 5.0]
    assert state.total_mg("solid") == 10.0
    assert [h.entry for h in state.handlings] == [opened]


def test_a_discarded_dose_leaves_the_vessel_but_not_the_exposure(history: History) -> None:
    at_weighing(history).open()
    dose = history.dose("10", net="10", ends=True)
    history.add(ev.Discarded(prep=PREP, entry=dose, reason="spilled"))
    state = history.state()
    assert state.total_mg("solid") == 0.0
    assert state.doses[0].state == "discarded"
    assert len(state.handlings) == 1


def test_what_never_happened_leaves_the_totals_and_stays_on_the_page(history: History) -> None:
    at_weighing(history).open()
    first = history.dose("4", net="4")
    history.dose("10", net="6", ends=True)
    history.add(ev.NeverHappened(prep=PREP, entry=first, second="so-1", reason="typed twice"))
    state = history.state()
    assert [d.state for d in state.doses] == ["never happened", "stands"]
    assert state.doses[1].net_mg == 10.0


def test_going_back_asks_the_acts_again_and_keeps_the_doses(history: History) -> None:
    at_weighing(history).open()
    history.dose("10", net="10", ends=True)
    history.add(ev.WentBack(prep=PREP, step=0, act="", reason="new tare"))
    state = history.state()
    assert (state.step, state.act) == (0, STEPS[0].acts[0])
    assert state.total_mg("solid") == 10.0


def test_a_correction_after_closing_marks_the_prep_stale(history: History) -> None:
    at_weighing(history).open()
    dose = history.dose("10", net="10", ends=True)
    history.add(ev.PrepClosed(prep=PREP, result={}, lot={"id": "S-1"}, container={}, label=""))
    assert history.state().stale == ""
    history.add(ev.Corrected(prep=PREP, entry=dose, shown="9 mg", net_mg="9", total_mg="9", reason="misread"))
    assert history.state().status == PrepStatus.CLOSED
    assert "corrected" in history.state().stale


def ask(history: History, *, person: str = "op-1", digest: str = "d1", later_s: float = 1.0) -> Standing:
    return standing(history.state(), person=person, digest=digest, now=history.now(later_s), break_minutes=15)


def test_an_acknowledgement_stands_for_this_person_this_text_this_step(history: History) -> None:
    assert ask(history) == Standing.PAGE
    history.ack()
    assert ask(history) == Standing.STANDS
    assert ask(history, person="op-2") == Standing.PAGE
    assert ask(history, digest="d2") == Standing.PAGE


def test_a_break_asks_in_full_again_one_second_over_but_not_one_under(history: History) -> None:
    history.ack()
    assert ask(history, later_s=15 * 60 - 1) == Standing.STANDS
    assert ask(history, later_s=15 * 60 + 1) == Standing.PAGE


def test_no_break_counts_while_something_is_open(history: History) -> None:
    at_weighing(history).ack()
    history.open()
    assert ask(history, later_s=15 * 60 + 1) == Standing.STANDS


@pytest.mark.parametrize(
    "event",
    [
        ev.Resumed(prep=PREP, why="restart"),
        ev.IncidentNoted(prep=PREP, what="spill", note="n"),
        ev.WentBack(prep=PREP, step=0, act="", reason="r"),
    ],
)
def test_an_interruption_an_incident_or_a_step_back_asks_in_full_again(
    history: History, event: ev.Event
) -> None:
    history.ack()
    history.add(event)
    assert ask(history) == Standing.PAGE


def test_an_unchanged_text_for_the_next_step_of_a_kind_is_short(history: History) -> None:
    opened = at_weighing(history).ack() and history.open()
    history.dose("10", net="10", ends=True)
    history.add(ev.Closed(prep=PREP, step=1, act="close", opened=opened, open_s="1"))
    history.add(ev.StepDone(prep=PREP, step=1))
    assert ask(history) == Standing.SHORT


def test_another_kind_of_step_asks_in_full(history: History) -> None:
    history.ack()
    at_weighing(history)
    assert ask(history) == Standing.PAGE
