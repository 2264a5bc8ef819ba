"""The sums against the clock: a long budget, and `tarebook calc` with and without pint.

Run by hand: `pytest -m bench -s tests/bench/test_bench_sums.py`.
"""

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace

import pytest

from store.calc.budget import BalanceData, Content, SolutionInputs, of_solution
from store.calc.routes import Vessel, Wanted, design
from tests.store.chain_of_steps import Step, of_dilution

pytestmark = pytest.mark.bench

BALANCE = BalanceData(
    name="B-1", readability_mg=0.01, sd_mg=0.012, linearity_mg=0.05, sensitivity_rel=2e-5,
    adjustment_air_kg_m3=1.199, u_adjustment_air_kg_m3=0.001,
)  # fmt: skip
STEP = Step(
    aliquot_start_mg=0, aliquot_end_mg=500, diluent_start_mg=0, diluent_end_mg=19500,
    aliquot_density_kg_m3=998.2, u_aliquot_density_kg_m3=0.5, diluent_density_kg_m3=998.2,
    u_diluent_density_kg_m3=0.1,
)  # fmt: skip
SOLUTION = SolutionInputs(
    unit="mmol/L", solid_start_mg=0, solid_end_mg=12.34, solvent_start_mg=0, solvent_end_mg=11950.0,
    balance=BALANCE, solid_density_kg_m3=2680.0, u_solid_density_kg_m3=50.0, solvent_density_kg_m3=998.2,
    u_solvent_density_kg_m3=0.1, solution_density_g_ml=1.0012, u_solution_density_g_ml=0.0002,
    content=Content(
        assay=0.992, u_assay=0.001, basis="anhydrous", water=0.035, u_water=0.001,
        weighed_formula="C10H15NO.HCl", wanted_formula="C10H15NO",
    ),
)  # fmt: skip


def _ms(what: Callable[[], object], *, times: int = 50) -> float:
    what()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        what()
        found.append(1000.0 * (time.perf_counter() - start))
    return statistics.median(found)


def test_a_budget_of_twelve_inputs_and_four_dilutions_takes_under_five_milliseconds() -> None:
    def whole() -> None:
        stock = of_solution(SOLUTION)
        of_dilution(stock_w=stock.w, u_stock_w=stock.w * stock.u_rel, steps=[STEP] * 4, balance=BALANCE)

    solution_ms, whole_ms = _ms(lambda: of_solution(SOLUTION)), _ms(whole)
    components = len(of_solution(SOLUTION).components)
    print(
        f"\nsolution, {components} components: {solution_ms:.2f} ms; with four dilutions: {whole_ms:.2f} ms"
    )
    assert components >= 12
    assert whole_ms < 5.0


CALC = (
    "calc",
    "convert",
    "0.1 g/g",
    "--to",
    "mol/L",
    "--density",
    "1.0707 g/mL",
    "--molar-mass",
    "58.44 g/mol",
)
SHELL = "import sys; sys.argv = ['tarebook', *sys.argv[1:]]; from tui.__main__ import main; "
WITHOUT = f"{SHELL}main(standalone_mode=False); assert 'pint' not in sys.modules"
WITH = f"import pint; pint.UnitRegistry(); {SHELL}main(standalone_mode=False)"


def _started_ms(code: str, *words: str) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", code, *words], check=True, capture_output=True)
    return 1000.0 * (time.perf_counter() - start)


def test_calc_converts_without_pint_and_is_the_quicker_for_it() -> None:
    """In turn, so that what else the machine does hits each; the least of each is told and compared."""
    floor_ms, without_ms, with_ms = [], [], []
    for _ in range(7):
        floor_ms.append(_started_ms("import click"))
        without_ms.append(_started_ms(WITHOUT, *CALC))
        with_ms.append(_started_ms(WITH, *CALC))
    least = [min(row) for row in (floor_ms, without_ms, with_ms)]
    print(
        "\nimport click {:.0f} ms; calc convert {:.0f} ms; the same with pint loaded {:.0f} ms".format(*least)
    )
    assert least[1] < least[2]


def test_a_route_of_six_steps_from_ten_vessels_is_designed_in_under_a_tenth_of_a_second() -> None:
    capacities = (50000, 40000, 30000, 20000, 15000, 12000, 10000, 5000, 2000, 1000)
    vessels = tuple(Vessel(f"V-{c}", c) for c in capacities)
    wanted = Wanted(
        factor=12345.0,
        amount_mg=8000,
        vessels=vessels,
        sd_mg=0.01,
        minimum_mg=20,
        per_step=5e-5,
        u_wanted=3e-4,
    )
    small = replace(wanted, factor=2.5, amount_mg=45000)
    usual_ms, hardest_ms = _ms(lambda: design(wanted), times=15), _ms(lambda: design(small), times=5)
    print(f"\nroutes, ten vessels, six steps: {usual_ms:.0f} ms; with a small factor: {hardest_ms:.0f} ms")
    assert usual_ms < 100.0
