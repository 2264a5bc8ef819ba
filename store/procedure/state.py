"""What the entries of one prep add up to: frozen, made by `progress.fold` alone."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from store.model.prep import Act, Plan, Step
from store.model.words import ActKind, PrepStatus
from store.procedure import parts
from store.procedure.done import DISCARDED, NEVER, AckDone, DoseDone, HandlingDone, ReadDone


@dataclass(frozen=True, slots=True, kw_only=True)
class PrepState:
    """Where a prep stands after its last entry."""

    prep: str
    status: PrepStatus
    plan: Plan
    basis: Mapping[str, Any]
    aims: Mapping[str, Any]
    steps: tuple[Step, ...]
    planned_at: str
    planned_by: str
    last_entry: int
    last_at: str
    last_person: str
    step: int = 0
    done: frozenset[tuple[int, str]] = frozenset()
    answers: Mapping[str, str] = field(default_factory=dict)
    """`step/act` -> what was answered or told last."""
    answered_at: Mapping[str, str] = field(default_factory=dict)
    """`step/act` -> when; a wait counts from it."""
    doses: tuple[DoseDone, ...] = ()
    reads: tuple[ReadDone, ...] = ()
    handlings: tuple[HandlingDone, ...] = ()
    acks: tuple[AckDone, ...] = ()
    ack_floor: int = 0
    """Acknowledgements up to this entry stand no more."""
    resumed: int = 0
    """Entry of the last interruption whose continuity has not been checked; 0 if none."""
    incidents: tuple[int, ...] = ()
    result: Mapping[str, Any] = field(default_factory=dict)
    lot: Mapping[str, Any] = field(default_factory=dict)
    made: tuple[Mapping[str, Any], ...] = ()
    """Of a prep of several parts: part, result, lot, container and label of each."""
    label: str = ""
    closed_at: str = ""
    closed_entry: int = 0
    material: str = ""
    stale: str = ""
    """Why what rests on this prep rests on something withdrawn."""
    let_through: tuple[Mapping[str, Any], ...] = ()
    assays: tuple[Mapping[str, Any], ...] = ()
    """What laboratories reported of its portions, the oldest first."""
    rejections: Mapping[str, str] = field(default_factory=dict)
    """Place of a rack -> why it was rejected."""
    whole: "PrepState | None" = None
    """The prep that this is one part of; None where it is the prep itself."""

    # ---- parts ----

    def part(self, key: str) -> "PrepState":
        """Give the state of one part: its plan, basis, aims, doses, readings, result; the rest is shared."""
        plan, basis, aims = parts.view(self.plan, self.basis, self.aims, key)
        made = next((m for m in self.made if m.get("part") == key), {})
        return replace(
            self,
            plan=plan,
            basis=basis,
            aims=aims,
            doses=tuple(d for d in self.doses if d.part == key),
            reads=tuple(r for r in self.reads if r.part in ("", key)),
            result=made.get("result", {}),
            lot=made.get("lot", {}),
            label=str(made.get("label", "")),
            whole=self.whole or self,
        )

    @property
    def each(self) -> tuple["PrepState", ...]:
        """Every part; of a prep of one vessel the prep itself."""
        return tuple(self.part(p.key) for p in self.plan.parts) if self.plan.parts else (self,)

    @property
    def here(self) -> "PrepState":
        """The part that the open act serves; the prep itself where it serves all."""
        key = self.part_of(self.step, self.act)
        if not key and self.act is not None and self.act.what == "return":
            # Off the pan comes the vessel that stood on it last in this step.
            key = next((r.part for r in reversed(self.reads) if r.step == self.step and r.part), "")
        return self.part(key) if key and self.whole is None else self

    @property
    def key(self) -> str:
        """The part that this is the state of; empty where it is the prep."""
        return self.plan.parts[0].key if self.whole is not None else ""

    def part_of(self, step: int, act: Act | None) -> str:
        """Give the part that an act of a step serves; empty where there is none."""
        if act is not None and act.part:
            return act.part
        return self.steps[step].part if 0 <= step < len(self.steps) else ""

    def act_of(self, step: int, key: str) -> Act | None:
        """Give an act by its key; what stands in no step, such as the continuity check, is the open act."""
        if not 0 <= step < len(self.steps):
            return None
        found = next((a for a in self.steps[step].acts if a.key == key), None)
        return found if found is not None else self.act

    @property
    def target(self) -> str:
        """The strength wanted, as it is to be read: `4 mmol/L as Cd`."""
        form = self.aims.get("form", "")
        return f"{self.plan.target} as {form}" if form and self.plan.target else self.plan.target

    @property
    def solute(self) -> str:
        """What is dosed beside the solvent: solid or aliquot."""
        return self.plan.parts[0].content if self.plan.parts else "solid"

    @property
    def complete(self) -> bool:
        """Whether everything that the plan wants in the vessel is in it; of several parts, in each."""
        if self.plan.parts and self.whole is None:
            places = [part for part in self.each if part.key not in self.rejected]
            return bool(places) and all(part.complete for part in places)
        return all(self.in_vessel(content) for content in self.wanted)

    @property
    def wanted(self) -> tuple[str, ...]:
        """The contents that the plan wants in the one vessel."""
        if not self.plan.parts:
            return ("solid", "solvent")
        part = self.plan.parts[0]
        solute = () if part.is_blank else (part.content,)
        return (*solute, "solvent") if part.solvent_container else solute

    # ---- where it stands ----

    @property
    def current(self) -> Step | None:
        """The open step, or None when all are done."""
        return self.steps[self.step] if self.step < len(self.steps) else None

    @property
    def act(self) -> Act | None:
        """The first act of the open step that is not done."""
        if self.current is None:
            return None
        off = self.rejected
        return next(
            (
                a
                for a in self.current.acts
                if (self.step, a.key) not in self.done
                # The pan is looked at even where the vessel that stood on it last is out.
                and (not a.part or a.part not in off or a.what == "return")
            ),
            None,
        )

    @property
    def rejected(self) -> frozenset[str]:
        """Places of a rack that are out: they stay on record, and no more is asked of them."""
        if self.whole is not None:
            return self.whole.rejected
        if not self.plan.is_rack:
            return frozenset()
        there = {d.part for d in self.doses if d.counts}
        discarded = {d.part for d in self.doses if d.state == DISCARDED and d.part not in there}
        return frozenset(discarded | set(self.rejections))

    @property
    def open_handlings(self) -> tuple[HandlingDone, ...]:
        """What is open now."""
        return tuple(h for h in self.handlings if not h.closed and h.state != NEVER)

    @property
    def owed(self) -> tuple[HandlingDone, ...]:
        """Handlings that owe an exposure note; one still open owes it already."""
        return tuple(h for h in self.handlings if not h.noted and h.state != NEVER)

    def in_vessel(self, content: str) -> tuple[DoseDone, ...]:
        """Doses of a content that are in the vessel now, oldest first."""
        return tuple(d for d in self.doses if d.content == content and d.counts)

    def total_mg(self, content: str) -> float:
        """How much of a content is in the vessel, in mg as displayed; of several parts, in all of them."""
        return sum({d.part: d.total_mg for d in self.in_vessel(content)}.values())

    def taken_mg(self) -> float:
        """How much was taken out of the vessel of this part for later parts, in mg as displayed."""
        whole, key = self.whole, self.key
        if whole is None:
            return 0.0
        fed = {p.key for p in whole.plan.parts if p.source == key}
        return sum(
            d.net_mg for d in whole.doses if d.part in fed and d.content != "solvent" and d.state != NEVER
        )

    def last_read(self, what: str) -> ReadDone | None:
        """The last reading of a kind."""
        return next((r for r in reversed(self.reads) if r.what == what), None)

    def step_of(self, kind: ActKind, what: str = "") -> tuple[int, Act] | None:
        """The first step with an act of a kind, and the act."""
        for number, step in enumerate(self.steps):
            for act in step.acts:
                if act.kind == kind and (not what or act.what == what):
                    return number, act
        return None
