"""The balance in its place: limits in pairs, a stream that creeps and one that stands."""

import random

import pytest

from store.calc import weighing
from store.errors import OutOfRange


def test_the_minimum_weight_is_never_rounded_down() -> None:
    # 2000 · 0.012345 = 24.69: not 24, and not one bit less.
    assert weighing.minimum_weight_mg(sd_mg=0.012345, readability_mg=0.001) == 24.69


@pytest.mark.parametrize(("sd", "weight"), [(0.0041, 8.2), (0.0040, 8.2), (0.0042, 8.4)])
def test_a_standard_deviation_below_041_of_a_step_counts_as_that(sd: float, weight: float) -> None:
    assert weighing.minimum_weight_mg(sd_mg=sd, readability_mg=0.01) == weight


def test_limit_and_factor_are_settings() -> None:
    assert weighing.minimum_weight_mg(sd_mg=0.01, readability_mg=0.01, limit_percent=1.0, factor=3.0) == 3.0


@pytest.mark.parametrize("sd", [-0.01, float("nan"), float("inf")])
def test_a_standard_deviation_that_is_none_is_refused(sd: float) -> None:
    with pytest.raises(OutOfRange):
        weighing.minimum_weight_mg(sd_mg=sd, readability_mg=0.01)


def test_a_check_passes_at_its_limit_and_fails_one_digit_past_it() -> None:
    at = weighing.check(reading_mg=20000.2, weight_mg=20000.0, limit_mg=0.2)
    past = weighing.check(reading_mg=20000.21, weight_mg=20000.0, limit_mg=0.2)
    assert (at.passes, past.passes) == (True, False)


def test_a_test_weight_that_is_no_better_than_the_limit_decides_nothing() -> None:
    assert not weighing.check(reading_mg=100.0, weight_mg=100.0, limit_mg=0.3, u_weight_mg=0.11).passes
    assert weighing.check(reading_mg=100.0, weight_mg=100.0, limit_mg=0.3, u_weight_mg=0.1).passes


def test_an_accuracy_weight_lies_between_a_twentieth_and_the_whole_of_the_capacity() -> None:
    assert weighing.accuracy(reading_g=11.0, weight_g=11.0, capacity_g=220.0).passes
    for weight in (10.9, 220.1):
        with pytest.raises(OutOfRange):
            weighing.accuracy(reading_g=weight, weight_g=weight, capacity_g=220.0)


@pytest.mark.parametrize(
    ("now", "left"),
    [
        (9.5, 0),
        (10.5, 0),
        (9.49, 1),
        (9.0, 1),
        (8.99, 2),
        (8.0, 2),
        (0.0, 5),
        (10.51, -1),
        (11.0, -1),
        (11.01, -2),
    ],
)
def test_each_halving_of_the_distance_takes_one_block_away(now: float, left: int) -> None:
    assert weighing.halvings(now_mg=now, aim_mg=10.0, low_mg=9.5, high_mg=10.5) == left


def stream(slope: float, noise: float, *, seed: int) -> tuple[list[float], list[float]]:
    rng = random.Random(seed)
    times = [0.2 * n for n in range(51)]
    return times, [100.0 + slope * t + rng.gauss(0.0, noise) for t in times]


@pytest.mark.parametrize(
    ("slope", "noise", "state"),
    [(0.0, 0.003, "steady"), (0.02, 0.003, "creeping"), (-0.02, 0.003, "creeping"), (0.0, 0.2, "restless")],
)
def test_a_stream_is_judged_by_slope_and_spread(slope: float, noise: float, state: str) -> None:
    times, masses = stream(slope, noise, seed=3)
    judged = weighing.steadiness(
        times_s=times, masses_mg=masses, seconds=10.0, spread_mg=0.3, slope_mg_s=0.002, readability_mg=0.01
    )
    assert judged.state == state


def test_the_slope_of_a_stream_lies_within_its_own_uncertainty_as_often_as_it_should() -> None:
    hits = 0
    for seed in range(300):
        times, masses = stream(0.01, 0.02, seed=seed)
        fit = weighing.slope(times_s=times, masses_mg=masses)
        hits += abs(fit.mg_s - 0.01) <= fit.u_mg_s
    assert 0.60 <= hits / 300 <= 0.76  # 68 % of a normal law


def test_a_short_stream_is_not_called_steady() -> None:
    judged = weighing.steadiness(
        times_s=[0, 1, 2], masses_mg=[5.0, 5.0, 5.0], seconds=3.0, spread_mg=0.1, slope_mg_s=0.01
    )
    assert judged.state == "too short"


def test_a_display_that_stands_still_is_steady_with_a_slope_no_better_than_its_digits() -> None:
    judged = weighing.steadiness(
        times_s=[0, 1, 2, 3],
        masses_mg=[5.0] * 4,
        seconds=3.0,
        spread_mg=0.1,
        slope_mg_s=0.01,
        readability_mg=0.1,
    )
    assert judged.state == "steady"
    assert judged.u_slope_mg_s > 0


def test_a_tare_is_too_old_only_past_its_lifetime_and_wants_the_same_closure() -> None:
    assert weighing.tare_warnings(age_s=1800, lifetime_s=1800, same_closure=True) == ()
    assert len(weighing.tare_warnings(age_s=1801, lifetime_s=1800, same_closure=False)) == 2
    assert weighing.tare_warnings(age_s=0, lifetime_s=1800, same_closure=True, pressure_change_pa=50.0) == ()
    assert weighing.tare_warnings(age_s=0, lifetime_s=1800, same_closure=True, pressure_change_pa=-51.0)
