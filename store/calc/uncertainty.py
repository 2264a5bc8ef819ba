"""The law of propagation of uncertainty, with a budget by component.

A model is any function of the input values; sensitivities are central differences over a hundredth of an
input's uncertainty, so what is correlated is correlated by being the same input.
"""

import math
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from store.calc.guard import finite, not_negative
from store.errors import OutOfRange

SOURCE = "JCGM 100:2008 (GUM)"
_REST = 16.0 * sys.float_info.epsilon
"""A change of the result by less, relative to it, is none: the last bits of a few operations."""
WELCH_SATTERTHWAITE = "effective degrees of freedom by Welch-Satterthwaite, which assumes independent inputs"


def rectangular(half_width: float) -> float:
    """Standard uncertainty of ± limits with nothing known inside: a/√3 (GUM 4.3.7).

    >>> round(rectangular(0.3), 4)
    0.1732
    """
    return not_negative(half_width, "half-width") / math.sqrt(3.0)


def triangular(half_width: float) -> float:
    """Standard uncertainty of ± limits with the middle more likely: a/√6 (GUM 4.3.9).

    >>> round(triangular(0.1), 4)
    0.0408
    """
    return not_negative(half_width, "half-width") / math.sqrt(6.0)


def one_sided(bound: float) -> tuple[float, float]:
    """Correction and standard uncertainty of what lies anywhere from 0 to a bound: a/2 and a/√12 (GUM 4.3.8).

    >>> one_sided(6.0)
    (3.0, 1.7320508075688774)
    """
    return not_negative(bound, "bound") / 2.0, bound / math.sqrt(12.0)


@dataclass(frozen=True, slots=True)
class Input:
    """One input of a model.

    Attributes
    ----------
    name
        What it is, for the budget.
    value, u
        Value and standard uncertainty in `unit`.
    unit
        Of both.
    dof
        Degrees of freedom of `u`.
    component
        Line of the budget that it is counted in; its name where empty.
    pool
        Inputs of one pool took their `u` from one and the same estimate, so that their degrees of freedom
        are counted once.
    """

    name: str
    value: float
    u: float
    unit: str = ""
    dof: float = math.inf
    component: str = ""
    pool: str = ""


@dataclass(frozen=True, slots=True)
class Component:
    """One line of a budget.

    Attributes
    ----------
    name
        What it is.
    share
        Its part of the variance of the result; all shares add up to 1.
    u
        Its standard uncertainty, in `unit`.
    value, unit
        Its value.
    sensitivity
        Change of the result per unit of it; for a line of several inputs the root of the summed squares.
    contribution
        Its part of the result's standard uncertainty, in the unit of the result.
    """

    name: str
    share: float
    u: float
    value: float
    unit: str
    sensitivity: float
    contribution: float


@dataclass(frozen=True, slots=True)
class Budget:
    """Result of a propagation; everything in the unit of the result."""

    value: float
    u: float
    dof: float
    k: float
    U: float
    components: tuple[Component, ...]

    @property
    def u_rel(self) -> float:
        """Relative standard uncertainty; infinite for a value of zero."""
        return self.u / abs(self.value) if self.value else math.inf


Model = Callable[[Sequence[float]], float]


def propagate(
    model: Model,
    inputs: Sequence[Input],
    *,
    correlations: Mapping[tuple[int, int], float] | None = None,
    confidence: float = 0.95,
) -> Budget:
    """Propagate standard uncertainties through a model.

    u²(y) = Σᵢ Σⱼ cᵢ·cⱼ·u(xᵢ)·u(xⱼ)·rᵢⱼ

    Parameters
    ----------
    model
        Function of the input values, in the order of `inputs`. [1]_
    inputs
        The inputs.
    correlations
        Correlation coefficients of pairs of inputs, by their places; pairs left out are independent.
    confidence
        Of the expanded uncertainty.

    Examples
    --------
    >>> b = propagate(lambda x: x[0] / x[1], [Input("m", 10.0, 0.1, "mg"), Input("V", 5.0, 0.01, "mL")])
    >>> round(b.value, 6), round(b.u, 6), [round(c.share, 4) for c in b.components]
    (2.0, 0.020396, [0.9615, 0.0385])

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2, 5.2.2, G.4.1.
    """
    values = [finite(i.value, i.name) for i in inputs]
    value = finite(model(values), "result")
    slopes = [
        _slope(model, values, n, not_negative(i.u, f"uncertainty of {i.name}")) for n, i in enumerate(inputs)
    ]
    parts = [c * i.u for c, i in zip(slopes, inputs, strict=True)]
    with_others = [p * p for p in parts]
    for (a, b), r in (correlations or {}).items():
        if a == b or not -1.0 <= r <= 1.0:
            raise OutOfRange(f"A correlation of {r} between two inputs is none: it lies from -1 to 1.")
        with_others[a] += r * parts[a] * parts[b]
        with_others[b] += r * parts[a] * parts[b]
    variance = max(0.0, sum(with_others))
    u = math.sqrt(variance)
    dof = _effective_dof(inputs, parts, variance)
    k = coverage_factor(dof, confidence=confidence)
    return Budget(value, u, dof, k, k * u, _components(inputs, slopes, parts, with_others, variance))


def _slope(model: Model, values: list[float], n: int, u: float) -> float:
    x = values[n]
    h = 0.01 * u if u > 0 else 1e-6 * max(abs(x), 1e-6)
    values[n] = x + h
    up = model(values)
    values[n] = x - h
    down = model(values)
    values[n] = x
    if abs(up - down) <= _REST * max(abs(up), abs(down)):
        return 0.0  # the input cancels out of the result: what is left is a rest of binary arithmetic
    return (up - down) / (2.0 * h)


def _effective_dof(inputs: Sequence[Input], parts: Sequence[float], variance: float) -> float:
    pools: dict[str, float] = {}
    dofs: dict[str, float] = {}
    for n, (given, part) in enumerate(zip(inputs, parts, strict=True)):
        if math.isfinite(given.dof):
            key = given.pool or f"#{n}"
            pools[key] = pools.get(key, 0.0) + part * part
            dofs[key] = given.dof
    below = sum(v * v / dofs[key] for key, v in pools.items())
    return variance * variance / below if below > 0 else math.inf


def _components(
    inputs: Sequence[Input],
    slopes: Sequence[float],
    parts: Sequence[float],
    with_others: Sequence[float],
    variance: float,
) -> tuple[Component, ...]:
    lines: dict[str, list[int]] = {}
    for n, given in enumerate(inputs):
        lines.setdefault(given.component or given.name, []).append(n)
    out = []
    for name, members in lines.items():
        own = sum(with_others[n] for n in members)
        contribution = math.sqrt(sum(parts[n] ** 2 for n in members))
        share = own / variance if variance > 0 else 0.0
        if len(members) == 1:
            (n,) = members
            i = inputs[n]
            out.append(Component(name, share, i.u, i.value, i.unit, slopes[n], contribution))
        else:
            units = {inputs[n].unit for n in members}
            u = math.sqrt(sum(inputs[n].u ** 2 for n in members)) if len(units) == 1 else math.nan
            slope = contribution / u if u and math.isfinite(u) else math.nan
            last = inputs[members[-1]]
            unit = last.unit if len(units) == 1 else ""
            out.append(Component(name, share, u, last.value, unit, slope, contribution))
    return tuple(sorted(out, key=lambda c: -c.share))


def coverage_factor(dof: float, *, confidence: float = 0.95) -> float:
    """Coverage factor: two-sided quantile of Student's t, the degrees of freedom cut to a whole number.

    >>> round(coverage_factor(9), 3), round(coverage_factor(math.inf), 3)
    (2.262, 1.96)

    References
    ----------
    JCGM 100:2008, G.3, G.4.1 and Table G.2.
    """
    if dof < 1:
        raise OutOfRange(f"There are {dof:.2g} degrees of freedom: at least 1 are needed; weigh more often.")
    whole = min(math.floor(dof), 100_000) if math.isfinite(dof) else 0
    return _t_quantile(whole, confidence)


@lru_cache(maxsize=4096)
def _t_quantile(dof: int, confidence: float) -> float:
    low, high = 0.0, 2.0
    while _inside(high, dof) < confidence:
        low, high = high, 2.0 * high
    below, above = _inside(low, dof) - confidence, _inside(high, dof) - confidence
    side = 0
    for _ in range(200):
        # False position, the weight of an end that stays twice halved: each step costs a long series.
        at = high - above * (high - low) / (above - below)
        off = _inside(at, dof) - confidence
        if abs(off) < 1e-14 or high - low < 1e-13 * high:
            return at
        if off < 0.0:
            low, below, above, side = at, off, above / 2.0 if side < 0 else above, -1
        else:
            high, above, below, side = at, off, below / 2.0 if side > 0 else below, 1
    return (low + high) / 2.0


def _inside(t: float, dof: int) -> float:
    """Probability that |T| < t: the finite series of Abramowitz and Stegun 26.7.3 and 26.7.4."""
    if dof == 0 or dof > 2000:  # beyond that the normal law with its first correction errs by 2e-6 at most
        z = t if dof == 0 else t * (1.0 - 1.0 / (4.0 * dof)) / math.sqrt(1.0 + t * t / (2.0 * dof))
        return math.erf(z / math.sqrt(2.0))
    angle = math.atan(t / math.sqrt(dof))
    cosine2 = math.cos(angle) ** 2
    if dof % 2:
        total, term = 0.0, math.cos(angle)
        for n in range(1, dof - 1, 2):
            total += term
            term *= cosine2 * (n + 1) / (n + 2)
        return 2.0 / math.pi * (angle + math.sin(angle) * total)
    total, term = 0.0, 1.0
    for n in range(0, dof - 1, 2):
        total += term
        term *= cosine2 * (n + 1) / (n + 2)
    return math.sin(angle) * total
