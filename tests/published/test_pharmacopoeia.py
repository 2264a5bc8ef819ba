"""USP <41> (minimum weight, accuracy), USP <905> and Ph. Eur. 2.9.40 (acceptance value), Ph. Eur. 2.9.5."""

from collections.abc import Callable
from typing import Any

import pytest

from store.calc import uniformity, weighing
from store.errors import OutOfRange
from tests.published.checks import Check, Sums, assert_reproduced, every_check, reproduces


def acceptance(i: dict[str, Any]) -> float:
    return uniformity.acceptance(i["contents_percent"], target_percent=i["T_percent"]).acceptance_value


def from_readings(i: dict[str, Any]) -> float:
    sd = weighing.repeatability_mg([1000.0 * g for g in i["readings_g"]])
    return weighing.minimum_weight_mg(sd_mg=sd, readability_mg=i["d_mg"])


SUMS: Sums = {
    "MIN-02": lambda i: [weighing.minimum_weight_mg(sd_mg=i["s_mg"], readability_mg=d) for d in i["d_mg"]],
    "MIN-03": lambda i: weighing.minimum_weight_mg(sd_mg=i["s_mg"], readability_mg=i["d_mg"]),
    "MIN-05": from_readings,
    "MIN-06": lambda i: (
        weighing.accuracy(
            reading_g=i["reading_g"], weight_g=i["weight_g"], capacity_g=i["capacity_g"]
        ).error_percent
    ),
    "UDU-01": acceptance,
    "UDU-03": acceptance,
    "UDU-04": acceptance,
    "UDU-06": lambda i: uniformity.mass_uniformity(i["masses_mg"]).outside,
}


@reproduces(SUMS)
def test_the_pharmacopoeias_give_their_values(check: Check, value: Callable[[dict[str, Any]], Any]) -> None:
    assert_reproduced(check, value)


def test_the_verdicts_follow_the_values() -> None:
    checks = every_check()
    verdicts = [
        uniformity.acceptance(checks[id_].inputs["contents_percent"]).passes
        for id_ in ("UDU-01", "UDU-03", "UDU-04")
    ]
    assert verdicts == [True, True, False]
    capsules = uniformity.mass_uniformity(checks["UDU-06"].inputs["masses_mg"])
    assert capsules.passes
    assert capsules.far_outside == 0


def test_a_unit_outside_a_quarter_fails_thirty_even_below_15() -> None:
    contents = [100.0] * 29  # 0.75 of the mean of all thirty is 74.36
    assert uniformity.acceptance([*contents, 74.4]).passes
    low = uniformity.acceptance([*contents, 74.3])
    assert low.acceptance_value < 15
    assert not low.passes


def test_a_target_above_101_5_moves_the_upper_limit() -> None:
    contents = [104.0, 105.0] * 5
    assert uniformity.acceptance(contents).reference == 101.5
    assert uniformity.acceptance(contents, target_percent=105.0).reference == 104.5


def test_weight_variation_scales_each_mass_to_the_assay_of_the_lot() -> None:
    """x_i = w_i · A / W̄ (USP <905>, weight variation): their mean is A, their spread that of the masses."""
    masses = [9.8, 10.1, 10.0, 10.2, 9.9, 10.0, 10.1, 9.9, 10.0, 10.0]
    contents = uniformity.by_weight(masses, mean_assay_percent=96.5)
    found = uniformity.acceptance(contents)
    assert found.mean == pytest.approx(96.5)
    assert found.reference == 98.5
    assert found.s == pytest.approx(uniformity.rsd_percent(masses) * 96.5 / 100)
    assert found.acceptance_value == pytest.approx(2.0 + 2.4 * found.s)
    with pytest.raises(OutOfRange):
        uniformity.by_weight(masses, mean_assay_percent=0.0)


@pytest.mark.parametrize(("mean", "reference"), [(98.4, 98.5), (98.6, 98.6), (101.4, 101.4), (101.6, 101.5)])
def test_the_reference_is_the_mean_between_98_5_and_101_5(mean: float, reference: float) -> None:
    """USP <905>, Table 2: case 1, T at most 101.5."""
    assert uniformity.acceptance([mean - 1.0, mean + 1.0] * 5).reference == pytest.approx(reference)


@pytest.mark.parametrize(("spread", "passes"), [(5.92, True), (5.94, False)])
def test_ten_pass_stage_1_up_to_an_acceptance_value_of_15(spread: float, passes: bool) -> None:
    """2.4 s against L1 = 15.0 (USP <905>): s is the spread times the root of ten ninths."""
    found = uniformity.acceptance([100.0 - spread, 100.0 + spread] * 5)
    assert found.acceptance_value == pytest.approx(2.4 * spread * (10 / 9) ** 0.5)
    assert (found.passes, found.stage) == (passes, 1)


@pytest.mark.parametrize("n", [9, 11, 29, 31])
def test_only_ten_or_thirty_contents_are_judged(n: int) -> None:
    with pytest.raises(OutOfRange, match="10 or for 30"):
        uniformity.acceptance([100.0] * n)


def test_nine_weighings_are_too_few_and_ten_are_enough() -> None:
    assert weighing.repeatability_mg([1.0, 2.0] * 5) > 0
    with pytest.raises(OutOfRange, match="10 or more"):
        weighing.repeatability_mg([1.0, 2.0, 3.0] * 3)


def test_the_limit_of_a_capsule_changes_at_300_mg() -> None:
    assert uniformity.mass_uniformity([299.9] * 20).limit_percent == 10.0
    assert uniformity.mass_uniformity([300.0] * 20).limit_percent == 7.5
