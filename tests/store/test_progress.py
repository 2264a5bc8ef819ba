"""The fold of a prep's entries: what is done, open, owed, in the vessel."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from store import events as ev
from store.model.prep import Act, Part, Plan, Step
from store.model.words import ActKind, PrepStatus, StepName
from store.procedure.progress import fold
from store.procedure.standing import Standing, standing
from store.procedure.state import PrepState

PREP = "P-7F3A-0001"
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
PLAN = Plan(
    recipe="solution, solid first", container="C-1", solvent_container="W-1", target="1.000 mg/g",
    amount="10 g", vessel="V-17", balance="B-1", enclosure="E-1",
)  # fmt: skip


def act(key: str, kind: ActKind, what: str = "") -> Act:
    return Act(key=key, kind=kind, text=key, what=what)


STEPS = (
    Step(name=StepName.TARE, acts=(act("vessel", ActKind.READ, "vessel"),)),
    Step(
        name=StepName.WEIGH_SOLID,
        acts=(
            act("open", ActKind.OPEN, "container"),
            act("dose", ActKind.DOSE, "solid"),
            act("close", ActKind.CLOSE, "container"),
            act("note", ActKind.NOTE),
        ),
        container="C-1",
    ),
    Step(name=StepName.WEIGH_SOLID, acts=(act("open", ActKind.OPEN, "container"),), container="C-1"),
)


class History:
    """Entries numbered and timed one after another, a second apart."""

    def __init__(self) -> None:
        self.entries: list[ev.Entry] = []
        self.add(
            ev.Planned(
                prep=PREP, plan={f: getattr(PLAN, f) for f in PLAN.__slots__}, aims={},
                steps=tuple(s.to_body() for s in STEPS), basis={},
            )
        )  # fmt: skip

    def add(self, event: ev.Event, *, person: str = "op-1", after_s: float = 1.0) -> int:
        before = datetime.fromisoformat(self.entries[-1].at) if self.entries else START
        number = len(self.entries) + 1
        self.entries.append(
            ev.Entry(
                entry=number, at=(before + timedelta(seconds=after_s)).isoformat(), offset="+00:00",
                terminal="7F3A", person=person, subject=f"prep:{PREP}", event=event, digest="",
            )
        )  # fmt: skip
        return number

    def state(self) -> PrepState:
        state = None
        for entry in self.entries:
            state = fold(state, entry)
        assert state is not None
        return state

    def now(self, later_s: float = 1.0) -> datetime:
        return datetime.fromisoformat(self.entries[-1].at) + timedelta(seconds=later_s)

    def read(self, act: str = "vessel", **more: Any) -> int:
        return self.add(
            ev.Read(
                prep=PREP, step=0, act=act, what="vessel", balance="B-1", shown="12.000 g",
                mass_mg="12000", **more,
            )
        )  # fmt: skip

    def ack(
        self, digest: str = "d1", *, step: int | None = None, how: str = "page", person: str = "op-1"
    ) -> int:
        number = self.state().step if step is None else step
        return self.add(ev.Acknowledged(prep=PREP, step=number, digest=digest, how=how), person=person)

    def open(self, step: int = 1) -> int:
        return self.add(ev.Opened(prep=PREP, step=step, act="open", what="container", container="C-1"))

    def dose(self, total: str, *, net: str = "0", ends: bool = False, act: str = "dose", **more: Any) -> int:
        return self.add(
            ev.Dosed(
                prep=PREP, step=1, act=act, content="solid", container="C-1", vessel="V-17",
                shown=f"{total} mg", net_mg=net, total_mg=total, ends=ends, **more,
            )
        )  # fmt: skip


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


# ---- several vessels ----


def test_the_first_body_of_a_closed_prep_still_loads() -> None:
    old = {"prep": PREP, "result": {"value": "1.0"}, "lot": {"id": "S-1"}, "container": {}, "label": "L"}
    event = ev.load("prep_closed", 1, old)
    assert isinstance(event, ev.PrepClosed)
    assert (event.lot["id"], event.made) == ("S-1", ())


PARTS = (
    Part(key="1", vessel="V-1", target="1.000 mg/g", amount="10 g", container="C-1"),
    Part(key="2", vessel="V-2", target="1.000 mg/g", amount="10 g", container="C-1"),
)


def rack() -> History:
    """Give a prep that tares two vessels, then doses both from one opening."""

    def of(part: Part, key: str, kind: ActKind, what: str) -> Act:
        return Act(key=f"{key}:{part.key}", kind=kind, text=key, what=what, part=part.key, vessel=part.vessel)

    steps = (
        Step(name=StepName.TARE, acts=tuple(of(p, "vessel", ActKind.READ, "vessel") for p in PARTS)),
        Step(
            name=StepName.WEIGH_SOLID,
            acts=(
                act("open", ActKind.OPEN, "container"),
                *(of(p, "dose", ActKind.DOSE, "solid") for p in PARTS),
                act("close", ActKind.CLOSE, "container"),
                act("note", ActKind.NOTE),
            ),
            container="C-1",
        ),
        Step(name=StepName.DISSOLVE, acts=tuple(of(p, "look", ActKind.CONFIRM, "") for p in PARTS)),
    )
    history = History()
    history.entries.clear()
    history.add(
        ev.Planned(
            prep=PREP, plan=replace(PLAN, parts=PARTS).to_body(), aims={}, basis={},
            steps=tuple(s.to_body() for s in steps),
        )
    )  # fmt: skip
    for key in ("vessel:1", "vessel:2"):
        history.read(act=key)
    history.add(ev.StepDone(prep=PREP, step=0))
    history.open()
    history.dose("10.00", act="dose:1", ends=True)
    history.dose("12.00", act="dose:2", ends=True)
    return history


def test_what_is_in_one_vessel_of_several_is_its_own() -> None:
    state = rack().state()
    assert [state.part(key).total_mg("solid") for key in ("1", "2")] == [10.0, 12.0]
    assert state.total_mg("solid") == 22.0
    assert [d.part for d in state.doses] == ["1", "2"]
    assert state.part("2").plan.vessel == "V-2"


def test_the_open_act_says_which_vessel_is_meant() -> None:
    history = rack()
    assert history.state().here.whole is None
    history.add(ev.WentBack(prep=PREP, step=1, act="dose:2", reason="again"))
    assert history.state().here.key == "2"


def test_one_vessel_made_anew_leaves_the_acts_of_the_others_done() -> None:
    history = rack()
    for key in ("look:1", "look:2"):
        history.add(ev.Confirmed(prep=PREP, step=2, act=key))
    history.add(ev.Discarded(prep=PREP, entry=history.state().doses[0].entry, reason="over"))
    history.add(ev.WentBack(prep=PREP, step=0, act="", reason="over", part="1"))
    state = history.state()
    assert state.act is not None
    assert state.act.key == "vessel:1"
    assert {(0, "vessel:2"), (1, "dose:2"), (2, "look:2")} <= state.done
    assert not {(0, "vessel:1"), (1, "open"), (1, "dose:1"), (1, "close"), (2, "look:1")} & state.done
    assert state.part("2").total_mg("solid") == 12.0
    assert state.part("1").total_mg("solid") == 0.0
