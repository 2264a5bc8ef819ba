"""Filling the vessels of a dilution: factors of least uncertainty for given fills, and how much to fill.

For vessels filled to given masses the factors of least uncertainty are found exactly: the objective is
separable and convex in ln D, and all limits are boxes on D. More in a vessel hurts no uncertainty and costs
solvent, so one number, the level up to which vessels are filled, leads from the route of least uncertainty
(every vessel full) to that of least waste (no more than needed).
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

RESERVE = 1.1
"""So much more of an intermediate is made than is taken from it: what clings is not weighed out
(common practice)."""
MOST_STEPS, MOST_VESSELS = 6, 10
CLOSE = 1.0 + 1e-9
_TRIED = 4
"""So many of the best orders are looked at closely."""
NEVER = 1e30
"""A factor that no step has."""


@dataclass(frozen=True, slots=True)
class Vessel:
    """A vessel at hand and the mass of solution that it takes [mg]."""

    name: str
    capacity_mg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a dilution is to give, and with what it is made; masses in mg, uncertainties relative, k = 1."""

    factor: float
    amount_mg: float
    """Of the last solution."""
    vessels: tuple[Vessel, ...]
    """Each is used once."""
    sd_mg: float
    """Standard deviation of a net."""
    minimum_mg: float = 0.0
    """Smallest net that may be weighed, aliquot or solvent."""
    per_step: float = 0.0
    """Further share of each step: mixing, evaporation, adsorption."""
    shared_reading: bool = False
    """Aliquot and solvent in one vessel without zeroing between; else two nets weighed apart."""
    u_wanted: float = math.inf
    source_mg: float = math.inf
    """So much of the source there is."""
    max_steps: int = MOST_STEPS
    least_mg: float = 0.0
    """No vessel is filled with less: a drop in a large vessel dries up and is not taken out again."""


def split(
    *,
    factor: float,
    totals_mg: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
    shared_reading: bool = False,
) -> tuple[float, ...] | None:
    """Factors of least uncertainty for given fills, each within its limits; None where the limits leave none.

    Minimise Σ g(Dᵢ)/Mᵢ² with ∏ Dᵢ = F and lowᵢ ≤ Dᵢ ≤ highᵢ; g = (D − 1)² + 1 for nets weighed apart,
    g = [1 + D² + (D − 1)²]/2 for a shared middle reading. At the minimum Dᵢ·g'(Dᵢ)/Mᵢ² is the same for all
    that are not at a limit.

    >>> free = split(factor=10000, totals_mg=[20000, 5000], low=[1, 1], high=[1e9, 1e9])
    >>> held = split(factor=10000, totals_mg=[20000, 5000], low=[1, 1], high=[150.0, 150.0])
    >>> [round(d, 2) for d in free or ()], [round(d, 2) for d in held or ()]
    ([199.25, 50.19], [150.0, 66.67])
    """
    wanted = math.log(factor)
    if any(a > b * CLOSE for a, b in zip(low, high, strict=True)):
        return None
    least, most = math.fsum(map(math.log, low)), math.fsum(map(math.log, high))
    if not least - 1e-9 <= wanted <= most + 1e-9:
        return None
    # D = a·(1 + √(1 + b·λ·M²)): the positive root of Lagrange's condition.
    a, b = (0.25, 4.0) if shared_reading else (0.5, 2.0)
    squares = [b * m * m for m in totals_mg]

    def at(x: float) -> tuple[list[float], float, float]:
        out, total, rate, multiplier = [], 0.0, 0.0, math.exp(x)
        for q, lo, hi in zip(squares, low, high, strict=True):
            t = multiplier * q
            root = math.sqrt(1.0 + t)
            d = a * (1.0 + root)
            if d <= lo or d >= hi:
                d = lo if d <= lo else hi
            else:
                rate += t / (2.0 * root * (1.0 + root))
            out.append(d)
            total += math.log(d)
        return out, total - wanted, rate

    under, over = -80.0, 60.0
    equal = factor ** (1.0 / len(totals_mg))
    x = math.log(max(4.0 * (equal / (2.0 * a)) ** 2 / max(squares), 1e-30))
    found: list[float] = []
    for _ in range(80):
        found, off, rate = at(x)
        if abs(off) < 1e-12:
            break
        if off > 0:
            over = x
        else:
            under = x
        if over - under < 1e-13:
            break
        x = x - off / rate if rate > 0 else math.inf
        if not under < x < over:
            x = (under + over) / 2.0
    return tuple(found)


def variance_of(w: Wanted, factors: Sequence[float], totals_mg: Sequence[float]) -> float:
    """Relative variance of the whole factor."""
    total = len(factors) * w.per_step**2
    for d, m in zip(factors, totals_mg, strict=True):
        g = (1.0 + d * d + (d - 1.0) ** 2) / 2.0 if w.shared_reading else (d - 1.0) ** 2 + 1.0
        total += g * w.sd_mg**2 / (m * m)
    return total


def _limits(w: Wanted, totals_mg: Sequence[float]) -> tuple[list[float], list[float]]:
    """Least and greatest factor of each step: minimum weight of both nets, and what the step before gives."""
    low, high, before = [], [], w.source_mg
    for m in totals_mg:
        both = m / (m - w.minimum_mg) if m > w.minimum_mg else NEVER
        low.append(max(both, m / before))
        high.append(m / w.minimum_mg if w.minimum_mg else NEVER)
        before = m / RESERVE
    return low, high


@dataclass(frozen=True, slots=True)
class Filled:
    """Vessels as filled, with the factors of least uncertainty."""

    totals_mg: tuple[float, ...]
    factors: tuple[float, ...]
    variance: float
    waste_mg: float


def _filled(w: Wanted, totals_mg: Sequence[float]) -> Filled | None:
    """Give the factors of least uncertainty for given fills; None if these fills cannot be."""
    low, high = _limits(w, totals_mg)
    factors = split(factor=w.factor, totals_mg=totals_mg, low=low, high=high, shared_reading=w.shared_reading)
    if factors is None:
        return None
    made = sum(totals_mg) - sum(m / d for m, d in zip(totals_mg[1:], factors[1:], strict=True))
    return Filled(tuple(totals_mg), factors, variance_of(w, factors, totals_mg), max(0.0, made - w.amount_mg))


def _to_level(w: Wanted, capacities: Sequence[float], level_mg: float) -> list[float]:
    """Fill every vessel up to a level, the last with the amount needed at the least."""
    totals = [min(c, max(level_mg, w.least_mg)) for c in capacities]
    totals[-1] = max(w.amount_mg, totals[-1])
    return totals


def fullest(w: Wanted, capacities: tuple[float, ...]) -> Filled | None:
    """Fill every vessel whole; where a step then gives too little for the next, look for other fills.

    That happens only where a large vessel comes after small ones and the factor is small: then the order of
    the vessels before the last matters, and less in a later vessel may be better.
    """
    whole = _filled(w, capacities)
    if whole is not None and not _short(w, whole):
        return whole
    found = []
    for order in dict.fromkeys(itertools.permutations(capacities[:-1])):
        of = (*order, capacities[-1])
        starts = (of, (*of[:-1], w.amount_mg), _to_level(w, of, w.amount_mg))
        tried = [x for s in starts if (x := _filled(w, s)) is not None]
        found += sorted(tried, key=lambda x: x.variance)[:1]
    found.sort(key=lambda x: x.variance)
    better = [_climbed(w, capacities, x) for x in found[:_TRIED]]
    return min((*better, *found[:1]), key=lambda x: x.variance, default=None)


def _short(w: Wanted, filled: Filled) -> bool:
    """Whether a step takes all that the step before gives."""
    before = zip(filled.totals_mg, filled.totals_mg[1:], filled.factors[1:], strict=False)
    return any(m / d * RESERVE > b / CLOSE for b, m, d in before)


def _climbed(w: Wanted, capacities: Sequence[float], start: Filled) -> Filled:
    """Move one fill after the other, by ever smaller parts, while the uncertainty falls."""
    order, best, part = _vessels_of(capacities, start.totals_mg), start, 0.5
    while part > 1e-4:
        moved = False
        for n, cap in enumerate(order):
            least = w.amount_mg if n == len(order) - 1 else w.least_mg
            for way in (1.0 + part, 1.0 / (1.0 + part)):
                fills = list(best.totals_mg)
                fills[n] = min(cap, max(least, fills[n] * way))
                found = _filled(w, fills) if fills[n] != best.totals_mg[n] else None
                if found is not None and found.variance < best.variance / (1.0 + 1e-12):
                    best, moved = found, True
        if not moved:
            part /= 2.0
    return best


def _vessels_of(capacities: Sequence[float], totals_mg: Sequence[float]) -> list[float]:
    """Give each fill the smallest free capacity that takes it, the largest fills last to choose."""
    free, out = sorted(capacities), [0.0] * len(totals_mg)
    for n in sorted(range(len(totals_mg)), key=lambda n: totals_mg[n]):
        out[n] = next(c for c in free if c * CLOSE >= totals_mg[n])
        free.remove(out[n])
    return out


def leanest(w: Wanted, full: Sequence[tuple[tuple[float, ...], Filled]], u_most: float) -> Filled:
    """Fill as little as the limits and the uncertainty allow: both only get harder as the level falls."""
    best = min((x for _, x in full), key=lambda x: x.waste_mg)
    reached = math.inf
    for capacities, _ in sorted(full, key=lambda f: -min(f[0])):
        if min(capacities) >= reached:
            continue  # it would be filled the same
        low = max(w.least_mg, 1e-5 * max(capacities))
        for level in sorted({low, w.amount_mg, *capacities}):
            found = _filled(w, _to_level(w, capacities, level))
            if found is not None and math.sqrt(found.variance) <= u_most * CLOSE:
                break
        else:
            continue
        high = level
        while high > low * (1.0 + 1e-6):
            middle = math.sqrt(low * high)
            tried = _filled(w, _to_level(w, capacities, middle))
            if tried is not None and math.sqrt(tried.variance) <= u_most * CLOSE:
                found, high = tried, middle
            else:
                low = middle
        if found.waste_mg < best.waste_mg:
            best, reached = found, high
    return best


def sets(w: Wanted, n: int) -> list[tuple[float, ...]]:
    """Capacities in order: for each of the n largest that can be the last, the others before it, falling.

    A larger vessel can be filled like a smaller one, so no other choice is better; in falling order what a
    step gives is enough for the next, whatever its factor.
    """
    falling = sorted((v.capacity_mg for v in w.vessels), reverse=True)[:n]
    lasts = dict.fromkeys(c for c in falling if c * CLOSE >= w.amount_mg)
    return [(*_without(falling, last), last) for last in lasts]


def _without(capacities: Sequence[float], one: float) -> list[float]:
    out = list(capacities)
    out.remove(one)
    return out
