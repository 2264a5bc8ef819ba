"""How figures are said: times, masses as displayed, values beside U, rests of binary arithmetic."""

import pytest

from store.calc.uncertainty import Input, propagate
from store.procedure.window import Window
from store.queries.results import BudgetRow, _component
from store.readings import as_displayed
from store.units import clock, milligrams, net, rounded, stated


@pytest.mark.parametrize(
    ("seconds", "said"), [(97.4, "1:37"), (97.6, "1:38"), (59.4, "0:59"), (59.6, "1:00"), (3600.0, "60:00")]
)
def test_a_time_is_said_to_the_nearest_second_and_never_as_sixty(seconds: float, said: str) -> None:
    assert clock(seconds) == said


def test_a_difference_of_readings_has_no_rest_and_no_exponent() -> None:
    assert milligrams(0.3 - 0.2 - 0.1) == "0"
    assert milligrams(20000.03 - 20000.02) == "0.01"
    assert net(0.1 + 0.2) == 0.3
    assert milligrams(0.00001) == "0.00001"
    assert milligrams(123456789.01) == "123456789.01"


def test_a_value_has_the_last_place_of_the_uncertainty_beside_it() -> None:
    """JCGM 100:2008, 7.2.6: u with two digits may reach one place further than U has."""
    value, u, k = 1.004726, 0.00053, 1.96
    assert rounded(value, u) == ("1.00473", "0.00053")
    assert stated(value, k * u, "mg/g", k) == "1.0047 mg/g ± 0.0010 mg/g (k = 1.96)"


def test_an_input_that_cancels_has_no_sensitivity_and_one_that_nearly_does_keeps_it() -> None:
    def ratio(x: tuple[float, ...]) -> float:
        return 1000.0 * 0.0117 * (1.0 + x[0]) / (11.64 * (1.0 + x[0])) * (1.0 + 1e-6 * x[1])

    found = propagate(ratio, [Input("gain", 0.0, 2.3e-6), Input("small", 0.0, 1e-3)])  # type: ignore[arg-type]
    by_name = {c.name: c for c in found.components}
    assert by_name["gain"].contribution == 0.0
    assert by_name["small"].contribution == pytest.approx(1e-9 * found.value, rel=1e-3)


def test_a_rest_in_an_older_entry_is_shown_as_nothing_and_a_small_part_as_it_is() -> None:
    row = {"name": "sensitivity of balance B-1", "sensitivity": 4.8e-9, "contribution": 4.4409e-14}
    assert _component(row, "0.0015").contribution == "0"
    small: BudgetRow = _component({**row, "contribution": 2.2e-9}, "0.0015")
    assert small.contribution == "2.2e-09"


@pytest.mark.parametrize(
    ("total_mg", "said"),
    [
        (11.40, "inside the window"),
        (11.39326, "0.01 mg under the window"),
        (11.38, "0.02 mg under the window"),
        (12.61, "0.01 mg over the window"),
    ],
)
def test_what_is_outside_is_said_in_steps_of_the_display(total_mg: float, said: str) -> None:
    assert Window(12.0, 0.6, step_mg=0.01).words(total_mg) == said


@pytest.mark.parametrize(
    ("step_mg", "unit", "said"),
    [(0.001, "mg", "12.000 mg"), (0.01, "mg", "12.00 mg"), (0.1, "g", "0.0120 g"), (0.05, "mg", "12.00 mg")],
)
def test_a_mass_has_the_decimals_of_the_display(step_mg: float, unit: str, said: str) -> None:
    assert as_displayed(12.0, unit, step_mg=step_mg) == said
