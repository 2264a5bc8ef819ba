"""A dilution with one-mark glassware of class A, beside the one by mass."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from store.calc.guard import not_negative, positive
from store.calc.uncertainty import rectangular
from store.errors import OutOfRange

SOURCE = (
    "limits of class A: one-mark pipettes ISO 648:2008, one-mark flasks ISO 1042:1998 (from memory), "
    "as rectangular a/√3 (QUAM:2012, 7.13, E1)"
)
PIPETTES_ML: Mapping[float, float] = {
    0.5: 0.005, 1: 0.008, 2: 0.010, 5: 0.015, 10: 0.020, 20: 0.030, 25: 0.030, 50: 0.050,
    100: 0.080,
}  # fmt: skip
"""Nominal volume and ± limit [mL] of a one-mark pipette, class A; ISO 648:2008, from memory.

15 mL is left out: few have it, and its factors of three leave no even whole."""
FLASKS_ML: Mapping[float, float] = {
    5: 0.025, 10: 0.025, 20: 0.040, 25: 0.040, 50: 0.060, 100: 0.10, 200: 0.15, 250: 0.15, 500: 0.25,
    1000: 0.40, 2000: 0.60,
}  # fmt: skip
"""Nominal volume and ± limit [mL] of a one-mark flask, class A; ISO 1042:1998, from memory."""
NEAR = 0.002
"""Whole factors that differ by less than this part are equally near."""


@dataclass(frozen=True, slots=True)
class Pair:
    """One step: so much from a pipette, made up to the mark of a flask."""

    pipette_ml: float
    flask_ml: float

    @property
    def factor(self) -> float:
        """Flask over pipette."""
        return self.flask_ml / self.pipette_ml

    @property
    def u_rel(self) -> float:
        """Relative standard uncertainty from the two limits."""
        return math.hypot(
            rectangular(PIPETTES_ML[self.pipette_ml]) / self.pipette_ml,
            rectangular(FLASKS_ML[self.flask_ml]) / self.flask_ml,
        )


@dataclass(frozen=True, slots=True)
class ByVolume:
    """A route by volume: the factor it gives, how far that is from the one wanted, and its uncertainty."""

    pairs: tuple[Pair, ...]
    factor: float
    off: float
    """Relative, of the factor given from the factor wanted."""
    u_rel: float
    waste_ml: float
    """All that is made and not needed."""


def beside(factors: Sequence[float], *, amount_ml: float, per_step: float = 0.0) -> ByVolume:
    """Give the same steps with glassware of class A: for each a pair near its factor.

    The last two steps are chosen together, so that the whole factor comes out. Every piece is another one, so
    their limits are independent; the same pipette and flask used again would add up straight. Reading the
    mark, and another temperature than 20 °C, come on top.

    Parameters
    ----------
    factors
        Of the steps.
    amount_ml
        Needed of the last solution [mL].
    per_step
        Further relative standard uncertainty of each step.

    Examples
    --------
    >>> b = beside([10, 10, 10, 10], amount_ml=100)
    >>> b.factor, round(b.off, 6), b.pairs[0].factor
    (10000.0, 0.0, 10.0)

    References
    ----------
    ISO 648:2008; ISO 1042:1998; QUAM:2012.P1, A1.
    """
    if not factors:
        raise OutOfRange("A dilution has one step or more.")
    positive(amount_ml, "amount", "mL")
    not_negative(per_step, "uncertainty per step")
    for factor in factors:
        if positive(factor, "dilution factor") <= 1:
            raise OutOfRange(f"A dilution factor of {factor:g} dilutes nothing.")
    wanted, pairs, given = math.prod(factors), list[Pair](), 1.0
    for factor in factors[:-2]:
        pairs.append(_nearest(_pairs(0.0), factor))
        given *= pairs[-1].factor
    if len(factors) > 1:
        pairs += _both(wanted / given, like=factors[-2] / factors[-1], least_ml=amount_ml)
    else:
        pairs.append(_nearest(_pairs(amount_ml), wanted))
    given = math.prod(p.factor for p in pairs)
    made = sum(p.flask_ml for p in pairs) - sum(p.pipette_ml for p in pairs[1:]) - amount_ml
    variance = sum(p.u_rel**2 + per_step**2 for p in pairs)
    return ByVolume(tuple(pairs), given, given / wanted - 1.0, math.sqrt(variance), max(0.0, made))


def _pairs(least_ml: float) -> list[Pair]:
    """Give for every factor the surest pair whose flask holds enough; of equally sure ones the smallest."""
    flasks = [f for f in FLASKS_ML if f >= least_ml * (1 - 1e-9)]
    if not flasks:
        most = max(FLASKS_ML)
        raise OutOfRange(f"No one-mark flask holds {least_ml:.4g} mL: the largest holds {most:g} mL.")
    best: dict[float, Pair] = {}
    for pair in (Pair(p, f) for p in PIPETTES_ML for f in flasks if p < f):
        key = round(pair.factor, 9)
        if key not in best or _cost(pair) < _cost(best[key]):
            best[key] = pair
    return list(best.values())


def _cost(pair: Pair) -> float:
    """A larger flask is a little surer and makes much waste: weigh one against the other."""
    return pair.u_rel * math.sqrt(pair.flask_ml)


def _nearest(pairs: Sequence[Pair], factor: float) -> Pair:
    return min(pairs, key=lambda p: (abs(math.log(p.factor / factor)), _cost(p)))


def _both(factor: float, *, like: float, least_ml: float) -> tuple[Pair, Pair]:
    """Give two pairs whose product is nearest to a factor; of near ones those split most like the route."""
    wanted = math.log(factor)
    firsts = [(math.log(p.factor), p) for p in _pairs(0.0)]
    lasts = [(math.log(p.factor), p) for p in _pairs(least_ml)]
    off = min(abs(a + b - wanted) for a, _ in firsts for b, _ in lasts)
    near = [(abs(a - b - math.log(like)), p, q) for a, p in firsts for b, q in lasts
            if abs(a + b - wanted) <= off + NEAR]  # fmt: skip
    _, first, last = min(near, key=lambda x: (round(x[0], 9), _cost(x[1]) + _cost(x[2])))
    return first, last
