"""Design of a dilution by mass from the vessels at hand: routes of one to six steps, unequal ones included.

A route takes an aliquot m of what the step before gave and makes it up to M with solvent, D = M/m; the
product of all D is the whole factor. How vessels are filled and factors chosen stands in `fills`.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from store.calc.fills import (
    CLOSE,
    MOST_STEPS,
    MOST_VESSELS,
    NEVER,
    RESERVE,
    Filled,
    Vessel,
    Wanted,
    fullest,
    leanest,
    sets,
    split,
    variance_of,
)
from store.calc.guard import not_negative, positive
from store.errors import OutOfRange
from store.units import figure

__all__ = ["MOST_STEPS", "MOST_VESSELS", "RESERVE", "SOURCE", "Design", "Route", "Vessel", "Wanted", "design"]

SOURCE = (
    "JCGM 100:2008 applied to D = M/m, factors by Lagrange's condition with limits (convex in ln D); "
    "derived here, checked by brute force"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """One way to the last solution; masses in mg, in the order of the steps."""

    steps: int
    aim: str
    """What it is the best at among routes of as many steps: uncertainty, wanted, waste."""
    vessels: tuple[str, ...]
    factors: tuple[float, ...]
    aliquots_mg: tuple[float, ...]
    totals_mg: tuple[float, ...]
    relative_uncertainty: float
    stock_used_mg: float
    solvent_mg: float
    waste_mg: float
    """All that is made and not needed."""
    openings: int
    """Of all that holds the analyte: the source once, each intermediate once."""
    feasible: bool
    why_not: str = ""
    source_openings: int = 1
    """Of the source alone: all that a route takes from it, it takes in one."""
    unbeaten: bool = False
    """No other route is better in one of uncertainty, waste and openings without being worse in another."""


@dataclass(frozen=True, slots=True)
class Design:
    """Every route, by number of steps; the places of the best ones, None where nothing is feasible."""

    routes: tuple[Route, ...]
    by_uncertainty: int | None
    by_waste: int | None
    by_openings: int | None

    @property
    def front(self) -> tuple[Route, ...]:
        """Routes that no other beats on all three."""
        return tuple(r for r in self.routes if r.unbeaten)


def design(w: Wanted) -> Design:
    """Every sensible route, the best by uncertainty, by waste and by openings, and those that none beats.

    For each number of steps: the route of least uncertainty, the leanest that still gives the uncertainty
    wanted, and the one of least waste. A route is feasible where every net can be weighed, every vessel holds
    its solution, and the uncertainty wanted is met; otherwise it says what stands against it.

    Raises
    ------
    OutOfRange
        Nothing to dilute, no vessel, or more than ten.

    Examples
    --------
    >>> w = Wanted(factor=1e4, amount_mg=20000, vessels=tuple(Vessel(f"V-{n}", 20000) for n in range(6)),
    ...            sd_mg=0.01, minimum_mg=20, per_step=5e-5)
    >>> d = design(w)
    >>> best = d.routes[d.by_uncertainty]
    >>> best.steps, round(best.relative_uncertainty, 9), [round(f, 3) for f in best.factors]
    (3, 8.8416e-05, [21.544, 21.544, 21.544])
    >>> d.routes[0].why_not
    'step 1: the aliquot of 2 mg is below the minimum weight of 20 mg'
    """
    _sensible(w)
    found: list[Route] = []
    for n in range(1, w.max_steps + 1):
        found += _of_steps(w, n)
    found = [replace(r, unbeaten=r.feasible and not any(_beats(o, r) for o in found)) for r in found]

    def best(by: Callable[[Route], tuple[float, ...]]) -> int | None:
        can = [n for n, r in enumerate(found) if r.feasible]
        return min(can, key=lambda n: by(found[n])) if can else None

    return Design(
        tuple(found),
        best(lambda r: (r.relative_uncertainty, r.waste_mg)),
        best(lambda r: (round(r.waste_mg, 6), r.openings, r.relative_uncertainty)),
        best(lambda r: (r.openings, r.relative_uncertainty, r.waste_mg)),
    )


def _beats(one: Route, other: Route) -> bool:
    if not one.feasible or one is other:
        return False
    a = (one.relative_uncertainty, one.waste_mg, float(one.openings))
    b = (other.relative_uncertainty, other.waste_mg, float(other.openings))
    close = all(x <= y * CLOSE + 1e-12 for x, y in zip(a, b, strict=True))
    return close and any(x < y / CLOSE - 1e-12 for x, y in zip(a, b, strict=True))


def _sensible(w: Wanted) -> None:
    if positive(w.factor, "dilution factor") <= 1:
        raise OutOfRange(f"A dilution factor of {figure(w.factor)} dilutes nothing: the goal must be weaker.")
    if not 1 <= w.max_steps <= MOST_STEPS:
        raise OutOfRange(f"{w.max_steps} steps: from 1 to {MOST_STEPS} are designed.")
    if not 1 <= len(w.vessels) <= MOST_VESSELS:
        raise OutOfRange(f"{len(w.vessels)} vessels: give from 1 to {MOST_VESSELS}.")
    for vessel in w.vessels:
        positive(vessel.capacity_mg, f"capacity of {vessel.name}", "mg", most=1e8)
    positive(w.amount_mg, "amount", "mg", most=1e8)
    positive(w.sd_mg, "standard deviation", "mg")
    positive(w.source_mg if math.isfinite(w.source_mg) else 1.0, "what is there of the source", "mg")
    not_negative(w.minimum_mg, "minimum weight", "mg")
    not_negative(w.per_step, "uncertainty per step")
    if not w.u_wanted > 0:
        raise OutOfRange("The uncertainty wanted must be more than zero.")


def _of_steps(w: Wanted, n: int) -> list[Route]:
    """Give the routes of n steps, without twins, or one that says why there is none."""
    if n > len(w.vessels):
        return [_none(w, n, f"{n} steps take {n} vessels, {len(w.vessels)} are at hand")]
    orders = sets(w, n)
    if not orders:
        most = max(v.capacity_mg for v in w.vessels)
        return [
            _none(
                w, n, f"no vessel takes {figure(w.amount_mg, 4)} mg: the largest takes {figure(most, 4)} mg"
            )
        ]
    full = [(s, x) for s in orders if (x := fullest(w, s)) is not None]
    if not full:
        return [_refused(w, orders)]
    best = min(full, key=lambda f: (float(f"{f[1].variance:.9e}"), f[1].waste_mg))
    out = [_route(w, best[1], "uncertainty")]
    if math.isfinite(w.u_wanted) and math.sqrt(best[1].variance) <= w.u_wanted * CLOSE:
        able = [f for f in full if math.sqrt(f[1].variance) <= w.u_wanted * CLOSE]
        out.append(_route(w, leanest(w, able, w.u_wanted), "wanted"))
    out.append(_route(w, leanest(w, full, math.inf), "waste"))
    twins: dict[tuple[float, ...], Route] = {}
    for route in out:
        twins.setdefault(tuple(round(x, 3) for x in (*route.totals_mg, *route.aliquots_mg)), route)
    return list(twins.values())


def _route(w: Wanted, filled: Filled, aim: str) -> Route:
    u = math.sqrt(filled.variance)
    met = u <= w.u_wanted * CLOSE
    why = "" if met else f"gives {figure(100 * u, 2)} %, {figure(100 * w.u_wanted, 2)} % is wanted (k = 1)"
    return _with(w, filled.totals_mg, filled.factors, aim, why, filled.waste_mg)


def _with(
    w: Wanted,
    totals: Sequence[float],
    factors: Sequence[float],
    aim: str,
    why: str,
    waste_mg: float,
) -> Route:
    aliquots = tuple(m / d for m, d in zip(totals, factors, strict=True))
    return Route(
        steps=len(factors),
        aim=aim,
        vessels=_named(w, totals),
        factors=tuple(factors),
        aliquots_mg=aliquots,
        totals_mg=tuple(totals),
        relative_uncertainty=math.sqrt(variance_of(w, factors, totals)),
        stock_used_mg=aliquots[0] if aliquots else 0.0,
        solvent_mg=sum(m - a for m, a in zip(totals, aliquots, strict=True)),
        waste_mg=waste_mg,
        openings=len(factors),
        feasible=not why,
        why_not=why,
    )


def _named(w: Wanted, totals_mg: Sequence[float]) -> tuple[str, ...]:
    """Name for each fill the smallest free vessel that takes it."""
    free, out = sorted(w.vessels, key=lambda v: v.capacity_mg), [""] * len(totals_mg)
    for n in sorted(range(len(totals_mg)), key=lambda n: totals_mg[n]):
        vessel = next(v for v in free if v.capacity_mg * CLOSE >= totals_mg[n])
        out[n] = vessel.name
        free.remove(vessel)
    return tuple(out)


def _none(w: Wanted, n: int, why: str) -> Route:
    return replace(_with(w, (), (), "uncertainty", why, 0.0), steps=n, openings=n)


def _refused(w: Wanted, orders: Sequence[Sequence[float]]) -> Route:
    """Say of full vessels, split as if there were no limits, what stands against them first."""
    totals = orders[0]
    free = split(
        factor=w.factor,
        totals_mg=totals,
        low=[1.0] * len(totals),
        high=[NEVER] * len(totals),
        shared_reading=w.shared_reading,
    )
    factors = free or tuple([w.factor ** (1.0 / len(totals))] * len(totals))
    return _with(w, totals, factors, "uncertainty", _against(w, totals, factors), 0.0)


def _against(w: Wanted, totals: Sequence[float], factors: Sequence[float]) -> str:
    before = w.source_mg
    for n, (m, d) in enumerate(zip(totals, factors, strict=True), start=1):
        aliquot = m / d
        for what, mass in (("aliquot", aliquot), ("solvent", m - aliquot)):
            if mass < w.minimum_mg / CLOSE:
                return (
                    f"step {n}: the {what} of {figure(mass, 4)} mg is below the minimum weight of "
                    f"{figure(w.minimum_mg, 4)} mg"
                )
        if aliquot > before * CLOSE:
            return f"step {n}: the aliquot of {figure(aliquot, 4)} mg is more than there is to take it from"
        before = m / RESERVE
    return "the steps leave no room between minimum weight and vessels"
