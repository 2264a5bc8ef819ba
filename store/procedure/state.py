"""What the entries of one prep add up to: frozen, made by `progress.fold` alone."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from store.model.prep import Act, Plan, Step
from store.model.words import ActKind, PrepStatus

STANDS, CORRECTED, DISCARDED, NEVER = "stands", "corrected", "discarded", "never happened"


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseDone:
    """One weighed addition as it stands now."""

    entry: int
    at: str
    person: str
    step: int
    act: str
    content: str
    container: str
    vessel: str
    shown: str
    net_mg: float
    total_mg: float
    """Of this content in the vessel, with this dose."""
    source: str
    usable: bool
    inside: bool
    ends: bool
    reason: str
    state: str = STANDS

    @property
    def counts(self) -> bool:
        """Whether it is in the vessel."""
        return self.state in (STANDS, CORRECTED)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadDone:
    """One reading that is not a dose."""

    entry: int
    at: str
    step: int
    act: str
    what: str
    shown: str
    mass_mg: float
    within: bool
    conditions: Mapping[str, Any]
    let_through: bool = False
    """Outside its limit, and a second person let it stand."""

    @property
    def stands(self) -> bool:
        """Whether the prep goes on from it."""
        return self.within or self.let_through


@dataclass(frozen=True, slots=True, kw_only=True)
class HandlingDone:
    """One handling; `closed` is 0 while it is open, `noted` is 0 while it owes its exposure note."""

    entry: int
    at: str
    person: str
    step: int
    act: str
    what: str
    container: str
    vessel: str
    enclosure: str
    substances: tuple[str, ...]
    closed: int = 0
    open_s: float = 0.0
    estimated: bool = False
    noted: int = 0
    state: str = STANDS


@dataclass(frozen=True, slots=True, kw_only=True)
class AckDone:
    """One acknowledgement."""

    entry: int
    at: str
    person: str
    step: int
    step_name: str
    digest: str
    how: str
    container: str


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
    label: str = ""
    closed_at: str = ""
    closed_entry: int = 0
    material: str = ""
    stale: str = ""
    """Why what rests on this prep rests on something withdrawn."""
    let_through: tuple[Mapping[str, Any], ...] = ()

    @property
    def current(self) -> Step | None:
        """The open step, or None when all are done."""
        return self.steps[self.step] if self.step < len(self.steps) else None

    @property
    def act(self) -> Act | None:
        """The first act of the open step that is not done."""
        if self.current is None:
            return None
        return next((a for a in self.current.acts if (self.step, a.key) not in self.done), None)

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
        """How much of a content is in the vessel, in mg as displayed."""
        there = self.in_vessel(content)
        return there[-1].total_mg if there else 0.0

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

    def opening_of(self, step: int) -> Act | None:
        """The opening act of a step."""
        return next((a for a in self.steps[step].acts if a.kind == ActKind.OPEN), None)
