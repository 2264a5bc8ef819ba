"""The achieved concentration: against reference libraries, a Monte Carlo, and a hand calculation."""

import json
import math
import random
import statistics
from dataclasses import asdict, replace
from time import perf_counter
from typing import Any

import pytest

from store.calc.budget import BalanceData, Content, Loss, SolutionInputs, of_solution, predicted
from store.calc.elements import ATOMIC_WEIGHTS
from store.calc.molar import formula
from store.errors import OutOfRange, StoreError
from tests.store import chain_of_steps as chain

BALANCE = BalanceData(
    name="B-1",
    readability_mg=0.01,
    sd_mg=0.015,
    sd_n=12,
    linearity_mg=0.1,
    linearity_small_mg=0.02,
    linearity_small_range_mg=100.0,
    sensitivity_rel=2e-5,
)
GIVEN = SolutionInputs(
    unit="mg/g",
    solid_start_mg=0.0,
    solid_end_mg=12.34,
    solvent_start_mg=0.0,
    solvent_end_mg=11950.0,
    balance=BALANCE,
    content=Content(assay=0.97, u_assay=0.002),
    solid_density_kg_m3=2680.0,
    u_solid_density_kg_m3=50.0,
    solvent_density_kg_m3=998.2,
    u_solvent_density_kg_m3=0.1,
)


def component(result: Any, name: str) -> Any:
    return next(c for c in result.components if c.name == name)


def test_somebody_with_a_hand_calculator_gets_the_same_number() -> None:
    solid = 12.34 * (1 - 1.2 / 8000) / (1 - 1.2 / 2680)
    solvent = 11950.0 * (1 - 1.2 / 8000) / (1 - 1.2 / 998.2)
    assert of_solution(GIVEN).value == pytest.approx(1000 * 0.97 * solid / (solid + solvent), rel=1e-12)


@pytest.mark.parametrize("unit", ["mg/g", "mmol/kg", "mg/mL", "mmol/L"])
def test_the_budget_agrees_with_uncertainties_for_each_kind(unit: str) -> None:
    from uncertainties import ufloat

    s_r = BALANCE.sd_mg / math.sqrt(2) if BALANCE.sd_mg else 0.0
    scale = ufloat(1, 2e-5 / math.sqrt(3))
    air = ufloat(1.2, 0.03)

    def true(end: float, limit: float, density: Any) -> Any:
        net = ufloat(end, s_r) - ufloat(0, s_r) + ufloat(0, limit * math.sqrt(2 / 3))
        return net * scale * (1 - air / 8000) / (1 - air / density) / 1000

    solid = true(12.34, 0.02, ufloat(2680, 50))
    solvent = true(11950.0, 0.1, ufloat(998.2, 0.1))
    elements = {s: ufloat(w, a / math.sqrt(3)) for s, (w, a) in ATOMIC_WEIGHTS.items()}
    molar = sum(n * elements[s] for s, n in formula("K2Cr2O7").atoms)
    analyte = ufloat(0.97, 0.002) * solid
    w, rho = analyte / (solid + solvent), ufloat(0.9987, 0.0003)
    other = {
        "mg/g": 1000 * w,
        "mmol/kg": 1e6 * analyte / molar / solvent,
        "mg/mL": 1000 * w * rho,
        "mmol/L": 1e6 * w * rho / molar,
    }[unit]
    ours = of_solution(
        replace(
            GIVEN,
            unit=unit,
            content=replace(GIVEN.content, weighed_formula="K2Cr2O7"),
            solution_density_g_ml=0.9987,
            u_solution_density_g_ml=0.0003,
        )
    )
    assert ours.value == pytest.approx(other.nominal_value, rel=1e-10)
    assert ours.u == pytest.approx(other.std_dev, rel=1e-6)
    assert sum(c.share for c in ours.components) == pytest.approx(1.0)
    assert ours.complete


def test_gtc_gives_the_same_degrees_of_freedom_where_each_input_has_its_own() -> None:
    from GTC import ureal

    from store.calc.uncertainty import Input, propagate

    other = ureal(10.0, 0.1, df=9) / ureal(5.0, 0.02, df=4)
    ours = propagate(lambda x: x[0] / x[1], [Input("a", 10.0, 0.1, dof=9), Input("b", 5.0, 0.02, dof=4)])
    assert ours.dof == pytest.approx(other.df, rel=1e-6)


def test_readings_of_one_repeatability_share_its_degrees_of_freedom() -> None:
    quiet = replace(BALANCE, linearity_mg=0.0, linearity_small_mg=0.0, sensitivity_rel=0.0)
    sure = replace(
        GIVEN, balance=quiet, content=Content(assay=1.0, u_assay=0.0), u_air_kg_m3=0.0,
        u_solid_density_kg_m3=0.0, u_solvent_density_kg_m3=0.0,
    )  # fmt: skip
    # Only s counts: ten readings more would know it no better, so its 11 degrees stay 11.
    assert of_solution(sure).dof == pytest.approx(11.0)


def test_a_monte_carlo_with_buoyancy_agrees_and_shows_the_share_that_linear_propagation_misses() -> None:
    """JCGM 101 on the make-up with a wide air density and a badly known solid density.

    The product of the two errors is of second order: linear propagation cannot see it.
    """
    wide = replace(
        GIVEN,
        balance=BalanceData(name="B-1", readability_mg=0.0001, sd_mg=0.0001),
        content=Content(assay=0.97, u_assay=0.0),
        u_air_kg_m3=0.2 / math.sqrt(3),
        solid_density_kg_m3=2000.0,
        u_solid_density_kg_m3=1000.0 / math.sqrt(3),
        u_solvent_density_kg_m3=0.0,
    )
    linear = of_solution(wide)
    rng = random.Random(2008)
    draws = []
    for _ in range(40_000):
        air, rho = rng.uniform(1.0, 1.4), rng.uniform(1000.0, 3000.0)
        solid = 12.34 / (1 - air / rho)
        solvent = 11950.0 / (1 - air / 998.2)
        draws.append(1000 * 0.97 * solid / (solid + solvent))
    u = statistics.stdev(draws)
    # 1/ρ over 1000 to 3000 is curved: the distribution is wider than its tangent says, by a fifth or so.
    assert u > 1.1 * linear.u
    assert u == pytest.approx(linear.u, rel=0.5)
    # With densities as a register knows them the two agree.
    usual = of_solution(GIVEN)
    gauss = [_draw(rng) for _ in range(40_000)]
    assert statistics.stdev(gauss) == pytest.approx(usual.u, rel=0.02)
    assert statistics.fmean(gauss) == pytest.approx(usual.value, abs=usual.u / 50)


def _draw(rng: random.Random) -> float:
    s_r = 0.015 / math.sqrt(2)
    air, scale = rng.gauss(1.2, 0.03), 1 + rng.uniform(-2e-5, 2e-5)

    def true(end: float, limit: float, density: float) -> float:
        errors = rng.uniform(-limit, limit) + rng.uniform(-limit, limit)
        net = rng.gauss(end, s_r) - rng.gauss(0, s_r) + errors
        return net * scale * (1 - air / 8000) / (1 - air / density)

    solid = true(12.34, 0.02, rng.gauss(2680, 50))
    solvent = true(11950.0, 0.1, rng.gauss(998.2, 0.1))
    return 1000 * rng.gauss(0.97, 0.002) * solid / (solid + solvent)


def test_repeatability_is_never_below_041_of_a_step_and_readability_is_not_added_beside_it() -> None:
    at_floor = replace(BALANCE, sd_mg=0.0041)
    below = replace(BALANCE, sd_mg=0.0040)
    assert at_floor.repeatability_mg()[0] == pytest.approx(0.0041)
    assert below.repeatability_mg()[0] == pytest.approx(0.0041)
    assert math.isinf(below.repeatability_mg()[1])
    names = {c.name for c in of_solution(GIVEN).components}
    assert not any("readab" in name or "round" in name for name in names)
    assert component(of_solution(GIVEN), "repeatability of the solid").u == pytest.approx(0.015)


def test_linearity_counts_twice_and_by_the_small_range_up_to_its_end() -> None:
    # QUAM:2012 A2: √(2·(a/√3)²).
    small = component(of_solution(replace(GIVEN, solid_end_mg=100.0)), "linearity, solid")
    large = component(of_solution(replace(GIVEN, solid_end_mg=100.01)), "linearity, solid")
    assert small.u == pytest.approx(math.sqrt(2) * 0.02 / math.sqrt(3))
    assert large.u == pytest.approx(math.sqrt(2) * 0.1 / math.sqrt(3))


def test_the_sensitivity_of_one_balance_cancels_in_a_mass_fraction_and_that_of_two_does_not() -> None:
    one = component(of_solution(GIVEN), "sensitivity of balance B-1")
    assert abs(one.sensitivity) < 1e-6
    two = of_solution(replace(GIVEN, solvent_balance=replace(BALANCE, name="B-2")))
    assert component(two, "sensitivity of balance B-2").sensitivity == pytest.approx(-two.value, rel=0.01)


def test_a_shared_reading_is_one_input_of_both_weighings() -> None:
    shared = replace(
        GIVEN, solid_end_mg=500.0, solvent_start_mg=500.0, solvent_end_mg=1000.0, shared_reading=True
    )
    apart = replace(GIVEN, solid_end_mg=500.0, solvent_end_mg=500.0)
    a, b = of_solution(shared), of_solution(apart)
    assert a.value == pytest.approx(b.value, rel=1e-12)
    middle = component(a, "repeatability of the shared reading").contribution
    first = component(a, "repeatability of the solid").contribution
    # D = 2: sensitivities 1, −D and D − 1 of the three readings.
    assert middle / first == pytest.approx(2.0, rel=0.01)


def test_a_shared_reading_that_is_not_shared_is_refused() -> None:
    with pytest.raises(OutOfRange, match="shared reading"):
        of_solution(replace(GIVEN, shared_reading=True, solvent_start_mg=1.0))


@pytest.mark.parametrize(
    ("change", "missing"),
    [
        ({"content": Content(assay=0.97)}, "uncertainty of assay"),
        ({"content": Content(assay=0.97, u_assay=0.001, method="metals basis")}, "uncertainty of assay"),
        (
            {"content": Content(assay=0.97, u_assay=0.001, basis="anhydrous", water=0.02)},
            "uncertainty of water",
        ),
        ({"balance": replace(BALANCE, sd_mg=None)}, "repeatability of balance B-1 (0.41 d was used)"),
        ({"unit": "mg/mL", "solution_density_g_ml": 0.998}, "uncertainty of density of the solution"),
        ({"unit": "mmol/L", "molar_mass_g_mol": 294.18}, "uncertainty of molar mass"),
    ],
)
def test_what_is_missing_is_named_and_leaves_the_budget_incomplete(
    change: dict[str, Any], missing: str
) -> None:
    result = of_solution(replace(GIVEN, **change))
    assert not result.complete
    assert result.missing == (missing,)


def test_what_was_assumed_is_said() -> None:
    result = of_solution(replace(GIVEN, unit="mg/mL", solid_density_kg_m3=None))
    assert any("density of the solid assumed" in r for r in result.remarks)
    assert any("taken as the solvent's" in r for r in result.remarks)
    assert component(result, "density of the solution").u > 0.0005


def test_evaporation_is_one_sided_and_counts_apart_before_and_after_the_last_weighing() -> None:
    plain = of_solution(GIVEN)
    after = of_solution(replace(GIVEN, loss_after=Loss.up_to(120.0)))
    # Half of 120 mg of 12 g is gone: stronger by half a percent, with a/√12 for the rest.
    assert after.value / plain.value == pytest.approx(1 + 60.0 / 11962.0, rel=1e-3)
    assert component(after, "evaporation after the last weighing").u == pytest.approx(120 / math.sqrt(12))
    first = replace(GIVEN, solvent_first=True, loss_before=Loss(value_mg=1.0, u_mg=0.2))
    # The solvent that left while the solid was weighed made the solid look lighter by as much.
    assert of_solution(first).solid_mass_g - plain.solid_mass_g == pytest.approx(0.001)
    with pytest.raises(OutOfRange, match="solvent was weighed first"):
        of_solution(replace(GIVEN, loss_before=Loss(value_mg=1.0)))


def test_a_hydrate_in_water_gives_its_water_to_the_solvent_of_a_molality() -> None:
    hydrate = Content(assay=1.0, u_assay=0.0, weighed_formula="CuSO4.5H2O", wanted_formula="CuSO4")
    given = replace(GIVEN, unit="mol/kg", content=hydrate, solid_end_mg=2496.77, solvent_end_mg=9099.25)
    wet, dry = of_solution(replace(given, solvent_is_water=True)), of_solution(given)
    assert wet.value < dry.value
    # 0.01 mol with 9.09925 g of water and the 0.900750 g that the crystals bring: 0.01 kg.
    assert wet.value == pytest.approx(1.0, rel=1e-3)


def test_predicting_the_solvent_and_then_adding_it_makes_the_target() -> None:
    for unit, target in (("mg/g", 1.0), ("mmol/kg", 3.0), ("mg/mL", 1.0), ("mmol/L", 3.0)):
        given = replace(GIVEN, unit=unit, content=replace(GIVEN.content, weighed_formula="K2Cr2O7"))
        net_mg, result = predicted(given, target=target)
        assert result.value == pytest.approx(target, rel=1e-9)
        again = of_solution(replace(given, solvent_end_mg=net_mg))
        assert again.value == pytest.approx(target, rel=1e-9)


def test_a_result_stated_as_an_element_counts_all_its_atoms() -> None:
    stated = Content(assay=0.97, u_assay=0.002, weighed_formula="K2Cr2O7", wanted_formula="Cr")
    ours = of_solution(replace(GIVEN, content=stated))
    # 2 · 51.996 / 294.185 = 0.35350
    assert ours.value / of_solution(GIVEN).value == pytest.approx(0.35350, abs=1e-5)


def test_inputs_and_result_are_plain_data() -> None:
    result = of_solution(GIVEN)
    assert json.loads(json.dumps(asdict(GIVEN)))["solid_end_mg"] == 12.34
    assert json.loads(json.dumps(asdict(result)))["components"][0]["share"] > 0


@pytest.mark.parametrize(
    "change",
    [{"solid_end_mg": 0.0}, {"solid_end_mg": -1.0}, {"solvent_end_mg": 0.0}, {"solid_end_mg": math.nan},
     {"solvent_end_mg": math.inf}, {"air_kg_m3": 0.0}, {"air_kg_m3": 12.0}, {"solvent_density_kg_m3": 0.998},
     {"solid_density_kg_m3": -5.0}, {"unit": "mg"}, {"unit": "mol/L"}, {"solvent_end_mg": 1e13},
     {"content": Content(assay=0.0)}, {"content": Content(assay=97.0)},
     {"balance": replace(BALANCE, readability_mg=0.0)}, {"balance": replace(BALANCE, sd_mg=-1.0)},
     {"loss_after": Loss(value_mg=-1.0)}, {"loss_after": Loss(value_mg=20000.0)}],
)  # fmt: skip
def test_absurd_inputs_are_refused_in_a_sentence(change: dict[str, Any]) -> None:
    with pytest.raises(StoreError):
        of_solution(replace(GIVEN, **change))


STEP = chain.Step(
    aliquot_start_mg=0.0,
    aliquot_end_mg=1000.0,
    diluent_start_mg=1000.0,
    diluent_end_mg=20000.0,
    aliquot_density_kg_m3=998.2,
    diluent_density_kg_m3=998.2,
    u_aliquot_density_kg_m3=0.1,
    shared_reading=True,
)


def test_a_chain_of_steps_agrees_with_the_closed_form_of_its_shared_readings() -> None:
    from store.calc.dilution import u_rel_shared

    quiet = BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.015)
    result = chain.of_dilution(stock_w=1e-3, u_stock_w=0.0, steps=[STEP] * 3, balance=quiet, u_air_kg_m3=0.0)
    one = u_rel_shared(factor=20.0, total_mg=20000.0, sd_mg=0.015)
    assert result.value == pytest.approx(1e-3 / 8000)
    assert result.u_rel == pytest.approx(math.sqrt(3) * one, rel=1e-3)


def test_a_four_step_budget_with_more_than_twelve_inputs_takes_less_than_5_ms() -> None:
    def run() -> float:
        start = perf_counter()
        chain.of_dilution(stock_w=1e-3, u_stock_w=1e-6, steps=[STEP] * 4, balance=BALANCE)
        return perf_counter() - start

    assert min(run() for _ in range(20)) < 0.005
