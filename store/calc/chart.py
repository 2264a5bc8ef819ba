"""Individuals chart with Nelson's rules by name."""

import itertools
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from store.calc.guard import finite
from store.errors import OutOfRange

SOURCE = (
    "NIST/SEMATECH e-Handbook 6.3.2.2 (limits, d2 = 1.128); "
    "L.S. Nelson, J. Quality Technology 16 (1984) 237-239 (rules)"
)
D2 = 1.128
"""Mean range of two normal values in standard deviations, as printed in the e-Handbook."""

NELSON = {
    1: "one point beyond 3 sigma",
    2: "nine points in a row on one side of the mean",
    3: "six points in a row steadily up or down",
    4: "fourteen points in a row alternating up and down",
    5: "two of three points beyond 2 sigma on one side",
    6: "four of five points beyond 1 sigma on one side",
    7: "fifteen points in a row within 1 sigma",
    8: "eight points in a row outside 1 sigma, both sides",
}
"""Nelson's eight tests. Other rule sets differ: Western Electric has eight on one side for nine."""


@dataclass(frozen=True, slots=True)
class Signal:
    """A rule that was broken, and the point that completed it, counted from 1."""

    rule: int
    name: str
    at: int


@dataclass(frozen=True, slots=True)
class Chart:
    """Limits of an individuals chart in the unit of its values, and its signals."""

    mean: float
    sigma: float
    ucl: float
    lcl: float
    signals: tuple[Signal, ...]


def individuals(values: Sequence[float]) -> Chart:
    """Individuals chart: limits at mean ∓ 3·MR̄/d2 and the signals by all of Nelson's rules.

    >>> c = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(c.ucl, 4), round(c.lcl, 4)
    (55.8041, 45.8159)

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
    """
    if len(values) < 3:
        raise OutOfRange(f"{len(values)} values are too few: a chart needs three or more.")
    for value in values:
        finite(value, "value")
    mean = statistics.fmean(values)
    sigma = statistics.fmean(abs(b - a) for a, b in itertools.pairwise(values)) / D2
    z = [(v - mean) / sigma for v in values] if sigma > 0 else [0.0] * len(values)
    return Chart(mean, sigma, mean + 3 * sigma, mean - 3 * sigma, nelson(z) if sigma > 0 else ())


def nelson(z: Sequence[float]) -> tuple[Signal, ...]:
    """Signals in distances from the mean, in standard deviations; each run is told once, at its completion.

    >>> [(s.rule, s.at) for s in nelson([-1.4, -0.9, -0.3, 0.2, 0.7, 1.1, 0.4])]
    [(3, 6)]
    """
    out = []
    for rule, (length, broken) in _TESTS.items():
        was = False
        for end in range(length, len(z) + 1):
            now = broken(z[end - length : end])
            if now and (not was or rule == 1):
                out.append(Signal(rule, NELSON[rule], end))
            was = now
    return tuple(sorted(out, key=lambda s: (s.at, s.rule)))


def _up_or_down(w: Sequence[float]) -> bool:
    steps = [b - a for a, b in itertools.pairwise(w)]
    return all(s > 0 for s in steps) or all(s < 0 for s in steps)


def _alternating(w: Sequence[float]) -> bool:
    steps = [b - a for a, b in itertools.pairwise(w)]
    return all(a * b < 0 for a, b in itertools.pairwise(steps))


def _beyond(w: Sequence[float], *, count: int, sigma: float) -> bool:
    # The last point must be one of them: the run is completed by a point that lies out.
    high, low = sum(x > sigma for x in w), sum(x < -sigma for x in w)
    return (high >= count and w[-1] > sigma) or (low >= count and w[-1] < -sigma)


_TESTS: dict[int, tuple[int, Callable[[Sequence[float]], bool]]] = {
    1: (1, lambda w: abs(w[0]) > 3),
    2: (9, lambda w: all(x > 0 for x in w) or all(x < 0 for x in w)),
    3: (6, _up_or_down),
    4: (14, _alternating),
    5: (3, lambda w: _beyond(w, count=2, sigma=2.0)),
    6: (5, lambda w: _beyond(w, count=4, sigma=1.0)),
    7: (15, lambda w: all(abs(x) < 1 for x in w)),
    8: (8, lambda w: all(abs(x) > 1 for x in w) and any(x > 0 for x in w) and any(x < 0 for x in w)),
}
