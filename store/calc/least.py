"""Least powder: the smallest mass of solid that is sure enough and that the balance can weigh."""

import math
from dataclasses import dataclass, replace

from store.calc.budget import predicted
from store.calc.given import SolutionInputs
from store.calc.guard import not_negative, positive

SOURCE = "JCGM 100:2008 by bisection over the mass of solid; USP <41> (minimum weight)"
MOST_MG = 1e6
"""More than this nobody weighs to be sure: what remains then is no matter of mass."""


@dataclass(frozen=True, slots=True)
class Least:
    """The least solid [mg], the relative standard uncertainty it gives, and what decides."""

    solid_mg: float
    """Infinite where no mass is sure enough."""
    u_rel: float
    decides: str
    """`minimum weight`, `uncertainty`, or `not by mass`: purity and the rest alone are more than wanted."""


def least_solid(given: SolutionInputs, *, target: float, u_rel: float, minimum_mg: float) -> Least:
    """Give the smallest mass of solid whose solution has at most a relative standard uncertainty.

    Parameters
    ----------
    given
        As for a solution; its readings of solid and solvent are not used.
    target
        Concentration, in the unit of `given`.
    u_rel
        Relative standard uncertainty that is enough; of everything, purity included.
    minimum_mg
        Minimum weight [mg]; nothing below it is weighed.

    Examples
    --------
    >>> from store.calc.budget import BalanceData, Content
    >>> g = SolutionInputs(unit="mg/g", solid_start_mg=0, solid_end_mg=10.0, solvent_start_mg=0,
    ...     solvent_end_mg=1, balance=BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.01),
    ...     content=Content(assay=0.99, u_assay=0.0), solvent_density_kg_m3=998.2)
    >>> l = least_solid(g, target=1.0, u_rel=0.001, minimum_mg=2.0)
    >>> round(l.solid_mg), l.decides
    (10, 'uncertainty')
    >>> least_solid(g, target=1.0, u_rel=0.01, minimum_mg=20.0).decides
    'minimum weight'
    """
    positive(u_rel, "uncertainty that is enough")
    low = max(not_negative(minimum_mg, "minimum weight", "mg"), given.balance.readability_mg)

    def at(mass_mg: float) -> float:
        weighed = replace(given, solid_start_mg=0.0, solid_end_mg=mass_mg)
        return predicted(weighed, target=target)[1].u_rel

    first = at(low)
    if first <= u_rel:
        return Least(low, first, "minimum weight")
    floor = at(MOST_MG)
    if floor > u_rel:
        return Least(math.inf, floor, "not by mass")
    high = MOST_MG
    while high > low * 1.0005:
        middle = math.sqrt(low * high)
        if at(middle) <= u_rel:
            high = middle
        else:
            low = middle
    return Least(high, at(high), "uncertainty")
