"""Sums of solutions: solvent for a solid, conversions."""

from dataclasses import asdict
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import click

from store.errors import BadInput
from store.units import Quantity
from tui.cli.output import emit, format_option
from tui.cli.typed import CONCENTRATION, DENSITY, MASS, NUMBER, Typed

if TYPE_CHECKING:
    from store.calc.budget import SolutionInputs, SolutionResult


@click.command()
@click.option("--target", type=CONCENTRATION, required=True, help='Such as "1 mg/g" or "5 mmol/L".')
@click.option("--solid", type=MASS, required=True, help="What the balance showed for the solid, net.")
@click.option("--purity", type=NUMBER, help="Mass of substance per mass of solid, such as 0.985.")
@click.option("--purity-u", type=NUMBER, help="Its standard uncertainty.")
@click.option("--formula", help="Formula of the substance, for moles.")
@click.option("--molar-mass", type=Typed("molar_mass"), help="Molar mass, where there is no formula.")
@click.option("--solid-density", type=DENSITY, help="Density of the solid.")
@click.option("--solvent", default="water", show_default=True, help="A solvent of the table.")
@click.option("--solution-density", type=DENSITY, help="Measured density of the solution.")
@click.option("--celsius", type=NUMBER, default="20", show_default=True, help="Temperature.")
@click.option("--hpa", type=NUMBER, default="1013.25", show_default=True, help="Pressure.")
@click.option(
    "--humidity", type=NUMBER, default="50", show_default=True, help="Relative humidity in percent."
)
@click.option("--sd", type=MASS, help="Standard deviation of a net from ten or more weighings.")
@click.option("--readability", type=MASS, help="One step of the last digit; else that of --solid.")
@click.option("--in-vessel", type=MASS, help="Solvent that is in the vessel, as displayed.")
@click.option("--wanted", type=NUMBER, help="Relative standard u that is enough: gives the least solid.")
@click.option("--minimum-weight", type=MASS, help="Smallest net of the balance, for the least solid.")
@format_option
def solution(output: str, **given: Any) -> None:
    """Compute the solvent to add to the solid that fell, and what comes out.

    Masses given are readings, masses of the answer are true masses unless they are called readings. The
    achieved concentration is that with the solvent added, or with what is in the vessel if that is more.
    """
    from store.calc import budget

    target: Quantity = given["target"]
    inputs = _inputs(given)
    needed_mg, result = budget.predicted(inputs, target=float(target.number))
    there: Quantity | None = given["in_vessel"]
    there_mg = there.to("mg") if there else 0.0
    to_add_mg = max(0.0, needed_mg - there_mg)
    per_reading = result.solvent_mass_g / needed_mg
    too_much = there_mg > needed_mg
    if too_much:
        result = budget.of_solution(_with_solvent(inputs, there_mg))
    emit(
        {
            "value": result.value,
            "unit": result.unit,
            "standard_uncertainty": result.u,
            "solvent_mass": to_add_mg * per_reading,
            "solvent_reading": to_add_mg / 1000.0,
            "solvent_unit": "g",
            "achieved": result.value,
            "relative_uncertainty": result.u_rel,
            "expanded_uncertainty": result.U,
            "k": result.k,
            "degrees_of_freedom": result.dof,
            "complete": result.complete,
            "missing": list(result.missing),
            "remarks": _remarks(result, too_much=too_much),
            **_least(inputs, given),
            "budget": [asdict(c) for c in result.components],
            "source": budget.SOURCE,
        },
        output,
    )


def _least(inputs: "SolutionInputs", given: dict[str, Any]) -> dict[str, Any]:
    if given["wanted"] is None:
        return {}
    from store.calc import least

    minimum = given["minimum_weight"]
    found = least.least_solid(
        inputs,
        target=float(given["target"].number),
        u_rel=given["wanted"],
        minimum_mg=minimum.to("mg") if minimum else 0.0,
    )
    return {
        "least_solid": found.solid_mg,
        "least_solid_unit": "mg",
        "least_solid_decided_by": found.decides,
        "least_solid_u_rel": found.u_rel,
    }


def _remarks(result: "SolutionResult", *, too_much: bool) -> list[str]:
    head = ["there is more solvent in the vessel than the target needs"] if too_much else []
    return head + list(result.remarks)


def _inputs(given: dict[str, Any]) -> "SolutionInputs":
    from store.calc import air, budget, solvents
    from store.calc.guard import not_negative, positive

    rho, u_rho, _ = solvents.density(given["solvent"], given["celsius"])
    conditions = {"temperature_c": given["celsius"], "pressure_hpa": given["hpa"]}
    air_kg_m3, u_formula, _ = air.density_kg_m3("air", humidity_percent=given["humidity"], **conditions)
    solid: Quantity = given["solid"]
    positive(solid.to("mg"), "solid", "mg", most=1e9)
    exponent = solid.number.as_tuple().exponent
    step = Quantity(Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0), solid.unit, "mass", "")
    readability: Quantity = given["readability"] or step
    sd: Quantity | None = given["sd"]
    purity, u = given["purity"], given["purity_u"]
    if purity is not None and not 0 < purity <= 1.005:
        raise BadInput(f"A purity of {purity:g} is no mass fraction: write it such as 0.985.")
    density: Quantity | None = given["solution_density"]
    solid_density: Quantity | None = given["solid_density"]
    molar: Quantity | None = given["molar_mass"]
    return budget.SolutionInputs(
        unit=given["target"].unit,
        solid_start_mg=0.0,
        solid_end_mg=solid.to("mg"),
        solvent_start_mg=0.0,
        solvent_end_mg=1.0,
        balance=budget.BalanceData(
            name="B", readability_mg=readability.to("mg"), sd_mg=None if sd is None else sd.to("mg")
        ),
        content=budget.Content(
            assay=1.0 if purity is None else purity,
            u_assay=None if u is None else not_negative(u, "uncertainty of the purity"),
            weighed_formula=given["formula"] or "",
        ),
        air_kg_m3=air_kg_m3,
        u_air_kg_m3=air.u_air_kg_m3(air_kg_m3, u_formula=u_formula, **conditions),
        solvent_density_kg_m3=1000.0 * rho,
        u_solvent_density_kg_m3=1000.0 * u_rho,
        solid_density_kg_m3=None if solid_density is None else solid_density.to("kg/m3"),
        solvent_is_water=given["solvent"].strip().lower() == "water",
        molar_mass_g_mol=None if molar is None else molar.to("g/mol"),
        solution_density_g_ml=None if density is None else density.to("g/mL"),
        temperature_c=given["celsius"],
    )


def _with_solvent(inputs: "SolutionInputs", end_mg: float) -> "SolutionInputs":
    from dataclasses import replace

    return replace(inputs, solvent_end_mg=end_mg)


@click.command()
@click.argument("value", type=Typed())
@click.option("--to", "unit", required=True, help='Unit wanted, such as "mol/L".')
@click.option("--density", type=DENSITY, help="Density of the solution.")
@click.option("--molar-mass", type=Typed("molar_mass"), help="Molar mass of the substance.")
@click.option("--formula", help="Its formula instead.")
@format_option
def convert(
    value: Quantity,
    unit: str,
    density: Quantity | None,
    molar_mass: Quantity | None,
    formula: str | None,
    output: str,
) -> None:
    """Convert VALUE to another unit, or between the four kinds of concentration.

    A molality takes everything but the substance as solvent; two kinds by volume need no density.
    """
    from store.calc import solution as sums
    from store.units import kind_of, unit_of

    wanted = unit_of(unit)
    if kind_of(wanted) == value.kind:
        emit(
            {"value": value.to(wanted), "unit": wanted, "standard_uncertainty": None, "source": "SI"}, output
        )
        return
    if {value.kind, kind_of(wanted)} - set(sums.KINDS):
        raise BadInput(f"{value} is a {value.kind.replace('_', ' ')}; {wanted} is none, nor a concentration.")
    molar, u_rel = (molar_mass.to("g/mol") if molar_mass else None), None
    if formula:
        from store.calc import molar as masses

        if molar is not None:
            raise BadInput("Give --molar-mass or --formula, not both.")
        read = masses.formula(formula)
        molar, u_rel = read.molar_mass_g_mol, read.u_molar_mass_g_mol / read.molar_mass_g_mol
    known = {"molar_mass_g_mol": molar, "density_g_ml": density.to("g/mL") if density else None}
    goal = sums.target(float(value.number), value.unit, **known)
    if density is None and {value.kind, kind_of(wanted)} <= set(sums.BY_VOLUME):
        w, out = None, sums.per_volume(goal, wanted)
    else:
        w = sums.mass_fraction(goal)
        out = sums.from_mass_fraction(w, wanted, **known)
    # Between two kinds by amount the molar mass nearly cancels, and its uncertainty is not told.
    crosses = (value.kind in sums.BY_AMOUNT) != (kind_of(wanted) in sums.BY_AMOUNT)
    emit(
        {
            "value": out,
            "unit": wanted,
            "standard_uncertainty": out * u_rel if u_rel is not None and crosses else None,
            "mass_fraction": w,
            "source": sums.SOURCE,
        },
        output,
    )
