"""Covariance of a series: JCGM 102, JCGM 100 H.2, the published dilution checks, a Monte Carlo (JCGM 101)."""

import math
import random
from collections.abc import Callable
from typing import Any

import pytest

from store.calc.covariance import Series, joint, scaled
from store.calc.given import BalanceData
from store.calc.levels import Common, Level, Reading, Stock
from store.calc.series import of_series
from store.calc.uncertainty import Input
from store.errors import OutOfRange
from tests.published.checks import Check, Sums, assert_reproduced, reproduces
from tests.store import chain_of_steps as chain

BALANCE = BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.01)


def level(n: int, aliquot_mg: float, total_mg: float = 20000.0, source: str = "S") -> Level:
    return Level(
        name=f"L{n}",
        source=source,
        aliquot=(Reading(f"{n}a", 0.0), Reading(f"{n}b", aliquot_mg)),
        diluent=(Reading(f"{n}c", 0.0), Reading(f"{n}d", total_mg - aliquot_mg)),
    )


def series(levels: list[Level], *, u: float = 0.0, balance: BalanceData = BALANCE) -> Series:
    return of_series(
        stocks=[Stock(name="S", value=1.0, u=u)],
        levels=levels,
        common=Common(balances=[balance], u_air_kg_m3=0.0),
    )


def one_level(i: dict[str, Any]) -> float:
    """A chain of levels, each made from the one before; the last one's relative uncertainty."""
    steps = i.get("steps", 1)
    made = [
        level(n, i["m_aliquot_mg"], i["M_total_mg"], "S" if n == 1 else f"L{n - 1}")
        for n in range(1, steps + 1)
    ]
    found = series(made, balance=BalanceData(name="B-1", readability_mg=0.001, sd_mg=i["s_mg"]))
    return found.u[-1] / found.values[-1]


def at_the_best(i: dict[str, Any]) -> float:
    steps = 3
    factor = i["F"] ** (1 / steps)
    one = one_level(
        {"m_aliquot_mg": i["vial_mg"] / factor, "M_total_mg": i["vial_mg"], "s_mg": i["s_mg"], "steps": steps}
    )
    return math.sqrt(one**2 + steps * i["r_per_step"] ** 2)


SUMS: Sums = {"SER-03": one_level, "SER-04": one_level, "DES-02": at_the_best}


@reproduces(SUMS)
def test_levels_reproduce_the_published_uncertainties(
    check: Check, value: Callable[[dict[str, Any]], Any]
) -> None:
    assert_reproduced(check, value)


def test_the_covariance_of_the_impedance_example_is_that_of_the_gum() -> None:
    """JCGM 100:2008, H.2, tables H.2 and H.4: R, X, Z from V, I, φ (values from memory).

    There the inputs are correlated; here they are made of independent ones with the same matrix.
    """
    u = (0.0032, 0.0095e-3, 0.00075)
    r = {(0, 1): -0.355, (0, 2): 0.858, (1, 2): -0.645}
    c = [[u[a] * u[b] * (1 if a == b else r[min(a, b), max(a, b)]) for b in range(3)] for a in range(3)]
    lower = [[0.0] * 3 for _ in range(3)]
    for a in range(3):
        for b in range(a + 1):
            rest = c[a][b] - sum(lower[a][k] * lower[b][k] for k in range(b))
            lower[a][b] = math.sqrt(rest) if a == b else rest / lower[b][b]
    at = (4.9990, 19.6610e-3, 1.04446)

    def impedance(z: Any) -> tuple[float, float, float]:
        v, i, phi = (at[a] + sum(lower[a][k] * z[k] for k in range(3)) for a in range(3))
        return v / i * math.cos(phi), v / i * math.sin(phi), v / i

    values, matrix = joint(impedance, [Input(f"z{k}", 0.0, 1.0) for k in range(3)])
    assert values == pytest.approx((127.732, 219.847, 254.260), abs=0.001)
    sd = [math.sqrt(matrix[k][k]) for k in range(3)]
    assert sd == pytest.approx([0.071, 0.295, 0.236], abs=0.002)
    found = [matrix[a][b] / sd[a] / sd[b] for a, b in ((0, 1), (0, 2), (1, 2))]
    assert found == pytest.approx([-0.588, -0.485, 0.993], abs=0.01)


def test_the_diagonal_is_what_the_chain_of_steps_gives() -> None:
    balance = BalanceData(
        name="B-1", readability_mg=0.01, sd_mg=0.012, linearity_mg=0.03, sensitivity_rel=2e-6
    )
    steps = [
        chain.Step(
            aliquot_start_mg=0,
            aliquot_end_mg=m,
            diluent_start_mg=0,
            diluent_end_mg=20000 - m,
            aliquot_density_kg_m3=998,
            diluent_density_kg_m3=998,
        )
        for m in (200.0, 500.0)
    ]
    theirs = chain.of_dilution(stock_w=1.0, u_stock_w=0.002, steps=steps, balance=balance, u_air_kg_m3=0.0)
    ours = series([level(1, 200.0), level(2, 500.0, source="L1")], u=0.002, balance=balance)
    assert ours.values[-1] == pytest.approx(theirs.value, rel=1e-12)
    assert ours.u[-1] == pytest.approx(theirs.u, rel=1e-6)


def test_levels_of_one_stock_share_its_uncertainty_whole() -> None:
    found = series([level(1, 1000.0), level(2, 2000.0)], u=0.002)
    assert found.covariance[0][1] == pytest.approx(found.values[0] * found.values[1] * 0.002**2, rel=1e-6)
    apart = series([level(1, 1000.0), level(2, 2000.0)])
    assert apart.covariance[0][1] == 0.0


def by_difference() -> list[Level]:
    """Two aliquots out of one vessel on the pan: the reading between them ends one and begins the other."""
    first, middle, last = Reading("first", 9000.0), Reading("middle", 8600.0), Reading("last", 8100.0)
    return [
        Level(
            name="L1",
            source="S",
            aliquot=(first, middle),
            diluent=(Reading("1c", 0.0), Reading("1d", 19600.0)),
        ),
        Level(
            name="L2",
            source="S",
            aliquot=(middle, last),
            diluent=(Reading("2c", 0.0), Reading("2d", 19500.0)),
        ),
        Level(
            name="L3",
            source="L1",
            aliquot=(Reading("3a", 0.0), Reading("3b", 300.0)),
            diluent=(Reading("3c", 0.0), Reading("3d", 9700.0)),
        ),
        Level(name="blank"),
    ]


def test_a_shared_reading_makes_two_levels_vary_against_each_other() -> None:
    found = series(by_difference())
    # Sensitivity of a level to its aliquot is w·(1 − m/M)/m; the shared reading has s²/2.
    a, b = (w * (1 - m / 20000) / m for w, m in zip(found.values, (400.0, 500.0), strict=False))
    assert found.covariance[0][1] == pytest.approx(-a * b * 0.01**2 / 2, rel=1e-3)


def test_a_monte_carlo_gives_the_same_covariance() -> None:
    """JCGM 101:2008: 20 000 draws of stock and readings, the matrix within its sampling error."""
    levels, u_stock, s, rng = by_difference(), 2e-5, 0.05, random.Random(101)
    balance = BalanceData(name="B-1", readability_mg=0.01, sd_mg=s)
    found = series(levels, u=u_stock, balance=balance)
    draws: list[list[float]] = []
    for _ in range(20000):
        seen: dict[str, float] = {}
        made = {"S": rng.gauss(1.0, u_stock)}
        for of in levels:
            if of.aliquot is None or of.diluent is None:
                made[of.name] = 0.0
                continue
            for r in (*of.aliquot, *of.diluent):
                seen.setdefault(r.name, rng.gauss(r.shown_mg, s / math.sqrt(2)))
            m = abs(seen[of.aliquot[1].name] - seen[of.aliquot[0].name])
            d = seen[of.diluent[1].name] - seen[of.diluent[0].name]
            made[of.name] = made[of.source] * m / (m + d)
        draws.append([made[of.name] for of in levels])
    n = len(draws)
    mean = [math.fsum(row[k] for row in draws) / n for k in range(4)]
    for a in range(4):
        for b in range(4):
            sampled = math.fsum((row[a] - mean[a]) * (row[b] - mean[b]) for row in draws) / (n - 1)
            error = math.sqrt(
                (found.covariance[a][a] * found.covariance[b][b] + found.covariance[a][b] ** 2) / n
            )
            assert abs(sampled - found.covariance[a][b]) <= 4 * error + 1e-18, (a, b)


def test_the_levels_of_one_balance_share_its_sensitivity_but_a_ratio_is_free_of_it() -> None:
    shaky = BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.01, sensitivity_rel=0.01)
    assert series([level(1, 1000.0)], balance=shaky).u == pytest.approx(
        series([level(1, 1000.0)]).u, rel=1e-3
    )


def test_levels_on_two_balances_are_each_as_sure_as_their_balance() -> None:
    coarse = BalanceData(name="B-2", readability_mg=0.1, sd_mg=0.1)
    made = [level(1, 1000.0), Level(**{**_fields(level(2, 1000.0)), "balance": "B-2"})]
    found = of_series(
        stocks=[Stock(name="S", value=1.0, u=0.0)],
        levels=made,
        common=Common(balances=[BALANCE, coarse], u_air_kg_m3=0.0),
    )
    assert found.u[1] / found.u[0] == pytest.approx(10.0, rel=1e-6)


def _fields(of: Level) -> dict[str, Any]:
    return {name: getattr(of, name) for name in ("name", "source", "aliquot", "diluent")}


def test_a_density_common_to_all_levels_correlates_them() -> None:
    found = scaled(series([level(1, 1000.0), level(2, 2000.0)]), factor=0.9982, u_rel=0.01)
    assert found.values[0] == pytest.approx(0.9982 * 0.05)
    assert found.correlation[0][1] == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(
    "wrong",
    [
        [level(1, 1000.0, source="nothing")],
        [level(1, 1000.0), level(1, 2000.0)],
        [Level(name="L1", source="S")],
        [level(1, 0.0)],
        [Level(**{**_fields(level(1, 1000.0)), "balance": "B-9"})],
    ],
)
def test_a_level_that_cannot_be_is_refused(wrong: list[Level]) -> None:
    with pytest.raises(OutOfRange):
        series(wrong)


def test_a_reading_of_one_name_has_one_value() -> None:
    other = Level(
        name="L2",
        source="S",
        aliquot=(Reading("1a", 5.0), Reading("2b", 100.0)),
        diluent=(Reading("2c", 0.0), Reading("2d", 900.0)),
    )
    with pytest.raises(OutOfRange, match="two values"):
        series([level(1, 1000.0), other])
