"""A prep as planned: what is wanted, and the steps it becomes."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Self

from store.model.words import ActKind, StepName


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What is wanted, as typed; every number keeps its unit and digits."""

    recipe: str
    container: str
    """The container that the solute comes from."""
    solvent_container: str
    target: str
    """For example `1.000 mg/g`, `5 mmol/L`, `2 mmol/kg`."""
    amount: str
    """Of solution, for example `10 g`."""
    vessel: str
    balance: str
    enclosure: str
    tolerance_percent: str = "5"
    """Half-width of the window around the mass aimed at, in % of it."""
    stated_as: str = ""
    """Formula that the concentration is stated as, where it is not the form weighed (base of a salt)."""
    solution_density: str = ""
    """Measured: `1.012 g/mL u 0.001` or `10.123 g in 10.00 mL ± 0.02`; empty: the solvent's, with an
    uncertainty that says so."""
    loss_before: str = ""
    """Solvent that evaporates between its weighing and the last one: a bound `6 mg`, or measured
    `6.1 mg u 0.4`; only where the solvent is first."""
    loss_after: str = ""
    """The same after the last weighing, before the vessel is sealed."""
    rehearsal: bool = False

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> Self:
        """Read back what a journal body carries."""
        return cls(**body)


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One thing a step asks of the person; `key` names it within its step."""

    key: str
    kind: ActKind
    text: str
    """What to do, in the words of the screen."""
    what: str = ""
    """open, close, handle: what; read: zero, check, vessel, return, sealed; dose: solid or solvent."""
    choices: tuple[str, ...] = ()
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One act of a prep, guarded by its cautions."""

    name: StepName
    acts: tuple[Act, ...]
    vessel: str = ""
    container: str = ""
    substances: tuple[str, ...] = ()
    """Whose hazards count in this step."""
    extra: Mapping[str, str] = field(default_factory=dict)

    def to_body(self) -> dict[str, Any]:
        """Give the step as plain data for a journal body."""
        return asdict(self)

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> Self:
        """Read back what a journal body carries."""
        acts = tuple(
            Act(**{**act, "kind": ActKind(act["kind"]), "choices": tuple(act.get("choices", ()))})
            for act in body["acts"]
        )
        return cls(
            name=StepName(body["name"]),
            acts=acts,
            vessel=body.get("vessel", ""),
            container=body.get("container", ""),
            substances=tuple(body.get("substances", ())),
            extra=dict(body.get("extra", {})),
        )
