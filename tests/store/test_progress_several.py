"""The fold of a prep of several vessels: each its own doses, readings and results."""

from dataclasses import replace

from store import events as ev
from store.model.prep import Act, Part, Step
from store.model.words import ActKind, StepName
from tests.store.history import PLAN, PREP, History, act


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
