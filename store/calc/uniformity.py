"""Uniformity of equal portions."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from store.calc.guard import finite, positive
from store.errors import OutOfRange

SOURCE = "USP <905> and Ph. Eur. 2.9.40, Table 2"
MOST_PERCENT = 300.0
"""A content above it is taken for a slip: a mass, or a wrong unit; our own choice."""
L1, L2 = 15.0, 25.0
K_TEN, K_THIRTY = 2.4, 2.0


@dataclass(frozen=True, slots=True)
class Acceptance:
    """Acceptance value with what it rests on; all in % of the label."""

    acceptance_value: float
    mean: float
    s: float
    reference: float
    k: float
    passes: bool
    outside: int = 0
    """Contents outside (1 ± 0.25)·M; of thirty none may be."""

    @property
    def stage(self) -> int:
        """Stage 1 is judged with ten; what fails it is judged again with thirty, stage 2."""
        return 1 if self.k == K_TEN else 2


def acceptance(contents_percent: Sequence[float], *, target_percent: float = 100.0) -> Acceptance:
    """Acceptance value, AV = |M − X| + k·s.

    Parameters
    ----------
    contents_percent
        Ten or thirty contents [% of label]. k is 2.4 for 10, 2.0 for 30. [1]_
    target_percent
        Target T of the label [%]: M is X held between 98.5 and 101.5, or between 98.5 and T if T is more.

    Examples
    --------
    >>> a = acceptance([99.2, 101.1, 98.7, 100.4, 99.9, 100.8, 97.9, 101.5, 100.0, 99.5])
    >>> round(a.acceptance_value, 3), a.passes
    (2.673, True)

    Notes
    -----
    Ten pass with AV ≤ 15.0; thirty pass with AV ≤ 15.0 and no unit outside (1 ± 0.25)·M.

    References
    ----------
    .. [1] USP <905>; Ph. Eur. 2.9.40.
    """
    n = len(contents_percent)
    if n not in (10, 30):
        raise OutOfRange(f"{n} contents: an acceptance value is defined for 10 or for 30.")
    for content in contents_percent:
        if finite(content, "content") < 0:
            raise OutOfRange("A content is not negative: check the values.")
    positive(target_percent, "target", "%", most=200.0)
    mean, s = statistics.fmean(contents_percent), statistics.stdev(contents_percent)
    reference = min(max(mean, 98.5), max(101.5, target_percent))
    k = K_TEN if n == 10 else K_THIRTY
    av = abs(reference - mean) + k * s
    low, high = (1 - L2 / 100) * reference, (1 + L2 / 100) * reference
    outside = sum(not low <= x <= high for x in contents_percent)
    return Acceptance(av, mean, s, reference, k, av <= L1 and (n == 10 or not outside), outside)


def by_weight(masses_mg: Sequence[float], *, mean_assay_percent: float) -> list[float]:
    """Contents by weight variation, x_i = w_i · A / W̄, from one assay of what was portioned.

    Parameters
    ----------
    masses_mg
        Net masses w_i of the single units [mg]; W̄ is their mean.
    mean_assay_percent
        Mean content A of a unit, by an assay of the lot [% of label]. [1]_

    Examples
    --------
    >>> [round(x, 2) for x in by_weight([98.0, 100.0, 102.0], mean_assay_percent=99.0)]
    [97.02, 99.0, 100.98]

    References
    ----------
    .. [1] USP <905>, weight variation; Ph. Eur. 2.9.40, mass variation.
    """
    positive(mean_assay_percent, "mean assay", "%", most=MOST_PERCENT)
    for mass in masses_mg:
        positive(mass, "mass", "mg")
    mean_mg = statistics.fmean(masses_mg)
    return [mass * mean_assay_percent / mean_mg for mass in masses_mg]


@dataclass(frozen=True, slots=True)
class MassUniformity:
    """Masses outside the limit around their mean, and outside twice the limit."""

    mean_mg: float
    rsd_percent: float
    limit_percent: float
    outside: int
    far_outside: int
    passes: bool


def mass_uniformity(masses_mg: Sequence[float]) -> MassUniformity:
    """Uniformity of mass of 20 capsules: at most 2 outside the limit, none outside twice the limit.

    The limit is 10 % below a mean of 300 mg and 7.5 % from 300 mg on.

    >>> mass_uniformity([280.0] * 20).passes
    True

    References
    ----------
    Ph. Eur. 2.9.5, Table 2.9.5.-1.
    """
    if len(masses_mg) != 20:
        raise OutOfRange(f"{len(masses_mg)} masses: uniformity of mass is defined for 20.")
    for mass in masses_mg:
        positive(mass, "mass", "mg")
    mean = statistics.fmean(masses_mg)
    limit = 10.0 if mean < 300.0 else 7.5
    off = [100.0 * abs(m - mean) / mean for m in masses_mg]
    outside, far = sum(d > limit for d in off), sum(d > 2 * limit for d in off)
    return MassUniformity(mean, rsd_percent(masses_mg), limit, outside, far, outside <= 2 and far == 0)


def rsd_percent(values: Sequence[float]) -> float:
    """Relative standard deviation (n − 1) [%].

    >>> round(rsd_percent([9.0, 10.0, 11.0]), 6)
    10.0
    """
    if len(values) < 2:
        raise OutOfRange("A standard deviation needs two or more values.")
    mean = statistics.fmean([finite(v, "value") for v in values])
    if mean == 0:
        return math.inf
    return 100.0 * statistics.stdev(values) / abs(mean)
