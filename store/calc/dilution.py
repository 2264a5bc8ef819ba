"""Dilution by mass: the uncertainty of a step, and the design of a route of one to six steps."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from store.calc.guard import not_negative, positive
from store.errors import OutOfRange
from store.units import figure

SOURCE = (
    "JCGM 100:2008 applied to D = (m + S)/m with independent nets (u²(D)/D² = s²[(D−1)²+1]/M²) "
    "or with a shared middle reading; derived here, checked by brute force"
)


def u_rel_separate(*, factor: float, total_mg: float, sd_mg: float) -> float:
    """Relative standard uncertainty of a dilution factor from two nets weighed apart.

    u²(D)/D² = s²·[(D − 1)² + 1]/M²

    Parameters
    ----------
    factor
        Dilution factor D = M/m.
    total_mg
        Mass M of the diluted solution [mg].
    sd_mg
        Standard deviation s of a net [mg].

    Examples
    --------
    >>> round(u_rel_separate(factor=10000, total_mg=20000, sd_mg=0.01), 7)
    0.0049995
    """
    _step(factor, total_mg, sd_mg)
    return sd_mg * math.sqrt((factor - 1.0) ** 2 + 1.0) / total_mg


def u_rel_shared(*, factor: float, total_mg: float, sd_mg: float) -> float:
    """Relative standard uncertainty of a dilution factor in one vessel without zeroing between.

    Three readings, the middle one shared: s_r²·[1 + D² + (D − 1)²]/M², s_r = s/√2.

    >>> round(u_rel_shared(factor=100, total_mg=20000, sd_mg=0.01), 9)
    4.9752e-05
    """
    _step(factor, total_mg, sd_mg)
    return sd_mg / math.sqrt(2.0) * math.sqrt(1.0 + factor**2 + (factor - 1.0) ** 2) / total_mg


def _step(factor: float, total_mg: float, sd_mg: float) -> None:
    positive(total_mg, "mass of diluted solution", "mg")
    not_negative(sd_mg, "standard deviation", "mg")
    if positive(factor, "dilution factor") < 1:
        raise OutOfRange(f"A dilution factor of {figure(factor)} concentrates: it is 1 or more.")


def u_rel_volumetric(
    *,
    pipette_ml: float,
    u_pipette_ml: float,
    flask_ml: float,
    u_flask_ml: float,
    steps: int,
    reused: bool = False,
) -> float:
    """Relative standard uncertainty of equal steps by volume.

    Independent glassware adds in quadrature, one pipette and flask used again adds linearly.

    >>> p, f = 0.02 / 3**0.5, 0.1 / 3**0.5
    >>> round(u_rel_volumetric(pipette_ml=10, u_pipette_ml=p, flask_ml=100, u_flask_ml=f, steps=4), 6)
    0.002582
    """
    if steps < 1:
        raise OutOfRange("A dilution has one step or more.")
    one = math.hypot(
        not_negative(u_pipette_ml, "uncertainty") / positive(pipette_ml, "pipette", "mL"),
        not_negative(u_flask_ml, "uncertainty") / positive(flask_ml, "flask", "mL"),
    )
    return one * (steps if reused else math.sqrt(steps))


def best_factors(*, total_factor: float, vessels_mg: Sequence[float]) -> tuple[float, ...]:
    """Factors of the steps that give the least uncertainty, for nets weighed apart on one balance.

    Minimise Σ [(Dᵢ − 1)² + 1]/Cᵢ² with ∏ Dᵢ = F. Each term is convex in ln D, so the one stationary point,
    Dᵢ(Dᵢ − 1)/Cᵢ² the same for all i, is the minimum; equal vessels give equal factors.

    >>> [round(d, 2) for d in best_factors(total_factor=10000, vessels_mg=[20000, 5000])]
    [199.25, 50.19]
    """
    if positive(total_factor, "dilution factor") < 1:
        raise OutOfRange(f"A dilution factor of {figure(total_factor)} concentrates: it is 1 or more.")
    if not vessels_mg:
        raise OutOfRange("A dilution has one step or more.")
    for vessel in vessels_mg:
        positive(vessel, "vessel", "mg")
    if len(set(vessels_mg)) == 1:
        return (total_factor ** (1.0 / len(vessels_mg)),) * len(vessels_mg)
    wanted = math.log(total_factor)

    def factors(log_multiplier: float) -> list[float]:
        multiplier = math.exp(log_multiplier)
        return [(1.0 + math.sqrt(1.0 + 4.0 * multiplier * c * c)) / 2.0 for c in vessels_mg]

    low, high = -200.0, 200.0
    for _ in range(300):
        middle = (low + high) / 2.0
        if sum(math.log(d) for d in factors(middle)) < wanted:
            low = middle
        else:
            high = middle
    return tuple(factors((low + high) / 2.0))


@dataclass(frozen=True, slots=True)
class Route:
    """One way to a dilution.

    Attributes
    ----------
    steps
        Number of steps.
    factors, aliquots_mg
        Of each step.
    relative_uncertainty
        Of the whole factor, standard.
    stock_used_mg
        Aliquot of the stock itself [mg].
    openings
        How often something that holds the analyte is opened to take from it: the stock and the intermediates.
    feasible, why_not
        Whether every step can be made, and the first reason if not.
    source_openings
        Of the stock alone.
    """

    steps: int
    factors: tuple[float, ...]
    aliquots_mg: tuple[float, ...]
    relative_uncertainty: float
    stock_used_mg: float
    openings: int
    feasible: bool
    why_not: str
    source_openings: int = 1


@dataclass(frozen=True, slots=True)
class Design:
    """All routes, and the number of steps of the best that can be made; 0 if none can."""

    routes: tuple[Route, ...]
    best: int


def routes(
    *,
    total_factor: float,
    vessel_mg: float,
    sd_mg: float,
    minimum_weight_mg: float = 0.0,
    per_step: float = 0.0,
    max_steps: int = 6,
    shared_reading: bool = False,
) -> Design:
    """Every route of equal steps in equal vessels, from one step on, and the best.

    Parameters
    ----------
    total_factor
        Whole dilution factor F.
    vessel_mg
        Mass of solution that each vessel takes [mg].
    sd_mg
        Standard deviation of a net [mg].
    minimum_weight_mg
        Smallest net that may be weighed [mg]; holds for aliquot and for diluent.
    per_step
        Further relative standard uncertainty of each step: evaporation, mixing, adsorption.
    max_steps
        Most steps, 1 to 6.
    shared_reading
        Aliquot and diluent weighed one on the other without zeroing.

    Examples
    --------
    >>> d = routes(total_factor=1e4, vessel_mg=20000, sd_mg=0.01, minimum_weight_mg=20, per_step=5e-5)
    >>> d.best, [r.feasible for r in d.routes], round(d.routes[2].relative_uncertainty, 9)
    (3, [False, True, True, True, True, True], 8.8416e-05)
    """
    if positive(total_factor, "dilution factor") < 1:
        raise OutOfRange(
            f"A dilution factor of {figure(total_factor)} concentrates: the goal must be weaker."
        )
    if total_factor == 1:
        raise OutOfRange("Start and goal are the same: there is nothing to dilute.")
    if not 1 <= max_steps <= 6:
        raise OutOfRange(f"{max_steps} steps: from 1 to 6 are designed.")
    positive(vessel_mg, "vessel", "mg", most=1e8)
    positive(sd_mg, "standard deviation", "mg")
    not_negative(minimum_weight_mg, "minimum weight", "mg")
    not_negative(per_step, "uncertainty per step")
    u_step = u_rel_shared if shared_reading else u_rel_separate
    out = []
    for n in range(1, max_steps + 1):
        factors = best_factors(total_factor=total_factor, vessels_mg=[vessel_mg] * n)
        aliquots = tuple(vessel_mg / d for d in factors)
        variance = sum(u_step(factor=d, total_mg=vessel_mg, sd_mg=sd_mg) ** 2 + per_step**2 for d in factors)
        why = _why_not(aliquots, vessel_mg, minimum_weight_mg)
        out.append(Route(n, factors, aliquots, math.sqrt(variance), aliquots[0], n, not why, why))
    can = [r for r in out if r.feasible]
    return Design(tuple(out), min(can, key=lambda r: (r.relative_uncertainty, r.steps)).steps if can else 0)


def _why_not(aliquots_mg: Sequence[float], vessel_mg: float, minimum_mg: float) -> str:
    for n, aliquot in enumerate(aliquots_mg, start=1):
        for what, mass in (("aliquot", aliquot), ("diluent", vessel_mg - aliquot)):
            if mass < minimum_mg * (1.0 - 1e-12):
                return (
                    f"step {n}: the {what} of {figure(mass, 4)} mg is below the minimum weight "
                    f"of {figure(minimum_mg, 4)} mg"
                )
    return ""
