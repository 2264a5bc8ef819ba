"""EURACHEM/CITAC Guide CG 4, QUAM:2012.P1, examples A1 and A2; `uncertainties` and GTC beside them."""

import math
from collections.abc import Callable
from typing import Any

import pytest

from store.calc.uncertainty import Budget, Input, propagate, rectangular, triangular
from tests.published.checks import Check, Sums, assert_reproduced, every_check, reproduces


def a1(i: dict[str, Any]) -> Budget:
    """c(Cd) = 1000·m·P/V."""
    u_v = math.sqrt(
        triangular(i["V_cal_halfwidth_tri"]) ** 2
        + i["V_rep_u"] ** 2
        + rectangular(i["V_temp_halfwidth_rect"]) ** 2
    )
    return propagate(
        lambda x: 1000.0 * x[0] * x[1] / x[2],
        [
            Input("mass", i["m_mg"], i["u_m_mg"], "mg"),
            Input("purity", i["P"], rectangular(i["P_halfwidth_rect"])),
            Input("volume", i["V_mL"], u_v, "mL"),
        ],
    )


def a2(i: dict[str, Any]) -> Budget:
    """c(NaOH) = 1000·m·P/(M·V) · repeatability; the linearity counts twice, for tare and for gross."""
    u_m = math.sqrt(i["n_weighings"]) * rectangular(i["lin_halfwidth_mg"]) / 1000.0
    u_t = i["V_mL"] * i["dT_C"] * i["gamma_per_C"] / i["T_coverage"]
    u_v = math.hypot(triangular(i["V_cal_halfwidth_tri"]), u_t)
    return propagate(
        lambda x: 1000.0 * x[0] * x[1] / (x[2] * x[3]) * x[4],
        [
            Input("mass", i["m_KHP_g"], u_m, "g"),
            Input("purity", i["P"], rectangular(i["P_halfwidth_rect"])),
            Input("molar mass", i["M"], i["u_M"], "g/mol"),
            Input("volume", i["V_mL"], u_v, "mL"),
            Input("repeatability", 1.0, i["rep_rel_u"]),
        ],
    )


SUMS: Sums = {
    "UNC-01": lambda i: a1(i).value,
    "UNC-02": lambda i: a1(i).u,
    "UNC-04": lambda i: a2(i).value,
    "UNC-05": lambda i: a2(i).u,
}


@reproduces(SUMS)
def test_quam_gives_its_values_and_uncertainties(
    check: Check, value: Callable[[dict[str, Any]], Any]
) -> None:
    assert_reproduced(check, value)


def test_the_printed_uncertainty_of_a1_is_met_as_far_as_its_rounded_intermediates_allow() -> None:
    # The guide prints u(c) = 0.9 mg/L from intermediates rounded to one or two digits.
    assert a1(every_check()["UNC-02"].inputs).u == pytest.approx(0.9, abs=0.07)


def test_the_volume_dominates_a1_and_the_shares_add_up_to_one() -> None:
    components = a1(every_check()["UNC-02"].inputs).components
    assert components[0].name == "volume"
    assert sum(c.share for c in components) == pytest.approx(1.0)


def test_uncertainties_and_gtc_give_the_same_for_a1() -> None:
    from GTC import ureal
    from uncertainties import ufloat

    i = every_check()["UNC-02"].inputs
    ours = a1(i)
    values = {c.name: (c.value, c.u) for c in ours.components}
    m, p, v = (ufloat(*values[n]) for n in ("mass", "purity", "volume"))
    assert ours.u == pytest.approx((1000 * m * p / v).std_dev, rel=1e-8)
    gm, gp, gv = (ureal(*values[n]) for n in ("mass", "purity", "volume"))
    assert ours.u == pytest.approx((1000 * gm * gp / gv).u, rel=1e-8)


def test_the_molar_mass_of_the_hydrogen_phthalate_in_a2_is_met_within_its_uncertainty() -> None:
    # QUAM A2 prints 204.2212 g/mol with u = 0.0038 from older weights.
    from store.calc.molar import formula

    khp = formula("C8H5O4K")
    assert abs(khp.molar_mass_g_mol - 204.2212) <= 2 * math.hypot(0.0038, khp.u_molar_mass_g_mol)
