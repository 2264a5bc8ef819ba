"""Dilution: ISO 648 and ISO 1042 glassware (tolerances from memory), and gravimetric steps derived here."""

import itertools
import math
import random
from collections.abc import Callable
from typing import Any

import pytest

from store.calc import dilution, glassware
from store.calc.uncertainty import Input, propagate, rectangular
from store.errors import OutOfRange
from tests.published.checks import Check, Sums, assert_reproduced, every_check, reproduces


def volumetric(i: dict[str, Any]) -> float:
    return dilution.u_rel_volumetric(
        pipette_ml=i["pipette_mL"],
        u_pipette_ml=rectangular(i["pipette_tol"]),
        flask_ml=i["flask_mL"],
        u_flask_ml=rectangular(i["flask_tol"]),
        steps=i["steps"],
    )


def step(i: dict[str, Any]) -> float:
    one = dilution.u_rel_separate(
        factor=i["M_total_mg"] / i["m_aliquot_mg"], total_mg=i["M_total_mg"], sd_mg=i["s_mg"]
    )
    return one * math.sqrt(i.get("steps", 1))


def design(i: dict[str, Any]) -> dilution.Design:
    return dilution.routes(
        total_factor=i["F"],
        vessel_mg=i["vial_mg"],
        sd_mg=i.get("s_mg", 0.01),
        per_step=i.get("r_per_step", 0.0),
        minimum_weight_mg=i.get("m_min_mg", 0.0),
    )


SUMS: Sums = {
    "SER-01": volumetric,
    "SER-03": step,
    "SER-04": step,
    "DES-01": lambda i: design(i).best,
    "DES-02": lambda i: min(r.relative_uncertainty for r in design(i).routes),
    "DES-04": lambda i: next(r.steps for r in design(i).routes if r.feasible),
    "DES-05": lambda i: dilution.best_factors(total_factor=i["F"], vessels_mg=[i["C1_mg"], i["C2_mg"]])[0],
}


@reproduces(SUMS)
def test_dilutions_reproduce_their_values(check: Check, value: Callable[[dict[str, Any]], Any]) -> None:
    assert_reproduced(check, value)


def test_the_step_below_the_minimum_weight_is_flagged() -> None:
    i = every_check()["SER-03"].inputs
    routes = dilution.routes(total_factor=1e4, vessel_mg=i["M_total_mg"], sd_mg=0.01, minimum_weight_mg=20.0)
    assert not routes.routes[0].feasible
    assert "minimum weight" in routes.routes[0].why_not


@pytest.mark.parametrize("shared", [False, True])
def test_the_closed_forms_are_what_propagating_the_readings_gives(*, shared: bool) -> None:
    m, total, s = 200.0, 20000.0, 0.01
    u_r = s / math.sqrt(2)
    if shared:
        inputs = [Input("tare", 0.0, u_r), Input("middle", m, u_r), Input("gross", total, u_r)]
        ours = propagate(lambda x: (x[2] - x[0]) / (x[1] - x[0]), inputs).u_rel
        closed = dilution.u_rel_shared(factor=total / m, total_mg=total, sd_mg=s)
    else:
        inputs = [Input(n, v, u_r) for n, v in (("a", 0.0), ("b", m), ("c", 0.0), ("d", total - m))]
        ours = propagate(lambda x: (x[1] - x[0] + x[3] - x[2]) / (x[1] - x[0]), inputs).u_rel
        closed = dilution.u_rel_separate(factor=total / m, total_mg=total, sd_mg=s)
    assert ours == pytest.approx(closed, rel=1e-8)


def test_no_split_of_the_factors_beats_the_one_that_is_given() -> None:
    rng = random.Random(14)
    for vessels in ((20000.0, 5000.0), (20000.0, 20000.0, 2000.0), (1000.0,) * 4):
        best = dilution.best_factors(total_factor=1e4, vessels_mg=vessels)
        assert math.prod(best) == pytest.approx(1e4, rel=1e-9)

        def variance(factors: tuple[float, ...], vessels: tuple[float, ...] = vessels) -> float:
            return sum(
                dilution.u_rel_separate(factor=d, total_mg=c, sd_mg=0.01) ** 2
                for d, c in zip(factors, vessels, strict=True)
            )

        for _ in range(2000):
            cuts = sorted(rng.uniform(0, math.log(1e4)) for _ in range(len(vessels) - 1))
            logs = [b - a for a, b in itertools.pairwise([0.0, *cuts, math.log(1e4)])]
            assert variance(best) <= variance(tuple(math.exp(x) for x in logs)) * (1 + 1e-12)


@pytest.mark.parametrize("factor", [1.0, 0.5, 0.0, -3.0, float("nan"), float("inf")])
def test_a_factor_that_is_no_dilution_is_refused(factor: float) -> None:
    with pytest.raises(OutOfRange):
        dilution.routes(total_factor=factor, vessel_mg=20000, sd_mg=0.01)


def test_four_steps_of_ten_with_class_a_glassware_are_what_the_check_says() -> None:
    """SER-01: four pairs of 10 mL and 100 mL, ISO 648 and ISO 1042."""
    check = every_check()["SER-01"]
    pair = glassware.Pair(10, 100)
    assert math.sqrt(4) * pair.u_rel == pytest.approx(check.expected, abs=check.tolerance)


@pytest.mark.parametrize("factors", [(100.0, 100.0), (70.801, 141.24), (21.5443,) * 3, (33.7, 8.81, 33.7)])
def test_glassware_comes_within_one_percent_of_a_factor_of_ten_thousand(factors: tuple[float, ...]) -> None:
    found = glassware.beside(factors, amount_ml=20.0)
    assert math.prod(p.factor for p in found.pairs) == pytest.approx(found.factor)
    assert abs(found.off) < 0.01
    assert found.pairs[-1].flask_ml >= 20.0
    wanted = math.prod(factors)
    assert found.factor / wanted - 1.0 == pytest.approx(found.off)


def test_a_single_step_with_glassware_says_how_far_off_it_is() -> None:
    assert glassware.beside([10000.0], amount_ml=20.0).off == pytest.approx(-0.6)


def test_a_flask_must_hold_the_amount() -> None:
    assert glassware.beside([10.0], amount_ml=2000.0).pairs[0].flask_ml == 2000
    with pytest.raises(OutOfRange, match="No one-mark flask"):
        glassware.beside([10.0], amount_ml=2001.0)
