"""Water: Tanaka et al., Metrologia 38 (2001) 301-309; against IAPWS-95 by iapws and CoolProp."""

from collections.abc import Callable
from typing import Any

import pytest

from store.calc import water
from store.errors import OutOfRange
from tests.published.checks import Check, Sums, assert_reproduced, reproduces

SUMS: Sums = {
    id_: lambda i: water.density_kg_m3(i["t_C"]) for id_ in ("WAT-01", "WAT-03", "WAT-04", "WAT-06")
}


@reproduces(SUMS)
def test_the_density_of_water_is_that_of_the_recommended_formula(
    check: Check, value: Callable[[dict[str, Any]], Any]
) -> None:
    assert_reproduced(check, value)
    # The formula itself, not only a neighbour of it: the last printed digit.
    assert value(check.inputs) == pytest.approx(check.expected, abs=1e-4)


@pytest.mark.parametrize("celsius", [1, 5, 10, 15, 20, 25, 30, 35, 40])
def test_water_agrees_with_iapws_95_within_what_the_two_formulae_differ(celsius: int) -> None:
    from CoolProp.CoolProp import PropsSI
    from iapws import IAPWS95

    ours = water.density_kg_m3(celsius)
    # Known: +0.0002 kg/m3 at 10 degC to −0.0011 kg/m3 at 40 degC.
    assert ours == pytest.approx(IAPWS95(T=celsius + 273.15, P=0.101325).rho, abs=0.0015)
    assert ours == pytest.approx(PropsSI("D", "T", celsius + 273.15, "P", 101325, "Water"), abs=0.0015)


def test_the_expansion_of_water_is_the_slope_of_its_density() -> None:
    step = 1e-4
    for celsius in (1.0, 3.983035, 20.0, 39.0):
        slope = (water.density_kg_m3(celsius - step) - water.density_kg_m3(celsius + step)) / (2 * step)
        assert water.expansion_per_c(celsius) == pytest.approx(slope / water.density_kg_m3(celsius), abs=1e-9)


@pytest.mark.parametrize(("inside", "outside"), [(0.0, -0.01), (40.0, 40.01)])
def test_water_is_refused_outside_0_to_40_degrees(inside: float, outside: float) -> None:
    assert water.density_kg_m3(inside) > 990
    with pytest.raises(OutOfRange, match="0 to 40 degC"):
        water.density_kg_m3(outside)
