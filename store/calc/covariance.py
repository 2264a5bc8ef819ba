"""Several results of the same inputs: their values and the covariance matrix that a calibration fit needs."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from store.calc.guard import not_negative, positive
from store.calc.uncertainty import Input

SOURCE = "JCGM 102:2011, 6.2: U_y = C·U_x·Cᵀ, the sensitivities C by central differences"


@dataclass(frozen=True, slots=True)
class Series:
    """Values of the levels and their covariance matrix, in the order of the levels."""

    names: tuple[str, ...]
    values: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    @property
    def u(self) -> tuple[float, ...]:
        """Standard uncertainty of each level."""
        return tuple(math.sqrt(max(0.0, row[n])) for n, row in enumerate(self.covariance))

    @property
    def correlation(self) -> tuple[tuple[float, ...], ...]:
        """Correlation matrix; a level without an uncertainty is correlated with none."""
        u = self.u
        return tuple(
            tuple(
                1.0 if i == j else max(-1.0, min(1.0, c / (u[i] * u[j]))) if u[i] and u[j] else 0.0
                for j, c in enumerate(row)
            )
            for i, row in enumerate(self.covariance)
        )


Models = Callable[[Sequence[float]], Sequence[float]]


def joint(models: Models, inputs: Sequence[Input]) -> tuple[tuple[float, ...], tuple[tuple[float, ...], ...]]:
    """Values of several results of the same independent inputs, and their covariance matrix.

    u(yᵢ, yⱼ) = Σₖ (∂yᵢ/∂xₖ)·(∂yⱼ/∂xₖ)·u²(xₖ)

    >>> a, b = Input("a", 2.0, 0.1), Input("b", 3.0, 0.2)
    >>> values, matrix = joint(lambda x: (x[0] + x[1], x[0] - x[1]), [a, b])
    >>> values, [[round(c, 6) for c in row] for row in matrix]
    ((5.0, -1.0), [[0.05, -0.03], [-0.03, 0.05]])

    References
    ----------
    JCGM 102:2011, 6.2; JCGM 100:2008, 5.2.2 and H.2.3.
    """
    at = [i.value for i in inputs]
    values = tuple(models(at))
    parts = []
    for n, given in enumerate(inputs):
        u = not_negative(given.u, f"uncertainty of {given.name}")
        if u:
            parts.append(_moved(models, at, n, 0.01 * u))
    many = range(len(values))
    return values, tuple(tuple(math.fsum(p[i] * p[j] for p in parts) for j in many) for i in many)


def _moved(models: Models, at: list[float], n: int, h: float) -> list[float]:
    """By how much each result changes with one standard uncertainty of an input, 100·h."""
    x = at[n]
    at[n] = x + h
    up = models(at)
    at[n] = x - h
    down = models(at)
    at[n] = x
    return [50.0 * (a - b) for a, b in zip(up, down, strict=True)]


def scaled(series: Series, *, factor: float, u_rel: float = 0.0) -> Series:
    """Give the series in another unit, y = f·w, where f (a density, a molar mass) is common to all levels.

    u(yᵢ, yⱼ) = f²·u(wᵢ, wⱼ) + yᵢ·yⱼ·u_rel²(f)

    >>> s = Series(("a", "b"), (1.0, 2.0), ((0.01, 0.0), (0.0, 0.04)))
    >>> [[round(c, 4) for c in row] for row in scaled(s, factor=2.0, u_rel=0.1).covariance]
    [[0.08, 0.08], [0.08, 0.32]]
    """
    positive(factor, "factor")
    u2 = not_negative(u_rel, "uncertainty of the factor") ** 2
    values = tuple(factor * v for v in series.values)
    matrix = tuple(
        tuple(factor**2 * c + values[i] * values[j] * u2 for j, c in enumerate(row))
        for i, row in enumerate(series.covariance)
    )
    return replace(series, values=values, covariance=matrix)
