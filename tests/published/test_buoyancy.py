"""Buoyancy: OIML D 28 and R 111-1, ICUMSA's normal sugar solution, the Z factors of ISO 8655-6."""

from collections.abc import Callable
from typing import Any

import pytest

from store.calc import air, buoyancy, water
from store.errors import OutOfRange
from tests.published.checks import Check, Sums, assert_reproduced, reproduces


def z_factor(i: dict[str, Any]) -> float:
    # The table reaches past the range of CIPM-2007 to 30 degC; there the formula is used by its parts.
    t, p = i["t_C"], 10 * i["p_kPa"]
    given = {"pressure_hpa": p, "humidity_percent": i["rh_percent"]}
    if t <= 27:
        rho_a = air.cipm_2007_kg_m3(temperature_c=t, **given)
    else:
        rho_a = air.oiml_short_kg_m3(temperature_c=t, **given)
    return buoyancy.z_factor_ul_mg(
        water_kg_m3=water.density_kg_m3(t), air_kg_m3=rho_a, reference_kg_m3=i["rho_ref"]
    )


SUMS: Sums = {
    "BUO-02": lambda i: buoyancy.true_mass_g(
        i["reading_g"], density_kg_m3=i["rho_sample"], air_kg_m3=i["rho_air"], reference_kg_m3=i["rho_ref"]
    ),
    "BUO-03": lambda i: buoyancy.mass_from_conventional_g(i["mc_g"], density_kg_m3=i["rho_sample"]),
    "BUO-05": z_factor,
    "BUO-06": z_factor,
}


@reproduces(SUMS)
def test_buoyancy_reproduces_the_published_masses(
    check: Check, value: Callable[[dict[str, Any]], Any]
) -> None:
    assert_reproduced(check, value)


def test_a_body_of_the_reference_density_weighs_what_it_is() -> None:
    assert buoyancy.factor(density_kg_m3=8000, air_kg_m3=1.2) == 1.0


def test_a_reading_for_a_mass_is_the_inverse_of_the_mass_of_a_reading() -> None:
    shown = buoyancy.reading_g(5.0, density_kg_m3=789, air_kg_m3=1.15)
    assert buoyancy.true_mass_g(shown, density_kg_m3=789, air_kg_m3=1.15) == pytest.approx(5.0, rel=1e-15)


def test_a_balance_adjusted_in_air_and_used_in_argon_reads_differently() -> None:
    same = buoyancy.factor(density_kg_m3=998, air_kg_m3=1.66)
    moved = buoyancy.factor(density_kg_m3=998, air_kg_m3=1.66, adjustment_air_kg_m3=1.2)
    # The reference term: (1.66 − 1.2)/8000.
    assert moved / same - 1 == pytest.approx(0.46 / 8000, rel=1e-3)


@pytest.mark.parametrize("density", [0.0, -1.0, 0.998, float("nan"), 1e9])
def test_a_density_that_no_solid_or_liquid_has_is_refused(density: float) -> None:
    with pytest.raises(OutOfRange):
        buoyancy.factor(density_kg_m3=density, air_kg_m3=1.2)
