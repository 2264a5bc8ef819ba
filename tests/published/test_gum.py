"""JCGM 100:2008 (GUM) H.1 end gauge and Table G.2; JCGM 101:2008 9.3 mass calibration."""

import math
import random
import statistics
from collections.abc import Callable, Sequence
from typing import Any

import pytest

from store.calc.uncertainty import Budget, Input, coverage_factor, propagate, rectangular
from store.errors import OutOfRange
from tests.published.checks import Check, Sums, assert_reproduced, every_check, reproduces


def h1(i: dict[str, Any]) -> Budget:
    """l = lS + d − lS·(δα·θ + αS·δθ), θ = θ̄ + Δ with Δ arcsine."""

    def model(x: Sequence[float]) -> float:
        standard, d1, d2, d3, dalpha, dtheta, alpha, theta, cycle = x
        return standard + d1 + d2 + d3 - standard * (dalpha * (theta + cycle) + alpha * dtheta)

    d = zip(("difference", "comparator, random", "comparator, systematic"), i["u_d"], i["nu_d"], strict=True)
    inputs = [Input("standard", i["lS_nm"], i["u_lS"], "nm", dof=i["nu_lS"])]
    inputs += [Input(name, i["d_nm"] if name == "difference" else 0.0, u, "nm", dof=nu) for name, u, nu in d]
    inputs += [
        Input("expansion, difference", 0.0, rectangular(i["dalpha_halfwidth"]), "1/C", dof=i["nu_dalpha"]),
        Input("temperature, difference", 0.0, rectangular(i["dtheta_halfwidth"]), "C", dof=i["nu_dtheta"]),
        Input("expansion", i["alphaS"], rectangular(i["alphaS_halfwidth"]), "1/C"),
        Input("temperature", i["theta_bar"], i["u_theta_bar"], "C"),
        Input("cycle", 0.0, i["Delta_arcsine"] / math.sqrt(2.0), "C"),
    ]
    return propagate(model, inputs, confidence=0.99)


def mass_calibration(x: Sequence[float]) -> float:
    """Model of JCGM 101 9.3, in mg: conventional mass less nominal mass."""
    reference, difference, rho_a, rho_w, rho_r = x
    return (reference + difference) * (1.0 + (rho_a - 1.2) * (1.0 / rho_w - 1.0 / rho_r)) - 100_000.0


def calibration_inputs(i: dict[str, Any]) -> list[Input]:
    def middle(name: str, low: float, high: float) -> Input:
        return Input(name, (low + high) / 2.0, rectangular((high - low) / 2.0), "kg/m3")

    return [
        Input("reference", i["mRc_mg"][0], i["mRc_mg"][1], "mg"),
        Input("difference", i["dmRc_mg"][0], i["dmRc_mg"][1], "mg"),
        middle("air", *i["rho_a"][:2]),
        middle("weight", *i["rho_W"][:2]),
        middle("reference density", *i["rho_R"][:2]),
    ]


def first_order(i: dict[str, Any]) -> float:
    return propagate(mass_calibration, calibration_inputs(i)).u


def with_second_order(i: dict[str, Any]) -> float:
    """GUM 5.1.2 note: + Σ Σ [½(∂²f/∂xi∂xj)² + ...]·u²(xi)·u²(xj), the mixed terms by differences."""
    inputs = calibration_inputs(i)
    values = [x.value for x in inputs]
    step = 0.01
    variance = first_order(i) ** 2
    for a in range(5):
        for b in range(5):
            if a != b and inputs[a].u and inputs[b].u:
                mixed = 0.0
                for sa in (1, -1):
                    for sb in (1, -1):
                        moved = list(values)
                        moved[a] += sa * step * inputs[a].u
                        moved[b] += sb * step * inputs[b].u
                        mixed += sa * sb * mass_calibration(moved)
                variance += 0.5 * (mixed / 4.0 / step**2) ** 2
    return math.sqrt(variance)


SUMS: Sums = {
    "UNC-07": lambda i: h1(i).value,
    "UNC-08": lambda i: h1(i).u,
    "UNC-10": first_order,
    "UNC-11": with_second_order,
}


@reproduces(SUMS)
def test_the_guides_give_their_values(check: Check, value: Callable[[dict[str, Any]], Any]) -> None:
    assert_reproduced(check, value)


def test_the_end_gauge_has_sixteen_degrees_of_freedom_and_an_expanded_uncertainty_of_92_or_93_nm() -> None:
    # H.1.6: ν_eff = 16, t99 = 2.92, U99 = 93 nm from u rounded to 32 nm; exact 92.
    budget = h1(every_check()["UNC-08"].inputs)
    assert math.floor(budget.dof) == 16
    assert budget.k == pytest.approx(2.92, abs=0.005)
    assert 92 <= budget.U <= 93


def test_a_monte_carlo_sees_the_buoyancy_share_that_linear_propagation_misses() -> None:
    i = every_check()["UNC-11"].inputs
    rng = random.Random(101)
    inputs = calibration_inputs(i)
    draws = []
    for _ in range(60_000):
        x = [rng.gauss(n.value, n.u) for n in inputs[:2]]
        x += [rng.uniform(*i[name][:2]) for name in ("rho_a", "rho_W", "rho_R")]
        draws.append(mass_calibration(x))
    u = statistics.stdev(draws)
    # JCGM 101 prints 0.0754 mg, itself a Monte Carlo result.
    assert u == pytest.approx(0.0754, abs=0.0008)
    assert first_order(i) < 0.75 * u


# JCGM 100:2008, Table G.2: t for 95 % and for 99 %.
@pytest.mark.parametrize(
    ("dof", "t95", "t99"),
    [(1, 12.71, 63.66), (2, 4.30, 9.92), (3, 3.18, 5.84), (5, 2.57, 4.03), (9, 2.26, 3.25), (10, 2.23, 3.17),
     (20, 2.09, 2.85), (50, 2.01, 2.68), (100, 1.984, 2.626), (math.inf, 1.960, 2.576)],
)  # fmt: skip
def test_coverage_factors_are_those_of_table_g_2(dof: float, t95: float, t99: float) -> None:
    places = 3 if dof >= 100 else 2
    assert round(coverage_factor(dof), places) == t95
    assert round(coverage_factor(dof, confidence=0.99), places) == t99


def test_degrees_of_freedom_are_cut_to_a_whole_number_and_none_is_refused() -> None:
    assert coverage_factor(9.99) == coverage_factor(9)
    with pytest.raises(OutOfRange):
        coverage_factor(0.9)


def test_correlated_inputs_agree_with_gtc() -> None:
    from GTC import set_correlation, ureal

    a, b, c = ureal(10.0, 0.1, independent=False), ureal(4.0, 0.05, independent=False), ureal(2.0, 0.01)
    set_correlation(0.8, a, b)
    other = a / b * c
    ours = propagate(
        lambda x: x[0] / x[1] * x[2],
        [Input("a", 10.0, 0.1), Input("b", 4.0, 0.05), Input("c", 2.0, 0.01)],
        correlations={(0, 1): 0.8},
    )
    assert ours.u == pytest.approx(other.u, rel=1e-6)
    assert sum(x.share for x in ours.components) == pytest.approx(1.0)
