"""What to dose next, what acceptance would give, what came out: computed from what is in the vessel."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from store.calc import solution
from store.calc.budget import SolutionResult, of_solution, predicted
from store.calc.purity import as_is, chain
from store.model.prep import Plan
from store.model.settings import value
from store.procedure import diluted, diluting, inputs, pan, parts, powder
from store.procedure.diluted import DilutionResult
from store.procedure.diluting import Vessels
from store.procedure.state import PrepState
from store.procedure.window import ROUNDING, IfTaken, Window, minimum_mg
from store.units import factor_k, figure, number, percent, quantity, rounded

__all__ = ["IfTaken", "Window", "minimum_mg"]

Result = SolutionResult | DilutionResult
"""What came out of one vessel."""


def aims(plan: Plan, basis: Mapping[str, Any]) -> dict[str, Any]:
    """Give what a plan aims at: masses as displayed in mg, the fill of the vessel, the minimum weight.

    Raises
    ------
    BadInput, OutOfRange
        The plan cannot be computed; the text says why.
    """
    if plan.parts and all(p.content == "aliquot" or p.is_blank for p in plan.parts):
        return diluted.aims(plan, basis)
    if plan.parts:
        each = {p.key: _of_one(*parts.view(plan, basis, {}, p.key)[:2]) for p in plan.parts}
        return {**each[plan.parts[-1].key], "parts": each}
    return _of_one(plan, basis)


def _of_one(plan: Plan, basis: Mapping[str, Any]) -> dict[str, Any]:
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
        "fill_percent": inputs.fill_percent(filled_ml, basis),
        "expected": strength(result),
        "missing": list(result.missing),
        "form": inputs.stated_form(plan, basis),
    }


def strength(result: Result) -> str:
    """Say a concentration with its uncertainty, and that something is missing from it."""
    if not result.value:
        return "blank"
    if not result.complete:
        return f"{figure(result.value, 4)} {result.unit}, uncertainty incomplete"
    shown, _ = rounded(result.value, result.U)
    return f"{shown} {result.unit} ± {percent(result.k * result.u_rel)} ({factor_k(result.k)})"


def _solvent_density(state: PrepState) -> float:
    density, _, _ = inputs.solvent_density(state.basis)
    return density


def _room_mg(state: PrepState) -> float:
    """How much solvent the vessel and the balance have room for, in mg."""
    capacity_ml = quantity(state.basis["vessel"]["capacity"], "volume").to("mL")
    return capacity_ml * _solvent_density(state) * 1000.0 - state.total_mg(state.solute)


def window(state: PrepState, content: str) -> Window:
    """Give what to dose of a content, from what is in the vessel."""
    plan = state.plan
    percent_ = float(number(plan.tolerance_percent)) / 100.0
    if content == "solvent":
        percent_ = float(number(value(state.basis["settings"], "solvent_tolerance_percent"))) / 100.0
        aim_mg, note = float(state.aims["solvent_mg"]), ""
        if state.in_vessel(state.solute):
            aim_mg, _ = _predicted(state, state.total_mg(state.solute))
        if aim_mg > (room := _room_mg(state)):
            aim_mg, note = room, "all that the vessel takes: stronger than planned"
        if aim_mg <= 0.0:
            aim_mg, note = 0.0, "the vessel is full: no room for solvent"
        return _around(state, aim_mg, percent_, note)
    if state.solute == "aliquot":
        return _around(state, *_aliquot(state, percent_))
    aim_mg = float(state.aims["solid_mg"])
    if state.in_vessel("solvent"):
        aim_mg *= state.total_mg("solvent") / float(state.aims["solvent_mg"])
    return _around(state, aim_mg, percent_)


def _aliquot(state: PrepState, share: float) -> tuple[float, float, str]:
    """Aim for the aliquot, from what the vessel that it is taken from really holds."""
    vessels, source = Vessels.of(state), state.plan.parts[0].source
    aim_mg = diluting.aliquot_mg(vessels, state.key)
    if not source or state.whole is None:
        return aim_mg, share, ""
    above = state.whole.part(source)
    left_mg = pan.content_mg(above) - above.taken_mg() + state.total_mg("aliquot")
    if 0.0 < left_mg < aim_mg:
        return left_mg, share, f"all that is left in {above.plan.vessel}: less comes of it"
    return aim_mg, share, ""


def _around(state: PrepState, aim_mg: float, share: float, note: str = "") -> Window:
    """Give a window that is never narrower than one step of the display to either side."""
    step_mg = pan.readability_mg(pan.balance(state))
    return Window(aim_mg, max(aim_mg * share, step_mg), note, step_mg)


def _predicted(state: PrepState, solid_mg: float) -> tuple[float, Result]:
    if state.solute == "aliquot":
        vessels = Vessels.of(state)
        needed_mg = diluting.solvent_mg(vessels, state.key, solid_mg)
        vessels = replace(vessels, there={**vessels.there, (state.key, "solvent"): needed_mg})
        return needed_mg, diluted.of_part(vessels, state.key, aliquot=solid_mg)
    given = inputs.of_solution(state.plan, state.basis, solid_mg=solid_mg, solvent_mg=1.0)
    return predicted(given, target=float(inputs.target(state.plan).number))


def if_taken(state: PrepState, content: str, total_mg: float) -> IfTaken:
    """Give what accepting a total of a content would give."""
    if total_mg <= 0:
        return IfTaken(note="nothing is in the vessel yet by this reading")
    least = minimum_mg(state.basis)
    if powder.stays(state):
        over = "above" if total_mg >= least else "BELOW"
        share = 100.0 * total_mg / float(state.aims["solid_mg"])
        return IfTaken(
            strength=f"{share:.1f} % of the portion", fill=f"{over} the minimum weight {least:.2f} mg"
        )
    if content != "solvent" and not state.in_vessel("solvent"):
        solvent_mg, result = _predicted(state, total_mg)
        over = "above" if total_mg >= least else "BELOW"
        room = _room_mg(state) - total_mg + state.total_mg(content)
        return IfTaken(
            strength=strength(result),
            solvent_mg=f"{solvent_mg:.3f}",
            fill=_fill(state, total_mg + solvent_mg),
            minimum=f"{over} the minimum weight {least:.2f} mg",
            note="the vessel cannot take so much solvent: it comes out stronger" if solvent_mg > room else "",
        )
    solid_mg = total_mg if content != "solvent" else state.total_mg(state.solute)
    solvent_mg = total_mg if content == "solvent" else state.total_mg("solvent")
    if not solid_mg:
        return IfTaken(fill=_fill(state, solvent_mg))
    result = _with(state, solid_mg, solvent_mg)
    return IfTaken(
        strength=f"{strength(result)}, {deviation_words(state, result)} of the target",
        fill=_fill(state, solid_mg + solvent_mg),
    )


def deviation(state: PrepState, result: Result) -> float:
    """Give how far a result is from its target, relative to it; a blank has none."""
    if powder.stays(state):
        return result.value / float(state.aims["solid_mg"]) - 1.0
    return result.value / float(inputs.target(state.plan).number) - 1.0 if result.value else 0.0


def deviation_words(state: PrepState, result: Result) -> str:
    """Say how far a result is from its target."""
    return f"{100.0 * deviation(state, result):+.2f} %"


def _fill(state: PrepState, content_mg: float) -> str:
    filled_ml = content_mg / 1000.0 / _solvent_density(state)
    return f"vessel {inputs.fill_percent(filled_ml, state.basis)} % full"


def against(state: PrepState, content: str, total_mg: float) -> tuple[str, ...]:
    """Give what stands against ending with a total: each needs a second person."""
    found = list(over_capacity(state, content, total_mg))
    least = minimum_mg(state.basis)
    if content != "solvent" and total_mg < least:
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


def result(state: PrepState) -> Result:
    """Give what came out of one vessel, from the doses that stand."""
    if powder.stays(state):
        return powder.weighed(state)
    return _with(state, state.total_mg(state.solute), state.total_mg("solvent"))


def _with(state: PrepState, solute_mg: float, solvent_mg: float) -> Result:
    if state.solute == "aliquot" or (state.plan.parts and state.plan.parts[0].is_blank):
        vessels = Vessels.of(state)
        there = {**vessels.there, (state.key, "solvent"): solvent_mg}
        return diluted.of_part(replace(vessels, there=there), state.key, aliquot=solute_mg or None)
    return of_solution(inputs.of_solution(state.plan, state.basis, solid_mg=solute_mg, solvent_mg=solvent_mg))


def given(state: PrepState) -> dict[str, Any]:
    """Give everything that the result of one vessel rests on."""
    if state.solute == "aliquot" or (state.plan.parts and state.plan.parts[0].is_blank):
        return diluted.given(Vessels.of(state), state.key)
    return asdict(
        inputs.of_solution(
            state.plan,
            state.basis,
            solid_mg=state.total_mg("solid"),
            solvent_mg=state.total_mg("solvent"),
        )
    )


def levels_body(state: PrepState) -> dict[str, Any]:
    """Give values and covariance matrix of all vessels that were made by dilution, for the closing entry."""
    if not any(p.content == "aliquot" and not p.is_blank for p in state.plan.parts):
        return {}
    found, unit = diluted.covariance(state)
    body = {
        "unit": unit,
        "parts": [p.key for p in state.plan.parts],
        "vessels": list(found.names),
        "values": [repr(v) for v in found.values],
        "covariance": [[repr(c) for c in row] for row in found.covariance],
    }
    return {"levels": body}


def contains(state: PrepState, content: str) -> dict[str, str]:
    """Give the mass fraction of each substance in what is dosed, where it is more than one."""
    return diluting.contains(Vessels.of(state), state.key) if content == "aliquot" else {}


def is_inside(state: PrepState, found: Result) -> bool:
    """Say whether what came out of one vessel is as near to its target as the plan wants; the edge is inside.

    The edge is that of `Window.holds`: what a display showed as inside is not out of tolerance by a rounding.
    """
    most = float(number(state.plan.tolerance_percent))
    return 100.0 * abs(deviation(state, found)) <= most * (1 + ROUNDING)
