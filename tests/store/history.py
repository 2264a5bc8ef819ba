"""The entries of one prep, added one by one, and the state that they fold into."""

from datetime import UTC, datetime, timedelta
from typing import Any

from store import events as ev
from store.model.prep import Act, Plan, Step
from store.model.words import ActKind, StepName
from store.procedure.progress import fold
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
