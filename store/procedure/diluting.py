"""What to take next in a prep that dilutes, from what earlier vessels really hold. What came out: `diluted`.

Masses in a vessel that is not filled yet count as planned, so that one chain of sums serves the plan, the
pan and the result.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from store.calc import solution
from store.calc.uncertainty import rectangular
from store.errors import OutOfRange
from store.model.prep import Part, Plan
from store.procedure import inputs, parts, stated
from store.procedure.state import PrepState
from store.units import figure, kind_of, quantity


@dataclass(frozen=True, slots=True)
class Vessels:
    """A plan of several vessels with what is in them; `there` in mg as displayed, by part and content."""

    plan: Plan
    basis: Mapping[str, Any]
    aims: Mapping[str, Mapping[str, Any]]
    there: Mapping[tuple[str, str], float]

    @classmethod
    def of(cls, state: PrepState) -> "Vessels":
        """Give the vessels of a prep, or of the prep that a part belongs to."""
        whole = state.whole or state
        there = {(d.part, d.content): d.total_mg for d in whole.doses if d.counts}
        return cls(whole.plan, whole.basis, whole.aims.get("parts", {}), there)

    def net_mg(self, key: str, content: str) -> float:
        """Give what a vessel holds of a content, or is to hold."""
        return self.there.get((key, content)) or float(self.aims[key][f"{content}_mg"])

    def rows(self, key: str) -> tuple[Plan, Mapping[str, Any]]:
        """Give plan and basis of one part."""
        plan, basis, _ = parts.view(self.plan, self.basis, {}, key)
        return plan, basis


# ---- strengths ----


def _goal(plan: Plan, basis: Mapping[str, Any], text: str, density: float) -> solution.Target:
    wanted = quantity(text, *inputs.CONCENTRATIONS)
    molar = inputs.molar_mass(plan, basis) if kind_of(wanted.unit) in solution.BY_AMOUNT else None
    return solution.target(
        float(wanted.number),
        wanted.unit,
        molar_mass_g_mol=molar[0] if molar else None,
        density_g_ml=density,
    )


def lot_density(basis: Mapping[str, Any]) -> tuple[float, float]:
    """Give the density of the stock [g/mL] and its uncertainty: of its lot, else the solvent's within 2 %."""
    if own := basis["lot"].get("density"):
        return inputs.typed_density(own, "g/mL")
    rho, _, _ = inputs.solvent_density(basis)
    return rho, rectangular(0.02 * rho)


def stock(plan: Plan, basis: Mapping[str, Any]) -> tuple[float, float | None]:
    """Give the mass fraction of analyte [g/g] in the lot that is diluted, and its standard uncertainty.

    Raises
    ------
    OutOfRange
        The lot is no solution.
    """
    lot = basis["lot"]
    if not lot.get("concentration"):
        raise OutOfRange(f"Lot {lot['id']} is no solution: only a solution with a concentration is diluted.")
    rho, u_rho = lot_density(basis)
    goal = _goal(plan, basis, lot["concentration"], rho)
    w = solution.mass_fraction(goal)
    if not lot.get("concentration_u"):
        return w, None
    stated_u = quantity(lot["concentration_u"], *inputs.CONCENTRATIONS)
    relative = stated_u.to(solution.BASE_UNIT[goal.kind]) / goal.value
    if goal.kind in solution.BY_VOLUME:
        relative = math.hypot(relative, u_rho / rho)
    return w, w * relative


def target_w(plan: Plan, basis: Mapping[str, Any]) -> float:
    """Give the mass fraction of analyte [g/g] that a part is to have."""
    return solution.mass_fraction(_goal(plan, basis, plan.target, inputs.solvent_density(basis)[0]))


def true_mg(shown: float, basis: Mapping[str, Any], density_g_ml: float) -> float:
    """Give the true mass of what the display shows, in mg."""
    return shown / inputs.shown_mg(1.0, basis, density_kg_m3=1000.0 * density_g_ml)


def shown_mg(true: float, basis: Mapping[str, Any], density_g_ml: float) -> float:
    """Give what the display shows of a true mass, in mg."""
    return inputs.shown_mg(true, basis, density_kg_m3=1000.0 * density_g_ml)


def source_w(vessels: Vessels, key: str) -> float:
    """Give the mass fraction [g/g] of what a part is made from, as it really is where it is made already."""
    part = vessels.plan.part(key)
    if not part.source:
        return stock(*vessels.rows(key))[0]
    _, basis = vessels.rows(part.source)
    above = vessels.plan.part(part.source)
    aliquot = true_mg(vessels.net_mg(above.key, "aliquot"), basis, aliquot_density(above, basis))
    solvent = true_mg(vessels.net_mg(above.key, "solvent"), basis, inputs.solvent_density(basis)[0])
    return source_w(vessels, part.source) * aliquot / (aliquot + solvent)


def aliquot_density(part: Part, basis: Mapping[str, Any]) -> float:
    """Give the density of what a part takes [g/mL]."""
    return inputs.solvent_density(basis)[0] if part.source else lot_density(basis)[0]


# ---- what to weigh ----


def aliquot_mg(vessels: Vessels, key: str) -> float:
    """Give the aliquot to take, as displayed in mg: for the solvent that is there, else for the amount.

    Raises
    ------
    OutOfRange
        What it is made from is not strong enough.
    """
    part = vessels.plan.part(key)
    plan, basis = vessels.rows(key)
    wanted, strong = target_w(plan, basis), source_w(vessels, key)
    if strong <= wanted:
        raise OutOfRange(
            f"Vessel {part.vessel}: {part.target} cannot be made from {figure(strong * 1000.0, 4)} mg/g: it "
            "must be weaker than what it is made from."
        )
    rho = inputs.solvent_density(basis)[0]
    if solvent := vessels.there.get((key, "solvent")):
        wanted_mg = true_mg(solvent, basis, rho) * wanted / (strong - wanted)
    else:
        much = inputs.amount(plan)
        grams = much.to("g") if much.kind == "mass" else much.to("mL") * rho
        wanted_mg = 1000.0 * grams * wanted / strong
    return shown_mg(wanted_mg, basis, aliquot_density(part, basis))


def solvent_mg(vessels: Vessels, key: str, aliquot: float | None = None) -> float:
    """Give the solvent that an aliquot needs, as displayed in mg; of a blank all of it."""
    part = vessels.plan.part(key)
    plan, basis = vessels.rows(key)
    rho = inputs.solvent_density(basis)[0]
    if part.is_blank:
        much = inputs.amount(plan)
        wanted_mg = 1000.0 * (much.to("g") if much.kind == "mass" else much.to("mL") * rho)
    else:
        taken = vessels.net_mg(key, "aliquot") if aliquot is None else aliquot
        true_taken = true_mg(taken, basis, aliquot_density(part, basis))
        wanted_mg = true_taken * (source_w(vessels, key) / target_w(plan, basis) - 1.0)
        wanted_mg += stated.loss(plan.loss_after).value_mg
    return shown_mg(wanted_mg, basis, rho)


def contains(vessels: Vessels, key: str) -> dict[str, str]:
    """Give the mass fraction of each substance in what a part takes: the analyte and what carries it."""
    _, basis = vessels.rows(key)
    w = source_w(vessels, key)
    share = Decimal(figure(w))
    found = {str(basis["lot"]["substance"]): str(share)}
    if carrier := basis["lot"].get("solvent"):
        found[str(carrier)] = str(1 - share)  # together the whole: no mass is lost or won by rounding
    return found
