"""Dilution routes from the shell: equal vessels, or the vessels at hand, with class A glassware beside."""

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from store.errors import BadInput
from store.units import Quantity
from tui.cli.output import emit, format_option
from tui.cli.typed import CONCENTRATION, MASS, NUMBER

if TYPE_CHECKING:
    from store.calc.routes import Design, Route, Wanted


@click.command()
@click.option("--from", "start", type=CONCENTRATION, required=True, help='Stock, such as "1 mg/g".')
@click.option("--to", "goal", type=CONCENTRATION, required=True, help='Goal, such as "0.1 ug/g".')
@click.option(
    "--vessel",
    "vessels",
    type=MASS,
    required=True,
    multiple=True,
    help="Solution that a vessel takes. Once: as many such vessels as steps. Several: those at hand.",
)
@click.option("--sd", type=MASS, required=True, help="Standard deviation of a net.")
@click.option("--minimum-weight", type=MASS, help="Smallest net of the balance.")
@click.option("--amount", type=MASS, help="Needed of the last solution; else the whole vessel.")
@click.option("--wanted", type=NUMBER, help="Relative standard uncertainty of the factor that is enough.")
@click.option("--source", type=MASS, help="So much of the stock there is.")
@click.option("--least-fill", type=MASS, help="No vessel is filled with less.")
@click.option("--per-step", type=NUMBER, default="0", show_default=True, help="Further relative u of a step.")
@click.option("--max-steps", type=click.IntRange(1, 6), default=6, show_default=True, help="Most steps.")
@click.option("--shared-reading", is_flag=True, help="One vessel without zeroing between the two weighings.")
@click.option("--glassware", is_flag=True, help="The same routes with one-mark glassware of class A beside.")
@format_option
def dilution(output: str, **given: Any) -> None:
    """Design a dilution by mass: routes of 1 to 6 steps, the best, and those that no other beats.

    With one --vessel and no --amount, --wanted, --source or --least-fill: one route of equal steps for each
    number of steps, and the best of them. Otherwise unequal steps in the vessels at hand, each used once:
    the route of least uncertainty, the leanest that is sure enough, and that of least waste; the best by
    uncertainty, by waste and by openings, and those that none beats on all three.
    """
    from store.calc.guard import positive

    start, goal = given["start"], given["goal"]
    if start.kind != goal.kind:
        raise BadInput(f"{start} and {goal} are of two kinds: give both in units of one kind.")
    unit = start.unit
    factor = positive(start.to(unit), "stock", unit) / positive(goal.to(unit), "goal", goal.unit)
    at_hand = len(given["vessels"]) > 1 or any(
        given[key] is not None for key in ("amount", "wanted", "source", "least_fill")
    )
    (_of_vessels if at_hand else _of_equal_steps)(output, round(factor, 12), given)


def _mg(of: Quantity | None, otherwise: float) -> float:
    return of.to("mg") if of is not None else otherwise


def _analyte(start: Quantity, mass_mg: float) -> float | None:
    """Of the stock's mass, what is the substance [mg]; None where its density would have to be known."""
    return float(start.to("g/g")) * mass_mg if start.kind == "mass_fraction" else None


def _zeroing(given: dict[str, Any]) -> str:
    shared = "one vessel, the reading between aliquot and solvent shared"
    return shared if given["shared_reading"] else "two nets, each from a zeroed display"


def _of_equal_steps(output: str, factor: float, given: dict[str, Any]) -> None:
    from store.calc import dilution as sums

    vessel_mg = given["vessels"][0].to("mg")
    design = sums.routes(
        total_factor=factor,
        vessel_mg=vessel_mg,
        sd_mg=given["sd"].to("mg"),
        minimum_weight_mg=_mg(given["minimum_weight"], 0.0),
        per_step=given["per_step"],
        max_steps=given["max_steps"],
        shared_reading=given["shared_reading"],
    )
    best = next((r for r in design.routes if r.steps == design.best), None)
    rows = []
    for r in design.routes:
        row = {
            **asdict(r),
            "why_not": r.why_not or None,
            "analyte_mg": _analyte(given["start"], r.stock_used_mg),
            "solvent_mg": sum(vessel_mg - a for a in r.aliquots_mg),
            "waste_mg": sum(vessel_mg - a for a in r.aliquots_mg[1:]),
        }
        rows.append(row | _beside(given, r.factors, vessel_mg))
    emit(
        {
            "value": best.relative_uncertainty if best else None,
            "unit": "1",
            "standard_uncertainty": None,
            "factor": factor,
            "zeroing": _zeroing(given),
            "best": design.best or None,
            "routes": rows,
            "source": _sources(given, sums.SOURCE),
        },
        output,
    )


def _of_vessels(output: str, factor: float, given: dict[str, Any]) -> None:
    from store.calc import routes as sums

    masses = [v.to("mg") for v in given["vessels"]]
    if len(masses) == 1:
        masses *= given["max_steps"]
    w = sums.Wanted(
        factor=factor,
        amount_mg=_mg(given["amount"], min(masses)),
        vessels=tuple(sums.Vessel(f"{n}: {m / 1000:g} g", m) for n, m in enumerate(masses, start=1)),
        sd_mg=given["sd"].to("mg"),
        minimum_mg=_mg(given["minimum_weight"], 0.0),
        per_step=given["per_step"],
        shared_reading=given["shared_reading"],
        u_wanted=given["wanted"] if given["wanted"] is not None else float("inf"),
        source_mg=_mg(given["source"], float("inf")),
        max_steps=given["max_steps"],
        least_mg=_mg(given["least_fill"], 0.0),
    )
    design = sums.design(w)
    best = _at(design, design.by_uncertainty)
    emit(
        {
            "value": best.relative_uncertainty if best else None,
            "unit": "1",
            "standard_uncertainty": None,
            "factor": factor,
            "zeroing": _zeroing(given),
            "best": best.steps if best else None,
            "best_by_uncertainty": _number(design.by_uncertainty),
            "best_by_waste": _number(design.by_waste),
            "best_by_openings": _number(design.by_openings),
            "unbeaten": [n for n, r in enumerate(design.routes, start=1) if r.unbeaten],
            "routes": [_row(n, r, w, given) for n, r in enumerate(design.routes, start=1)],
            "source": _sources(given, sums.SOURCE),
        },
        output,
    )


def _at(design: "Design", place: int | None) -> "Route | None":
    return None if place is None else design.routes[place]


def _number(place: int | None) -> int | None:
    return None if place is None else place + 1


def _row(n: int, r: "Route", w: "Wanted", given: dict[str, Any]) -> dict[str, Any]:
    row = {"route": n, **asdict(r), "why_not": r.why_not or None}
    row["analyte_mg"] = _analyte(given["start"], r.stock_used_mg)
    return row | _beside(given, r.factors, w.amount_mg)


def _beside(given: dict[str, Any], factors: tuple[float, ...], amount_mg: float) -> dict[str, Any]:
    """The same steps by volume, a millilitre taken as a gram: only which pieces are taken follows from it."""
    if not given["glassware"]:
        return {}
    from store.calc import glassware
    from store.errors import OutOfRange

    try:
        found = glassware.beside(factors, amount_ml=amount_mg / 1000.0, per_step=given["per_step"])
    except OutOfRange:
        return {"by_volume": None, "by_volume_off": None, "by_volume_u": None}
    return {
        "by_volume": [f"{p.pipette_ml:g} into {p.flask_ml:g} mL" for p in found.pairs],
        "by_volume_off": found.off,
        "by_volume_u": found.u_rel,
    }


def _sources(given: dict[str, Any], source: str) -> str:
    if not given["glassware"]:
        return source
    from store.calc import glassware

    return f"{source}; by volume: {glassware.SOURCE}"
