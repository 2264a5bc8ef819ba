"""What to dose next, what acceptance would give, what came out: computed from what is in the vessel."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from store.calc import solution
from store.calc.budget import SolutionResult, of_solution, predicted
from store.calc.purity import as_is, chain
from store.calc.weighing import minimum_weight_mg
from store.model.prep import Plan
from store.model.registers import Balance
from store.model.settings import value
from store.procedure import inputs, pan
from store.procedure.state import PrepState
from store.units import figure, fixed, number, percent, quantity, rounded


@dataclass(frozen=True, slots=True)
class Window:
    """The mass aimed at and the half-width of what counts as inside, in mg as displayed."""

    aim_mg: float
    half_mg: float
    note: str = ""

    def holds(self, total_mg: float) -> bool:
        """Say whether a total is inside; both ends belong to it."""
        return abs(total_mg - self.aim_mg) <= self.half_mg * (1 + 1e-9)

    def aim_words(self, unit: str) -> str:
        """Give the aim in the unit of the display."""
        return f"aim {_in(self.aim_mg, unit)}" + (f" ({self.note})" if self.note else "")

    def span_words(self, unit: str) -> str:
        """Give the window in the unit of the display."""
        low, high = _in(self.aim_mg - self.half_mg, unit), _in(self.aim_mg + self.half_mg, unit)
        return f"inside from {low.rsplit(' ', 1)[0]} to {high}"

    def to_go_words(self, total_mg: float, unit: str) -> str:
        """Say how far it is, and whether it is inside."""
        left = self.aim_mg - total_mg
        where = "inside" if self.holds(total_mg) else ("too little" if left > 0 else "too much")
        return f"{_in(left, unit)}, {where}"

    def words(self, total_mg: float) -> str:
        """Say where a total lies."""
        off = total_mg - self.aim_mg
        if self.holds(total_mg):
            return "inside the window"
        return f"{figure(abs(off) - self.half_mg, 3)} mg {'over' if off > 0 else 'under'} the window"


def _in(mass_mg: float, unit: str) -> str:
    return fixed(mass_mg, 2, "mg") if unit == "mg" else fixed(mass_mg / 1000.0, 4, "g")


@dataclass(frozen=True, slots=True, kw_only=True)
class IfTaken:
    """What accepting the reading now would give; empty texts where nothing can be said yet."""

    strength: str = ""
    solvent_mg: str = ""
    fill: str = ""
    minimum: str = ""
    note: str = ""

    def lines(self) -> tuple[str, ...]:
        """Give it as lines for a screen."""
        if not self.solvent_mg:
            return tuple(text for text in (self.strength, self.fill, self.note) if text)
        first = f"solvent to add {float(self.solvent_mg) / 1000:.3f} g"
        rows = ((first, self.strength), (self.fill, self.minimum), (self.note, ""))
        return tuple(f"{a:<26}{b}".rstrip() for a, b in rows if a or b)

    def to_body(self) -> dict[str, Any]:
        """Give it as it stands in a journal body."""
        return {k: v for k in self.__slots__ if (v := getattr(self, k))}


def minimum_mg(basis: Mapping[str, Any]) -> float:
    """Give the smallest net sample of this balance in this place, in mg. USP <41>."""
    data = inputs.balance_data(Balance.from_body(basis["balance"]))
    return minimum_weight_mg(
        readability_mg=data.readability_mg,
        sd_mg=data.sd_mg or 0.0,
        limit_percent=float(number(value(basis["settings"], "minimum_weight_limit"))),
        factor=float(number(value(basis["settings"], "minimum_weight_factor"))),
    )


def aims(plan: Plan, basis: Mapping[str, Any]) -> dict[str, Any]:
    """Give what a plan aims at: masses as displayed in mg, the fill of the vessel, the minimum weight.

    Raises
    ------
    BadInput, OutOfRange
        The plan cannot be computed; the text says why.
    """
    wanted, much = inputs.target(plan), inputs.amount(plan)
    molar = inputs.molar_mass(plan, basis)
    density, _, source = inputs.solvent_density(basis)
    measured = inputs.solution_density(plan, basis)
    own = measured[0] if measured else density
    of = inputs.content(plan, basis)
    content, _ = as_is(of)
    goal = solution.target(
        float(wanted.number),
        wanted.unit,
        molar_mass_g_mol=molar[0] if molar else None,
        density_g_ml=own,
    )
    solid_g = solution.solid_to_weigh_g(
        goal=goal,
        content=content,
        solution_g=much.to("g") if much.kind == "mass" else None,
        solution_ml=much.to("mL") if much.kind == "volume" else None,
    )
    given = inputs.of_solution(plan, basis, solid_mg=1000.0 * solid_g, solvent_mg=1.0)
    solid_mg = inputs.shown_mg(1000.0 * solid_g, basis, density_kg_m3=given.solid_density_kg_m3 or 2000.0)
    given = replace(given, solid_end_mg=solid_mg)
    solvent_mg, result = predicted(given, target=float(wanted.number))
    filled_ml = (solid_mg + solvent_mg) / 1000.0 / own
    return {
        "solid_mg": f"{solid_mg:.4f}",
        "solvent_mg": f"{solvent_mg:.3f}",
        "minimum_mg": f"{minimum_mg(basis):.4f}",
        "content": f"{content:.6f}",
        "factors": [
            {
                "name": f.name,
                "value": f"{f.value:.7f}",
                "u": "" if f.u is None else f"{f.u:.3g}",
                "why": f.why,
            }
            for f in chain(of)
        ],
        "solvent_density_g_ml": f"{density:.5f}",
        "solvent_density_source": source,
        "solution_density_g_ml": f"{own:.5f}",
        "solution_density_source": "measured" if measured else "taken as the solvent's",
        "fill_percent": f"{100.0 * filled_ml / quantity(basis['vessel']['capacity'], 'volume').to('mL'):.0f}",
        "expected": _strength(result),
    }


def _strength(result: SolutionResult) -> str:
    if not result.complete:
        return f"{figure(result.value, 4)} {result.unit}, uncertainty incomplete"
    shown, _ = rounded(result.value, result.u)
    return f"{shown} {result.unit} ± {percent(result.k * result.u_rel)} (k = {figure(result.k, 3)})"


def _solvent_density(state: PrepState) -> float:
    density, _, _ = inputs.solvent_density(state.basis)
    return density


def _room_mg(state: PrepState) -> float:
    """How much solvent the vessel and the balance have room for, in mg."""
    capacity_ml = quantity(state.basis["vessel"]["capacity"], "volume").to("mL")
    return capacity_ml * _solvent_density(state) * 1000.0 - state.total_mg("solid")


def window(state: PrepState, content: str) -> Window:
    """Give what to dose of a content, from what is in the vessel."""
    plan = state.plan
    percent_ = float(number(plan.tolerance_percent)) / 100.0
    if content == "solvent":
        percent_ = float(number(value(state.basis["settings"], "solvent_tolerance_percent"))) / 100.0
        aim_mg, note = float(state.aims["solvent_mg"]), ""
        if state.in_vessel("solid"):
            aim_mg, _ = _predicted(state, state.total_mg("solid"))
        if aim_mg > (room := _room_mg(state)):
            aim_mg, note = room, "all that the vessel takes: stronger than planned"
        if aim_mg <= 0.0:
            aim_mg, note = 0.0, "the vessel is full: no room for solvent"
        return _around(state, aim_mg, percent_, note)
    aim_mg = float(state.aims["solid_mg"])
    if state.in_vessel("solvent"):
        aim_mg *= state.total_mg("solvent") / float(state.aims["solvent_mg"])
    return _around(state, aim_mg, percent_)


def _around(state: PrepState, aim_mg: float, share: float, note: str = "") -> Window:
    """Give a window that is never narrower than one step of the display to either side."""
    return Window(aim_mg, max(aim_mg * share, pan.readability_mg(pan.balance(state))), note)


def _predicted(state: PrepState, solid_mg: float) -> tuple[float, SolutionResult]:
    given = inputs.of_solution(state.plan, state.basis, solid_mg=solid_mg, solvent_mg=1.0)
    return predicted(given, target=float(inputs.target(state.plan).number))


def if_taken(state: PrepState, content: str, total_mg: float) -> IfTaken:
    """Give what accepting a total of a content would give."""
    if total_mg <= 0:
        return IfTaken(note="nothing is in the vessel yet by this reading")
    least = minimum_mg(state.basis)
    if content == "solid" and not state.in_vessel("solvent"):
        solvent_mg, result = _predicted(state, total_mg)
        over = "above" if total_mg >= least else "BELOW"
        room = _room_mg(state) - total_mg + state.total_mg("solid")
        return IfTaken(
            strength=_strength(result),
            solvent_mg=f"{solvent_mg:.3f}",
            fill=_fill(state, total_mg + solvent_mg),
            minimum=f"{over} the minimum weight {least:.2f} mg",
            note="the vessel cannot take so much solvent: it comes out stronger" if solvent_mg > room else "",
        )
    solid_mg = total_mg if content == "solid" else state.total_mg("solid")
    solvent_mg = total_mg if content == "solvent" else state.total_mg("solvent")
    if not solid_mg:
        return IfTaken(fill=_fill(state, solvent_mg))
    result = of_solution(
        inputs.of_solution(state.plan, state.basis, solid_mg=solid_mg, solvent_mg=solvent_mg)
    )
    return IfTaken(
        strength=f"{_strength(result)}, {_deviation(state, result)} of the target",
        fill=_fill(state, solid_mg + solvent_mg),
    )


def _deviation(state: PrepState, result: SolutionResult) -> str:
    return f"{100.0 * (result.value / float(inputs.target(state.plan).number) - 1.0):+.2f} %"


def _fill(state: PrepState, content_mg: float) -> str:
    capacity_ml = quantity(state.basis["vessel"]["capacity"], "volume").to("mL")
    return f"vessel {content_mg / 1000.0 / _solvent_density(state) / capacity_ml * 100:.0f} % full"


def against(state: PrepState, content: str, total_mg: float) -> tuple[str, ...]:
    """Give what stands against ending with a total: each needs a second person."""
    found = list(over_capacity(state, content, total_mg))
    least = minimum_mg(state.basis)
    if content == "solid" and total_mg < least:
        found.append(f"{total_mg:.2f} mg is below the minimum weight of {least:.2f} mg of this balance")
    if content == "solvent" and total_mg > 1.02 * _room_mg(state):
        found.append(f"the vessel takes {state.basis['vessel']['capacity']}, and more is in it")
    return tuple(found)


def over_capacity(state: PrepState, content: str, total_mg: float) -> tuple[str, ...]:
    """Say that vessel and content are more than the balance can weigh, with a total of one content in it."""
    of = pan.balance(state)
    load_mg = pan.vessel_mg(state) + pan.content_mg(state) - state.total_mg(content) + total_mg
    if load_mg <= quantity(of.capacity, "mass").to("mg"):
        return ()
    return (
        f"vessel and content, {load_mg / 1000:.4f} g, are over the capacity of {of.capacity} of {of.id}: "
        "what it shows cannot be trusted",
    )


def result(state: PrepState) -> SolutionResult:
    """Give what came out, from the doses that stand."""
    return of_solution(
        inputs.of_solution(
            state.plan,
            state.basis,
            solid_mg=state.total_mg("solid"),
            solvent_mg=state.total_mg("solvent"),
        )
    )


def result_lines(state: PrepState) -> tuple[str, ...]:
    """Give the result as lines: strength, deviation, what it rests on, the largest components."""
    found = result(state)
    lines = [
        f"{_strength(found)}",
        f"target {state.plan.target}, deviation {_deviation(state, found)}",
        f"as displayed: solid {state.total_mg('solid'):.2f} mg, "
        f"solvent {state.total_mg('solvent') / 1000:.4f} g",
    ]
    if found.missing:
        lines.append("incomplete, missing: " + "; ".join(found.missing))
    lines += [f"  {100 * c.share:5.1f} %  {c.name}" for c in found.components[:4]]
    return tuple(lines)
