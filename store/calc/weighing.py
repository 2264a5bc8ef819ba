"""The balance in its place: repeatability, minimum weight, checks, zero return, steadiness, tare."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from store.calc.guard import finite, not_negative, positive, within
from store.errors import OutOfRange
from store.units import figure

SOURCE = "USP General Chapter <41> Balances (official 1 August 2019)"
FEWEST = 10
"""Weighings that a repeatability needs at least: USP <41>."""
FLOOR_STEPS = 0.41
"""s is never taken below 0.41 d: two roundings of d/√12 (USP <41>, seen in secondary sources)."""


def repeatability_mg(weighings_mg: Sequence[float]) -> float:
    """Standard deviation (n − 1) of ten or more weighings of one small load [mg].

    >>> round(repeatability_mg([100.0] * 9 + [100.1]), 5)
    0.03162
    """
    if len(weighings_mg) < FEWEST:
        raise OutOfRange(
            f"{len(weighings_mg)} weighings are too few: a repeatability needs {FEWEST} or more."
        )
    for mass in weighings_mg:
        finite(mass, "weighing")
    return statistics.stdev(weighings_mg)


def effective_sd_mg(*, sd_mg: float, readability_mg: float) -> float:
    """Standard deviation that counts, max(s, 0.41 d) [mg].

    >>> effective_sd_mg(sd_mg=0.0, readability_mg=0.01)
    0.0041
    """
    floor = FLOOR_STEPS * positive(readability_mg, "readability", "mg")
    return max(not_negative(sd_mg, "standard deviation", "mg"), round(floor, 15))


def minimum_weight_mg(
    *, sd_mg: float, readability_mg: float, limit_percent: float = 0.10, factor: float = 2.0
) -> float:
    """Smallest net sample for this balance in this place.

    m_min = k · max(s, 0.41 d) / limit, with k = 2 and 0.10 % this is 2000 · max(s, 0.41 d).

    Parameters
    ----------
    sd_mg
        Standard deviation s of ten or more weighings [mg]. [1]_
    readability_mg
        One step of the last digit, d [mg].
    limit_percent
        Greatest relative repeatability error of a sample [%].
    factor
        Coverage factor k.

    Examples
    --------
    >>> minimum_weight_mg(sd_mg=0.15, readability_mg=0.1)
    300.0

    Notes
    -----
    Never rounded down; it holds for the net, not for each portion and not for tare with sample.

    References
    ----------
    .. [1] USP General Chapter <41> Balances.
    """
    positive(factor, "factor", most=10.0)
    within(limit_percent, "limit", low=1e-4, high=10.0, unit="%")
    # Whole numbers first, so that 2 · 0.15 / 0.001 is 300 and not one bit more.
    return round(
        100.0 * factor * effective_sd_mg(sd_mg=sd_mg, readability_mg=readability_mg) / limit_percent, 9
    )


@dataclass(frozen=True, slots=True)
class Check:
    """Outcome of a check with a test weight; errors in mg and percent of the weight."""

    passes: bool
    error_mg: float
    error_percent: float
    why: str


def check(*, reading_mg: float, weight_mg: float, limit_mg: float, u_weight_mg: float = 0.0) -> Check:
    """Daily check: how far the reading is from the conventional mass of a test weight.

    A weight whose own expanded uncertainty is over a third of the limit cannot decide (*common practice*).

    >>> check(reading_mg=20000.12, weight_mg=20000.0, limit_mg=0.2).passes
    True
    """
    positive(weight_mg, "test weight", "mg")
    positive(limit_mg, "limit", "mg")
    error = finite(reading_mg, "reading") - weight_mg
    percent = 100.0 * abs(error) / weight_mg
    if not_negative(u_weight_mg, "expanded uncertainty of the weight", "mg") > limit_mg / 3.0 * (1.0 + 1e-9):
        return Check(False, error, percent, "the uncertainty of the test weight is over a third of the limit")
    # Readings are decimal: compare them as written, not by the last bit.
    if round(abs(error), 9) > limit_mg:
        return Check(False, error, percent, f"off by {figure(error)} mg, more than {figure(limit_mg)} mg")
    return Check(True, error, percent, f"off by {figure(error)} mg, within {figure(limit_mg)} mg")


def accuracy(*, reading_g: float, weight_g: float, capacity_g: float, limit_percent: float = 0.10) -> Check:
    """Accuracy by USP <41>: a weight of 5 to 100 % of capacity, read within 0.10 % (clause from memory).

    >>> round(accuracy(reading_g=200.0015, weight_g=200.0, capacity_g=220.0).error_percent, 5)
    0.00075
    """
    positive(capacity_g, "capacity", "g")
    within(weight_g, "test weight", low=0.05 * capacity_g, high=capacity_g, unit="g", source="USP <41>")
    return check(
        reading_mg=1000.0 * reading_g,
        weight_mg=1000.0 * weight_g,
        limit_mg=10.0 * weight_g * positive(limit_percent, "limit", "%"),
    )


def zero_return_limit_mg(*, sd_mg: float, readability_mg: float, factor: float = 3.0) -> float:
    """How far from zero the empty pan may come back, k · max(s, 0.41 d) [mg] (*common practice*).

    >>> round(zero_return_limit_mg(sd_mg=0.015, readability_mg=0.01), 3)
    0.045
    """
    return positive(factor, "factor", most=20.0) * effective_sd_mg(sd_mg=sd_mg, readability_mg=readability_mg)


def halvings(*, now_mg: float, aim_mg: float, low_mg: float, high_mg: float) -> int:
    """Halvings that the distance to the aim still needs to come inside the window.

    0 inside; positive below it; negative above it, so many halvings the other way.

    >>> halvings(now_mg=2.0, aim_mg=10.0, low_mg=9.5, high_mg=10.5)
    4
    >>> halvings(now_mg=9.5, aim_mg=10.0, low_mg=9.5, high_mg=10.5)
    0
    >>> halvings(now_mg=12.0, aim_mg=10.0, low_mg=9.5, high_mg=10.5)
    -2
    """
    if not finite(low_mg, "lower end") < finite(aim_mg, "aim") < finite(high_mg, "upper end"):
        raise OutOfRange("The window must lie around the aim.")
    if low_mg <= finite(now_mg, "reading") <= high_mg:
        return 0
    below = now_mg < low_mg
    distance, half = (aim_mg - now_mg, aim_mg - low_mg) if below else (now_mg - aim_mg, high_mg - aim_mg)
    steps = max(1, math.ceil(math.log2(distance / half) - 1e-9))
    return steps if below else -steps


@dataclass(frozen=True, slots=True)
class Slope:
    """Fitted drift of a stream of readings [mg/s], its standard uncertainty and degrees of freedom."""

    mg_s: float
    u_mg_s: float
    dof: int
    spread_mg: float


def slope(*, times_s: Sequence[float], masses_mg: Sequence[float]) -> Slope:
    """Fit a straight line through a stream by least squares.

    >>> s = slope(times_s=[0, 1, 2, 3], masses_mg=[10.0, 10.01, 10.02, 10.03])
    >>> round(s.mg_s, 6), round(s.u_mg_s, 9)
    (0.01, 0.0)

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1 (linear least squares).
    """
    n = len(times_s)
    if n != len(masses_mg) or n < 3:
        raise OutOfRange("A slope needs three or more readings, each with its time.")
    t_mean, m_mean = statistics.fmean(times_s), statistics.fmean(masses_mg)
    sxx = sum((t - t_mean) ** 2 for t in times_s)
    if sxx <= 0 or not math.isfinite(sxx):
        raise OutOfRange("A slope needs readings at different times.")
    b = sum((t - t_mean) * (m - m_mean) for t, m in zip(times_s, masses_mg, strict=True)) / sxx
    rest = sum((m - m_mean - b * (t - t_mean)) ** 2 for t, m in zip(times_s, masses_mg, strict=True))
    return Slope(b, math.sqrt(rest / (n - 2) / sxx), n - 2, max(masses_mg) - min(masses_mg))


@dataclass(frozen=True, slots=True)
class Steadiness:
    """Whether a stream is steady as the settings mean it.

    `state` is `too short`, `creeping` (a slope that is over its limit even less twice its uncertainty),
    `restless` (no creep, but a spread over the limit) or `steady`.
    """

    state: str
    slope_mg_s: float
    u_slope_mg_s: float
    spread_mg: float


def steadiness(
    *,
    times_s: Sequence[float],
    masses_mg: Sequence[float],
    seconds: float,
    spread_mg: float,
    slope_mg_s: float,
    readability_mg: float = 0.0,
) -> Steadiness:
    """Judge the readings of the last `seconds` against the settings; the cause of a creep is not named.

    Creeping: the slope, less twice its uncertainty, is more than the limit. The uncertainty is never taken
    below what the rounding to `readability_mg` leaves, else a display that stands still looks certain.

    >>> steadiness(times_s=[0, 1, 2, 3], masses_mg=[10.0, 10.1, 10.2, 10.3], seconds=3, spread_mg=1.0,
    ...            slope_mg_s=0.02).state
    'creeping'
    """
    positive(seconds, "time", "s")
    if not times_s or times_s[-1] - times_s[0] < seconds - 1e-9:
        return Steadiness("too short", math.nan, math.nan, math.nan)
    recent = [(t, m) for t, m in zip(times_s, masses_mg, strict=True) if t >= times_s[-1] - seconds - 1e-9]
    if len(recent) < 3:
        return Steadiness("too short", math.nan, math.nan, math.nan)
    times, masses = [t for t, _ in recent], [m for _, m in recent]
    fit = slope(times_s=times, masses_mg=masses)
    sxx = sum((t - statistics.fmean(times)) ** 2 for t in times)
    u = max(fit.u_mg_s, readability_mg / math.sqrt(12.0 * sxx))
    if abs(fit.mg_s) - 2.0 * u > slope_mg_s:
        state = "creeping"
    else:
        state = "restless" if fit.spread_mg > spread_mg + 1e-9 else "steady"
    return Steadiness(state, fit.mg_s, u, fit.spread_mg)


def tare_warnings(
    *,
    age_s: float,
    lifetime_s: float,
    same_closure: bool,
    pressure_change_pa: float = 0.0,
    pressure_limit_pa: float = 50.0,
) -> tuple[str, ...]:
    """Why a tare should be taken again; none: it stands (*common practice*).

    >>> tare_warnings(age_s=100, lifetime_s=1800, same_closure=True)
    ()
    """
    out = []
    if age_s > lifetime_s:
        out.append(f"the tare is {age_s / 60:.0f} min old, its lifetime is {lifetime_s / 60:.0f} min")
    if not same_closure:
        out.append("the vessel was tared with another closure")
    if abs(pressure_change_pa) > pressure_limit_pa:
        out.append(f"the pressure changed by {pressure_change_pa:.0f} Pa since the tare")
    return tuple(out)
