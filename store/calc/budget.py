"""The achieved concentration of a solution and its uncertainty: readings in, value and budget out.

The prep, the shell and the result page all ask this one function. The readings themselves are propagated, so
that a shared reading, a shared balance and elements that occur twice are correlated by being one input.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from store.calc import buoyancy, solution
from store.calc.given import BalanceData, Loss, SolutionInputs, SolutionResult
from store.calc.guard import positive
from store.calc.parts import Inputs, Strength, Weighing, solution_density
from store.calc.purity import Content, chain
from store.calc.uncertainty import WELCH_SATTERTHWAITE, propagate
from store.errors import OutOfRange
from store.units import convert, kind_of

__all__ = ["BalanceData", "Content", "Loss", "SolutionInputs", "SolutionResult", "of_solution", "predicted"]

SOURCE = "JCGM 100:2008; EURACHEM/CITAC QUAM:2012 A2 (linearity twice); USP <41> (0.41 d)"


def of_solution(given: SolutionInputs) -> SolutionResult:
    """Give the achieved concentration with its budget.

    >>> b = BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.015)
    >>> r = of_solution(SolutionInputs(
    ...     unit="mg/g", solid_start_mg=0, solid_end_mg=10.0, solvent_start_mg=0, solvent_end_mg=9990.0,
    ...     balance=b, content=Content(assay=0.985, u_assay=0.001), solvent_density_kg_m3=998.2))
    >>> round(r.value, 4), r.complete, r.components[0].name
    (0.9844, True, 'repeatability of the solid')

    References
    ----------
    JCGM 100:2008; EURACHEM/CITAC CG 4 QUAM:2012.P1 A1, A2; OIML R 111-1:2004 (buoyancy).
    """
    kind = kind_of(given.unit)
    if kind not in solution.KINDS:
        raise OutOfRange(f"{given.unit} is no unit of concentration: use mg/g, mol/kg, mg/mL or mol/L.")
    x = Inputs()
    solid = Weighing(given, x, "solid")
    solvent = Weighing(given, x, "solvent")
    strength = Strength(given, x)
    density = solution_density(given, x, kind, solid.net_mg / (solid.net_mg + solvent.net_mg))
    before = x.loss(
        "evaporation before the last weighing", given.loss_before.value_mg, given.loss_before.u_mg
    )
    after = x.loss("evaporation after the last weighing", given.loss_after.value_mg, given.loss_after.u_mg)
    if not given.solvent_first and (given.loss_before.value_mg or given.loss_before.u_mg):
        raise OutOfRange("A loss before the last weighing counts only where the solvent was weighed first.")
    scale = convert(1.0, solution.BASE_UNIT[kind], given.unit)

    def masses(v: Sequence[float]) -> tuple[float, float]:
        lost = before(v)
        # What left while the solid was weighed made the solid look lighter by as much.
        return (solid.true_mg(v) + lost) / 1000.0, (solvent.true_mg(v) - lost - after(v)) / 1000.0

    def model(values: Sequence[float]) -> float:
        solid_g, solvent_g = masses(values)
        analyte = solid_g * strength.content(values)
        if kind == "molality":
            solvent_g += solid_g * strength.solvent_share(values)
            return scale * 1000.0 * analyte / strength.molar_mass(values) / solvent_g
        w = analyte / (solid_g + solvent_g)
        if kind == "mass_fraction":
            return scale * w
        gamma = 1000.0 * w * density(values)
        if kind == "mass_concentration":
            return scale * gamma
        return scale * gamma / strength.molar_mass(values)

    values = x.values()
    solid_g, solvent_g = masses(values)
    positive(solid_g, "mass of solid", "g")
    positive(solvent_g, "mass of solvent", "g")
    budget = propagate(model, x.inputs)
    content = strength.content(values)
    remarks = [*x.remarks]
    if math.isfinite(budget.dof):
        remarks.append(WELCH_SATTERTHWAITE)
    missing = tuple(dict.fromkeys(x.missing))
    return SolutionResult(
        value=budget.value,
        unit=given.unit,
        u=budget.u,
        u_rel=budget.u_rel,
        k=budget.k,
        dof=budget.dof,
        U=budget.U,
        complete=not missing,
        missing=missing,
        remarks=tuple(remarks),
        components=budget.components,
        w=solid_g * content / (solid_g + solvent_g),
        content=content,
        solid_mass_g=solid_g,
        solvent_mass_g=solvent_g,
        solution_density_g_ml=density(values) if kind in solution.BY_VOLUME else None,
        temperature_c=given.temperature_c,
        factors=chain(given.content),
        molar_mass_g_mol=strength.molar_mass(values) if kind in solution.BY_AMOUNT else None,
        solvent_share=strength.solvent_share(values) if kind == "molality" else 0.0,
    )


def predicted(given: SolutionInputs, *, target: float) -> tuple[float, SolutionResult]:
    """What accepting the solid now would give: the net that the display will show [mg], and the result.

    The solvent readings of `given` are not used; the solvent that `target` needs, in the unit of `given`, is
    assumed to be added exactly, from a start of 0 or from the reading that the solid ended with.

    >>> b = BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.015)
    >>> net, result = predicted(SolutionInputs(
    ...     unit="mg/g", solid_start_mg=0, solid_end_mg=10.0, solvent_start_mg=0, solvent_end_mg=1,
    ...     balance=b, content=Content(assay=0.985, u_assay=0.001), solvent_density_kg_m3=998.2), target=1.0)
    >>> round(net, 1), round(result.value, 9)
    (9834.1, 1.0)
    """
    start = given.solid_end_mg if given.shared_reading and not given.solvent_first else 0.0
    x = Inputs()
    trial = replace(given, solvent_start_mg=start, solvent_end_mg=start + 1.0)
    solid = Weighing(trial, x, "solid")
    strength = Strength(trial, x)
    kind = kind_of(given.unit)
    values = x.values()
    by_amount = kind in solution.BY_AMOUNT
    density = given.solution_density_g_ml or given.solvent_density_kg_m3 / 1000.0
    goal = solution.target(
        target,
        given.unit,
        molar_mass_g_mol=strength.molar_mass(values) if by_amount else None,
        density_g_ml=density,
    )
    mass_g = solution.solvent_to_add_g(
        solid_g=solid.true_mg(values) / 1000.0,
        content=strength.content(values),
        goal=goal,
        solid_solvent_share=strength.solvent_share(values),
    )
    lost_mg = given.loss_after.value_mg
    shown_g = buoyancy.reading_g(
        mass_g + lost_mg / 1000.0,
        density_kg_m3=given.solvent_density_kg_m3,
        air_kg_m3=given.air_kg_m3,
        adjustment_air_kg_m3=(given.solvent_balance or given.balance).adjustment_air_kg_m3,
    )
    end = start + 1000.0 * shown_g
    return 1000.0 * shown_g, of_solution(replace(trial, solvent_end_mg=end))
