"""Air: CIPM-2007 (Metrologia 45 (2008) 149-155), OIML R 111-1 E.3-1; CoolProp as an independent check."""

from collections.abc import Callable
from typing import Any

import pytest

from store.calc import air
from store.errors import OutOfRange, UnknownCode
from tests.published.checks import Check, Sums, assert_reproduced, reproduces


def cipm(i: dict[str, Any]) -> float:
    return air.cipm_2007_kg_m3(
        temperature_c=i["t_C"],
        pressure_hpa=i["p_Pa"] / 100,
        humidity_percent=100 * i["rh_fraction"],
        co2_ppm=1e6 * i["xCO2"],
    )


def oiml(i: dict[str, Any]) -> float:
    return air.oiml_short_kg_m3(
        temperature_c=i["t_C"], pressure_hpa=i["p_hPa"], humidity_percent=i["rh_percent"]
    )


SUMS: Sums = {
    "AIR-01": cipm,
    "AIR-02": cipm,
    "AIR-04": cipm,
    "AIR-05": lambda i: air.saturation_pressure_pa(i["t_C"]),
    "AIR-07": oiml,
    "AIR-08": oiml,
}


@reproduces(SUMS)
def test_the_density_of_air_is_that_of_the_published_formula(
    check: Check, value: Callable[[dict[str, Any]], Any]
) -> None:
    assert_reproduced(check, value)


@pytest.mark.parametrize(("celsius", "hpa", "humidity"), [(15, 700, 10), (20, 1013.25, 50), (27, 1080, 90)])
def test_moist_air_agrees_with_an_equation_of_state(celsius: float, hpa: float, humidity: float) -> None:
    from CoolProp.HumidAirProp import HAPropsSI

    state = ("T", celsius + 273.15, "P", 100 * hpa, "R", humidity / 100)
    other = (1 + HAPropsSI("W", *state)) / HAPropsSI("Vda", *state)
    ours = air.cipm_2007_kg_m3(temperature_c=celsius, pressure_hpa=hpa, humidity_percent=humidity)
    assert ours == pytest.approx(other, rel=1e-4)  # without carbon dioxide of its own


@pytest.mark.parametrize(
    ("name", "fluid", "rel"),
    [
        ("nitrogen", "Nitrogen", 3e-4),
        ("argon", "Argon", 7e-4),
        ("helium", "Helium", 6e-4),
        ("carbon dioxide", "CarbonDioxide", 6e-3),
    ],
)
def test_box_gases_agree_with_their_equations_of_state_as_far_as_an_ideal_gas_can(
    name: str, fluid: str, rel: float
) -> None:
    from CoolProp.CoolProp import PropsSI

    ours, u, _ = air.density_kg_m3(name, temperature_c=20, pressure_hpa=1013.25)
    other = PropsSI("D", "T", 293.15, "P", 101325, fluid)
    assert ours == pytest.approx(other, rel=rel)
    assert abs(ours - other) <= u


def test_the_short_form_differs_from_cipm_2007_by_less_than_its_stated_uncertainty() -> None:
    for celsius in (15, 20, 27):
        for hpa in (900, 1000, 1100):
            for humidity in (10, 45, 79):
                given = {"temperature_c": celsius, "pressure_hpa": hpa, "humidity_percent": humidity}
                assert air.oiml_short_kg_m3(**given) == pytest.approx(air.cipm_2007_kg_m3(**given), rel=2e-4)


USUAL = {"temperature_c": 20.0, "pressure_hpa": 1000.0, "humidity_percent": 50.0}


@pytest.mark.parametrize(
    ("formula", "name", "inside", "outside"),
    [
        (air.cipm_2007_kg_m3, "temperature_c", 15.0, 14.99),
        (air.cipm_2007_kg_m3, "temperature_c", 27.0, 27.01),
        (air.cipm_2007_kg_m3, "pressure_hpa", 600.0, 599.9),
        (air.cipm_2007_kg_m3, "pressure_hpa", 1100.0, 1100.1),
        (air.cipm_2007_kg_m3, "humidity_percent", 100.0, 100.1),
        (air.oiml_short_kg_m3, "temperature_c", 30.0, 30.01),
        (air.oiml_short_kg_m3, "pressure_hpa", 900.0, 899.9),
        (air.oiml_short_kg_m3, "humidity_percent", 80.0, 80.1),
    ],
)
def test_air_is_refused_outside_the_range_of_its_formula(
    formula: Callable[..., float], name: str, inside: float, outside: float
) -> None:
    assert formula(**{**USUAL, name: inside}) > 0.5
    with pytest.raises(OutOfRange, match=r"range|lies"):
        formula(**{**USUAL, name: outside})


def test_an_unknown_gas_is_refused_with_the_choice() -> None:
    with pytest.raises(UnknownCode, match="nitrogen, argon"):
        air.density_kg_m3("xenon", temperature_c=20, pressure_hpa=1000)
