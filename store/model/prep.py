"""A prep as planned: what is wanted, and the steps it becomes."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Self

from store.model.words import ActKind, StepName


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One vessel of a prep that fills several: what goes into it, and from where.

    A level of a series, a step of a dilution, a place of a rack. Its source is a container, or the vessel of
    an earlier part.
    """

    key: str
    """Short, such as `1`; it stands in the number of the lot that the part makes."""
    vessel: str
    target: str
    """For example `1.000 mg/g`; empty where no strength is wanted."""
    amount: str
    """Of what is in the vessel at the end, for example `10 g`."""
    container: str = ""
    """The container that the solute comes from; empty with a source, and for a blank."""
    source: str = ""
    """Key of the earlier part whose vessel the solute comes from."""
    solvent_container: str = ""
    """Empty: no solvent is added."""
    content: str = "solid"
    """What is dosed of the source: solid, or aliquot of a solution."""
    keep: bool = True
    """False: what is left of it at the end goes to waste."""
    name: str = ""
    """In words where the person gave one: `blank 1`, `level 3`."""

    @property
    def is_blank(self) -> bool:
        """Whether nothing but solvent goes into it."""
        return not self.container and not self.source


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
    parts: tuple[Part, ...] = ()
    """Every vessel to be filled, a source before what is made from it; empty: the one vessel of the plan."""

    def to_body(self) -> dict[str, Any]:
        """Give the plan as plain data for a journal body."""
        body = asdict(self)
        if not self.parts:
            del body["parts"]
        return body

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> Self:
        """Read back what a journal body carries."""
        parts = tuple(p if isinstance(p, Part) else Part(**p) for p in body.get("parts", ()))
        return cls(**{**body, "parts": parts})

    @property
    def containers(self) -> tuple[str, ...]:
        """Every container that it takes from, in any vessel, once."""
        several = (id for p in self.parts for id in (p.container, p.solvent_container))
        return tuple(dict.fromkeys(filter(None, (self.container, self.solvent_container, *several))))

    @property
    def is_rack(self) -> bool:
        """Whether it is portions into a rack; the names of its recipes say so."""
        return self.recipe.startswith("portions, ")

    def part(self, key: str) -> Part:
        """Give the part of a key."""
        return next(p for p in self.parts if p.key == key)


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
    part: str = ""
    """The part that the act serves, where the step is a pass over several vessels."""
    vessel: str = ""
    """The vessel of that part."""


_ONLY_IN_A_PASS = ("part", "vessel")


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
    part: str = ""
    """The part that the whole step serves; empty where it serves the prep, or where each act says so."""

    @property
    def parts(self) -> tuple[str, ...]:
        """Keys of the parts that the step serves, in its order."""
        named = (act.part or self.part for act in self.acts)
        return tuple(dict.fromkeys(key for key in named if key))

    def to_body(self) -> dict[str, Any]:
        """Give the step as plain data for a journal body."""
        body = asdict(self)
        if not self.part:
            del body["part"]
        for act in body["acts"]:
            for key in _ONLY_IN_A_PASS:
                if not act[key]:
                    del act[key]
        return body

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
            part=body.get("part", ""),
        )
