"""Concentrations and contents: handbook tables, IUPAC definitions, certificate basis conventions."""

from collections.abc import Callable
from typing import Any

import pytest

from store.calc import purity, solution
from store.calc.molar import formula, salt_factor
from store.calc.purity import Content
from store.errors import BadField, OutOfRange
from tests.published.checks import Check, Sums, assert_reproduced, every_check, reproduces


def molarity(i: dict[str, Any]) -> float:
    return solution.from_mass_fraction(i["w"], "mol/L", molar_mass_g_mol=i["M"], density_g_ml=i["rho_g_mL"])


def dose(i: dict[str, Any]) -> float:
    goal = solution.target(1.0, "mg/g")
    w = solution.achieved(
        solid_g=i["m_solid_mg"] / 1000, content=i["purity"], solvent_g=i["m_solvent_g"], goal=goal
    )
    return 1000.0 * w


def salt_to_weigh(i: dict[str, Any]) -> float:
    factor, _ = salt_factor(weighed=formula(i["salt"]), wanted=formula(i["base"]))
    return float(i["m_base_mg"] / (factor * i["purity_as_is"]))


SUMS: Sums = {
    "CON-01": molarity,
    "CON-02": lambda i: solution.from_mass_fraction(i["w"], "mol/kg", molar_mass_g_mol=i["M"]),
    "CON-04": molarity,
    "CON-05": molarity,
    "CON-07": dose,
    "CON-08": lambda i: solution.solvent_to_add_g(
        solid_g=i["m_solid_mg"] / 1000, content=i["purity"], goal=solution.target(i["target_mg_g"], "mg/g")
    ),
    "PUR-01": lambda i: (
        100
        * purity.as_is(
            Content(
                assay=i["assay_anhydrous_percent"] / 100, basis="anhydrous", water=i["water_percent"] / 100
            )
        )[0]
    ),
    "PUR-02": lambda i: (
        100 * purity.dried_from_as_is(i["assay_as_is_percent"] / 100, loss_on_drying=i["LOD_percent"] / 100)
    ),
    "PUR-04": salt_to_weigh,
    "PUR-05": lambda i: salt_factor(weighed=formula(i["salt"]), wanted=formula(i["base"]), count=2)[0],
}


@reproduces(SUMS)
def test_concentrations_and_contents_reproduce_the_tables(
    check: Check, value: Callable[[dict[str, Any]], Any]
) -> None:
    assert_reproduced(check, value)


def test_the_misprinted_row_of_the_sucrose_table_is_found_by_its_own_density() -> None:
    # The table prints 0.2303 mol/L for 17 %; with 1.0678 g/mL (from memory) it can only be 0.5303.
    c = solution.from_mass_fraction(0.17, "mol/L", molar_mass_g_mol=342.297, density_g_ml=1.0678)
    assert c == pytest.approx(0.5303, abs=0.0003)


@pytest.mark.parametrize("unit", ["mg/g", "mmol/kg", "mg/mL", "mmol/L", "% w/w"])
def test_every_kind_of_concentration_comes_back_from_a_mass_fraction(unit: str) -> None:
    known = {"molar_mass_g_mol": 58.44, "density_g_ml": 1.0707}
    value = 3.21
    w = solution.mass_fraction(solution.target(value, unit, **known))
    assert solution.from_mass_fraction(w, unit, **known) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("unit", ["mg/g", "mmol/kg", "mg/mL", "mmol/L"])
def test_what_is_weighed_and_added_for_a_target_makes_the_target(unit: str) -> None:
    goal = solution.target(2.0, unit, molar_mass_g_mol=294.18, density_g_ml=0.998)
    solid = solution.solid_to_weigh_g(goal=goal, content=0.97, solution_g=25.0)
    solvent = solution.solvent_to_add_g(solid_g=solid, content=0.97, goal=goal)
    assert solid + solvent == pytest.approx(25.0, rel=1e-12)
    got = solution.achieved(solid_g=solid, content=0.97, solvent_g=solvent, goal=goal)
    assert got == pytest.approx(goal.value, rel=1e-12)


def test_crystal_water_counts_as_solvent_of_a_molality_in_water() -> None:
    # 24.9677 g of CuSO4.5H2O (0.1 mol) hold 9.0075 g of water: with 990.9925 g more it is 0.1 mol in 1 kg.
    form = formula("CuSO4.5H2O")
    share = purity.water_share(form)
    goal = solution.target(0.1, "mol/kg", molar_mass_g_mol=form.molar_mass_g_mol)
    solid = form.molar_mass_g_mol / 10
    solvent = solution.solvent_to_add_g(solid_g=solid, content=1.0, goal=goal, solid_solvent_share=share)
    assert solvent == pytest.approx(1000.0 - 0.5 * formula("H2O").molar_mass_g_mol, rel=1e-12)


def test_karl_fischer_water_and_crystal_water_are_never_both_taken_off() -> None:
    twice = Content(assay=0.99, basis="anhydrous", water=0.36, weighed_formula="CuSO4.5H2O")
    with pytest.raises(OutOfRange, match="crystal water"):
        purity.chain(twice)
    once = Content(assay=0.99, basis="anhydrous", water=0.3608, weighed_formula="CuSO4", wanted_formula="Cu")
    hydrate = Content(assay=0.99, basis="as-is", weighed_formula="CuSO4.5H2O", wanted_formula="Cu")
    # Both certificates speak of the same solid: the copper in it is the same.
    assert purity.as_is(once)[0] == pytest.approx(purity.as_is(hydrate)[0], rel=1e-4)


def test_a_dried_hydrate_that_lost_its_water_is_refused_and_surface_moisture_is_not() -> None:
    dry = Content(assay=0.99, basis="dried", weighed_formula="CuSO4.5H2O", loss_on_drying=0.005)
    assert purity.as_is(dry)[0] == pytest.approx(0.99 * 0.995)
    lost = Content(assay=0.99, basis="dried", weighed_formula="CuSO4.5H2O", loss_on_drying=0.36)
    with pytest.raises(OutOfRange, match="twice"):
        purity.chain(lost)


def test_a_solid_dried_before_use_is_not_corrected_for_its_loss() -> None:
    assert purity.as_is(Content(assay=0.99, basis="dried", dried_before_use=True))[0] == 0.99


# EURACHEM/CITAC QUAM:2012 8.1: rectangle, U/k, 95 % without k.
@pytest.mark.parametrize(
    ("text", "u_text", "value", "u"),
    [
        ("99.5", "U 0.2 k 2", 0.995, 0.001),
        ("99,5 %", "U 0.196", 0.995, 0.001),
        ("99.5", "± 0.3", 0.995, 0.003 / 3**0.5),
        (">= 98", "", 0.99, 0.01 / 3**0.5),
        ("≥ 98", "", 0.99, 0.01 / 3**0.5),
        ("99.5", "", 0.995, None),
    ],
)
def test_an_assay_is_read_with_its_uncertainty(text: str, u_text: str, value: float, u: float | None) -> None:
    got, got_u = purity.assay(text, u_text)
    assert got == pytest.approx(value)
    assert got_u == (None if u is None else pytest.approx(u))


@pytest.mark.parametrize("text", ["", "0", "101", "about 99", "99.5.1", "> 100", "nan"])
def test_an_assay_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(BadField):
        purity.assay(text)


def test_metals_basis_is_no_mass_fraction_and_leaves_the_content_incomplete() -> None:
    assert purity.as_is(Content(assay=0.9999, u_assay=0.0001, method="metals basis"))[1] is None


def test_every_published_check_has_a_test() -> None:
    from importlib import import_module
    from importlib.resources import files

    served: set[str] = set()
    for file in files("tests.published").iterdir():
        if file.name.startswith("test_") and file.name.endswith(".py"):
            served |= set(getattr(import_module(f"tests.published.{file.name[:-3]}"), "SUMS", {}))
    assert served == set(every_check())
