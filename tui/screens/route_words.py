"""Dilution routes in words: the best ones, what to weigh, what it costs, class A glassware beside."""

from collections.abc import Iterator, Sequence

from store.calc import glassware
from store.calc.routes import Route
from store.errors import OutOfRange
from store.queries.routes import Designed
from store.units import figure, weighed
from tui.screens.frame import wrapped
from tui.screens.tabled import tabled

AIMS = {"uncertainty": "vessels full", "wanted": "sure enough", "waste": "least waste"}


def page(found: Designed, width: int) -> Sequence[str]:
    """Give every route for a width: the best, a table, each step by step, by volume beside."""
    design, w = found.design, found.wanted
    source = f"container {found.asked.source}, " if str(found.concentration) != found.asked.source else ""
    head = [
        f"From {source}{found.concentration} to {found.asked.target}: 1 to {figure(w.factor, 6)}; "
        f"{found.asked.amount} needed.",
        f"Balance {found.asked.balance}: s of a net {figure(w.sd_mg, 3)} mg, nothing below "
        f"{figure(w.minimum_mg, 3)} mg. Zeroing: {found.asked.zeroing}. "
        f"Share of a step {figure(100 * w.per_step, 3)} %.",
    ]
    if found.left_mg is not None:
        head.append(f"About {weighed(found.left_mg)} of the source are left by the record.")
    out = [*wrapped(head, width, indent="  "), "", *wrapped(_best(found), width, indent="  "), ""]
    out += tabled(("", "steps", "aim", "± %, k=2", "drawn", "solvent", "waste", "open", ""),
                  [_row(n, r) for n, r in enumerate(design.routes, start=1)], width)  # fmt: skip
    out += wrapped(
        (
            "* no other is better in ±, waste and openings at once; open: the source + intermediates, each "
            "once",
        ),
        width,
    )
    for n, route in enumerate(design.routes, start=1):
        if route.totals_mg and (route.feasible or route.aim == "uncertainty"):
            out += ["", *wrapped(_steps(n, route, found), width, indent="    ")]
    return out


def _best(found: Designed) -> Iterator[str]:
    design = found.design
    places = {
        "by uncertainty": design.by_uncertainty,
        "by waste": design.by_waste,
        "by openings": design.by_openings,
    }
    if design.by_uncertainty is None:
        yield "NO ROUTE CAN BE MADE with these vessels on this balance; what stands against each follows."
        return
    best = design.routes[design.by_uncertainty].relative_uncertainty
    for what, at in places.items():
        assert at is not None  # where one is feasible, all three have a best
        r = design.routes[at]
        yield (
            f"best {what:<15} route {at + 1}: {_steps_word(r.steps)}, ± {_percent(r)} %, "
            f"waste {weighed(r.waste_mg)}"
        )
    for r in design.routes:
        if r.steps == 1 and r.feasible and r.relative_uncertainty > best * 1.005:
            times = figure(r.relative_uncertainty / best, 2)
            yield f"A single step is possible; it costs {times} times the uncertainty of the best route."
            break


def _steps_word(steps: int) -> str:
    return "1 step" if steps == 1 else f"{steps} steps"


def _opened(r: Route) -> str:
    """Openings of the source, and of the intermediates beside."""
    between = r.openings - r.source_openings
    return f"{r.source_openings} + {between}" if between else str(r.source_openings)


def _percent(r: Route) -> str:
    return figure(200.0 * r.relative_uncertainty, 2)


def _row(n: int, r: Route) -> tuple[str, ...]:
    number = f"{'*' if r.unbeaten else ' '}{n}"
    if not r.totals_mg:
        return (number, str(r.steps), "", "", "", "", "", "", f"no: {r.why_not}")
    why = "" if r.feasible else f"no: {r.why_not}"
    return (
        number, str(r.steps), AIMS[r.aim], _percent(r), weighed(r.stock_used_mg), weighed(r.solvent_mg),
        weighed(r.waste_mg) if r.feasible else "", _opened(r), why,
    )  # fmt: skip


def _steps(n: int, r: Route, found: Designed) -> Iterator[str]:
    yield f"ROUTE {n}   {_steps_word(r.steps)}, {AIMS[r.aim]}, ± {_percent(r)} % (k = 2)"
    source = "the source"
    for k, (vessel, aliquot, total, factor) in enumerate(
        zip(r.vessels, r.aliquots_mg, r.totals_mg, r.factors, strict=True), start=1
    ):
        yield (
            f"  {k}  {weighed(aliquot)} of {source} into {vessel}, solvent to {weighed(total)}   "
            f"1 to {figure(factor, 4)}"
        )
        source = f"step {k}"
    drawn = f"  drawn {weighed(r.stock_used_mg)} of the source"
    if found.mass_fraction is not None:
        drawn += f", {figure(found.mass_fraction * r.stock_used_mg, 3)} mg of the substance"
    between = r.openings - r.source_openings
    also = f", each of {between} intermediates once" if between > 1 else ", the intermediate once"
    yield f"{drawn}; the source is opened once{also if between else ''}"
    if not r.feasible:
        yield f"  CANNOT BE MADE: {r.why_not}"
    yield f"  {by_volume(r, found)}"


def by_volume(r: Route, found: Designed) -> str:
    """Say the same route with class A glassware, or why there is none."""
    amount_ml = found.wanted.amount_mg / 1000.0 / found.density_g_ml
    try:
        other = glassware.beside(r.factors, amount_ml=amount_ml, per_step=found.wanted.per_step)
    except OutOfRange as refusal:
        return f"class A glassware: {refusal}"
    pieces = ", ".join(f"{p.pipette_ml:g} into {p.flask_ml:g} mL" for p in other.pairs)
    off = "" if abs(other.off) < 0.0005 else f", 1 to {figure(other.factor, 5)} instead"
    return (
        f"class A glassware: {pieces}{off}, ± {figure(200 * other.u_rel, 2)} %, "
        f"waste {figure(other.waste_ml, 3)} mL"
    )
