"""What a plan says of evaporation and density, what registers say of water and adjustment, in the sums."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from store.actions import balances as verbs
from store.actions import planning
from store.actions.planning import Explained
from store.calc.budget import SolutionResult, of_solution
from store.calc.density import of_volume_g_ml
from store.calc.solvents import density as solvent_density
from store.errors import BadInput, OutOfRange, StoreError
from store.model.prep import Plan
from store.procedure import inputs, stated
from store.queries import registers
from store.record.record import Record
from tests import site


def _explain(record: Record, **changes: Any) -> Explained:
    return planning.explain(site.acting(record), replace(site.PLAN, **changes))


def _result(found: Explained) -> SolutionResult:
    return of_solution(
        inputs.of_solution(
            found.plan,
            found.basis,
            solid_mg=float(found.aims["solid_mg"]),
            solvent_mg=float(found.aims["solvent_mg"]),
        )
    )


def _put(record: Record, register: str, id: str, **changes: Any) -> None:
    site.put(record, register, {**registers.body(record, register, id), **changes})


def _row(result: SolutionResult, name: str) -> Any:
    return next(c for c in result.components if c.name == name)


# ---- evaporation ----


def test_a_bounded_loss_is_corrected_by_half_with_its_rectangle(record: Record) -> None:
    result = _result(_explain(record, loss_after="6 mg"))
    row = _row(result, "evaporation after the last weighing")
    assert (row.value, row.u) == (3.0, pytest.approx(6 / 12**0.5))
    plain = _result(_explain(record))
    # The plan adds 3 mg of solvent more for it, so that the target is kept.
    assert result.value == pytest.approx(plain.value, rel=1e-6)
    assert result.u > plain.u


def test_a_measured_loss_is_taken_as_measured(record: Record) -> None:
    row = _row(_result(_explain(record, loss_after="6.1 mg u 0.4")), "evaporation after the last weighing")
    assert (row.value, row.u) == (6.1, pytest.approx(0.4))


def test_a_loss_before_the_last_weighing_counts_only_where_the_solvent_is_first(record: Record) -> None:
    with pytest.raises(OutOfRange, match="solvent was weighed first"):
        _explain(record, loss_before="6 mg")
    found = _explain(record, loss_before="6 mg", recipe="solution, solvent first")
    assert _row(_result(found), "evaporation before the last weighing").value == 3.0


@pytest.mark.parametrize("text", ["6", "6 mL", "-6 mg", "mg", "6 mg k 2", "6 mg u", "nan mg", "6 mg u -1"])
def test_an_evaporation_that_is_none_is_one_sentence(record: Record, text: str) -> None:
    with pytest.raises(BadInput) as refused:
        _explain(record, loss_after=text)
    assert "\n" not in str(refused.value)


# ---- density of the solution ----


def test_water_weighed_in_a_known_volume_gives_its_density() -> None:
    """ISO 4787, Z = 1.0029 mL/g at 20 °C and 1013 hPa (value from memory)."""
    rho, _ = of_volume_g_ml(reading_g=10.0 / 1.0029, volume_ml=10.0)
    assert rho == pytest.approx(solvent_density("water", 20.0)[0], abs=6e-5)


def test_a_measured_density_completes_a_volume_concentration(record: Record) -> None:
    assumed = _result(_explain(record, target="1.000 mg/mL"))
    assert any("taken as the solvent's" in r for r in assumed.remarks)
    found = _explain(record, target="1.000 mg/mL", solution_density="10.0012 g in 10.000 mL ± 0.010")
    measured = _result(found)
    assert measured.complete
    assert measured.solution_density_g_ml == pytest.approx(
        10.0012 / 10 * (1 - 1.1993 / 8000) + 1.1993e-3, abs=1e-6
    )
    row = _row(measured, "density of the solution")
    assert row.u == pytest.approx(10.0012 / 100 * 0.010 / 3**0.5, rel=1e-3)
    assert found.aims["solution_density_source"] == "measured"


@pytest.mark.parametrize(
    ("text", "complete"),
    [
        ("1.0012 g/mL u 0.0002", True),
        ("1001.2 kg/m3 U 0.4 k 2", True),
        ("1.0012 g/mL", False),
        ("10.0012 g in 10.00 mL", False),
    ],
)
def test_a_density_without_an_uncertainty_leaves_the_budget_incomplete(
    record: Record, text: str, complete: bool
) -> None:
    result = _result(_explain(record, target="1.000 mg/mL", solution_density=text))
    assert result.complete is complete
    assert result.solution_density_g_ml == pytest.approx(1.0012, abs=2e-3)
    if complete:
        assert _row(result, "density of the solution").u == pytest.approx(0.0002)


@pytest.mark.parametrize(
    "text", ["1.01", "10 g in 10 g", "10 g in", "10.1 g in 0 mL", "1,01 g/mL ± x", "1.01 g/mL U 0.1 k 99"]
)
def test_a_density_that_is_none_is_one_sentence(record: Record, text: str) -> None:
    with pytest.raises(StoreError) as refused:
        _explain(record, solution_density=text)
    assert "\n" not in str(refused.value)


def test_a_density_that_no_solution_has_is_refused(record: Record) -> None:
    with pytest.raises(OutOfRange, match="check both"):
        _explain(record, target="1.000 mg/mL", solution_density="10.1 g in 1.00 mL ± 0.01")


def test_the_decimal_comma_is_read_in_these_texts() -> None:
    found = stated.density("10,123 g in 10,00 mL ± 0,02")
    assert found.mass is not None
    assert found.mass.number == Decimal("10.123")
    assert found.u == pytest.approx(0.02 / 3**0.5)
    assert stated.loss("6,1 mg u 0,4").value_mg == 6.1


# ---- the certificate, and the balance ----


def test_an_anhydrous_budget_is_complete_once_the_water_has_its_uncertainty(record: Record) -> None:
    _put(record, "lot", "KD-2", basis="anhydrous", water="0.40")
    assert _result(_explain(record)).missing == ("uncertainty of water",)
    _put(record, "lot", "KD-2", water_u="U 0.05 k 2")
    result = _result(_explain(record))
    assert result.complete
    assert (_row(result, "water").value, _row(result, "water").u) == (0.996, pytest.approx(0.00025))


def test_a_dried_budget_is_complete_once_the_loss_on_drying_has_its_uncertainty(record: Record) -> None:
    _put(record, "lot", "KD-2", basis="dried", loss_on_drying="1.2")
    assert _result(_explain(record)).missing == ("uncertainty of loss on drying",)
    _put(record, "lot", "KD-2", loss_on_drying_u="± 0.1")
    result = _result(_explain(record))
    assert result.complete
    assert _row(result, "loss on drying").u == pytest.approx(0.001 / 3**0.5)


def test_water_is_corrected_once_a_hydrate_with_karl_fischer_water_is_refused(record: Record) -> None:
    _put(record, "lot", "KD-2", basis="anhydrous", water="36.1", water_u="u 0.1", assay_formula="CuSO4.5H2O")
    with pytest.raises(StoreError, match="already"):
        _explain(record)


def test_a_balance_adjusted_in_air_and_used_in_argon_is_corrected_for_it(record: Record) -> None:
    _put(record, "enclosure", "E-1", gas="argon")
    before = _explain(record)
    verbs.adjusted(site.acting(record), "B-1", how="external weight", air="1.199 kg/m3")
    found = _explain(record)
    given = inputs.of_solution(found.plan, found.basis, solid_mg=10.0, solvent_mg=9990.0)
    assert given.balance.adjustment_air_kg_m3 == 1.199
    assert given.air_kg_m3 == pytest.approx(1.66, abs=0.01)
    row = _row(_result(found), "air density at the adjustment of B-1")
    assert (row.value, row.u) == (1.199, pytest.approx(0.001 / 3**0.5))
    # The display shows less by (1 − 1.66/8000)/(1 − 1.199/8000): nothing else in the plan moved.
    ratio = float(found.aims["solvent_mg"]) / float(before.aims["solvent_mg"])
    assert ratio == pytest.approx((1 - given.air_kg_m3 / 8000) / (1 - 1.199 / 8000), rel=1e-6)
    # In a quotient of two nets of one balance it cancels.
    same = inputs.of_solution(before.plan, before.basis, solid_mg=10.0, solvent_mg=9990.0)
    assert of_solution(given).value == pytest.approx(of_solution(same).value, rel=1e-12)


def test_old_plans_without_these_fields_still_load() -> None:
    body = {k: getattr(site.PLAN, k) for k in site.PLAN.__dataclass_fields__ if not k.startswith("loss")}
    assert Plan.from_body(body) == site.PLAN


# ---- the solvent, by whatever name a site gives it ----


@pytest.mark.parametrize(
    "called",
    [
        {"name": "water, purified", "cas": "7732-18-5"},
        {"name": "eluent A", "synonyms": ["Water"]},
    ],
)
def test_water_is_water_by_its_number_and_by_its_other_names(record: Record, called: dict[str, Any]) -> None:
    plain = _result(_explain(record))
    site.put(record, "substance", {**registers.body(record, "substance", "WATER"), **called})
    found = _explain(record)
    assert inputs.is_water(found.basis)
    assert _result(found).value == plain.value


def test_an_alcohol_of_unknown_strength_is_not_taken_for_the_pure_one(record: Record) -> None:
    site.put(
        record,
        "substance",
        {**registers.body(record, "substance", "WATER"), "name": "spirit", "cas": "64-17-5"},
    )
    with pytest.raises(StoreError, match="a keeper writes it in the register"):
        _explain(record)


# ---- what the register says of dust and solubility ----


@pytest.mark.parametrize(
    ("says", "warned"),
    [
        ("water 1.1 g/L at 20 degC", False),
        ("water 0.9 g/L at 20 degC", True),
        ("ethanol 0.1 g/L; water 90 mg/100 mL", False),  # no unit of ours: nothing is said
        ("water 0.09 g/100 mL", True),
        ("hardly in ethanol", False),
    ],
)
def test_more_than_the_register_says_a_solvent_takes_is_said_at_the_plan(
    record: Record, says: str, warned: bool
) -> None:
    _put(record, "substance", "K2CR2O7", solubility=says)
    found = [f for f in _explain(record).findings if "may not dissolve" in f.what]
    assert bool(found) is warned
    assert not any(f.stop for f in found)


@pytest.mark.parametrize(("dust", "said"), [("high", True), ("medium", False)])
def test_what_dusts_highly_is_said_at_the_plan(record: Record, dust: str, said: bool) -> None:
    _put(record, "substance", "K2CR2O7", dustiness=dust)
    assert any("dusts highly" in f.what for f in _explain(record).findings) is said
