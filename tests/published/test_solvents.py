"""Solvent densities: reference equations of state by CoolProp 8.0 and handbook values from memory."""

from collections.abc import Callable
from typing import Any

import pytest

from store.calc import solvents, water
from store.errors import OutOfRange, UnknownCode
from tests.published.checks import Check, Sums, assert_reproduced, reproduces


def at(name: str) -> Callable[[dict[str, Any]], float]:
    return lambda i: solvents.density(name, i["t_C"])[0]


def methanol_expansion(i: dict[str, Any]) -> float:
    s = solvents.solvent("methanol")
    return -s.slope_g_ml_c / s.density_g_ml


SUMS: Sums = {
    "SOL-02": at("ethanol"),
    "SOL-03": at("toluene"),
    "SOL-05": at("dichloromethane"),
    "SOL-06": at("DMSO"),
    "SOL-08": methanol_expansion,
    "SOL-09": lambda i: water.expansion_per_c(i["t_C"]),
}


@reproduces(SUMS)
def test_solvents_have_their_published_densities(
    check: Check, value: Callable[[dict[str, Any]], Any]
) -> None:
    assert_reproduced(check, value)


@pytest.mark.parametrize(
    ("name", "fluid"),
    [("methanol", "Methanol"), ("ethanol", "Ethanol"), ("acetone", "Acetone"), ("toluene", "Toluene"),
     ("hexane", "n-Hexane")],
)  # fmt: skip
@pytest.mark.parametrize("celsius", [15.0, 20.0, 25.0, 30.0])
def test_the_table_follows_the_equation_of_state_within_its_uncertainty(
    name: str, fluid: str, celsius: float
) -> None:
    from CoolProp.CoolProp import PropsSI

    value, u, _ = solvents.density(name, celsius)
    assert abs(value - PropsSI("D", "T", celsius + 273.15, "P", 101325, fluid) / 1000) <= u


# CRC Handbook, 25 degC, from memory; DMF and dichloromethane likewise.
@pytest.mark.parametrize(
    ("name", "celsius", "value"),
    [("acetonitrile", 25.0, 0.7766), ("2-propanol", 25.0, 0.7809), ("ethyl acetate", 25.0, 0.8946),
     ("DMF", 25.0, 0.9440), ("dichloromethane", 25.0, 1.3168), ("chloroform", 25.0, 1.4788)],
)  # fmt: skip
def test_the_rest_of_the_table_agrees_with_handbook_values(name: str, celsius: float, value: float) -> None:
    got, u, _ = solvents.density(name, celsius)
    assert abs(got - value) <= 2 * u


def test_every_solvent_names_its_source_and_has_an_uncertainty() -> None:
    assert len(solvents.SOLVENTS) == 12
    for s in solvents.SOLVENTS:
        assert s.source
        assert s.u_g_ml > 0
        assert s.slope_g_ml_c < 0


def test_a_solvent_is_refused_outside_the_table_and_an_unknown_one_with_the_choice() -> None:
    assert solvents.density("methanol", 15.0)[0] > 0.79
    with pytest.raises(OutOfRange, match="15 to 30"):
        solvents.density("methanol", 14.9)
    with pytest.raises(UnknownCode, match="acetonitrile"):
        solvents.density("brine", 20.0)
