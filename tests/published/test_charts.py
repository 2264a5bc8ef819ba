"""Charts: NIST/SEMATECH e-Handbook 6.3.2.2; Nelson, J. Quality Technology 16 (1984) 237-239."""

from collections.abc import Callable
from typing import Any

import pytest

from store.calc import chart
from store.errors import OutOfRange
from tests.published.checks import Check, Sums, assert_reproduced, reproduces

SUMS: Sums = {
    "CHT-02": lambda i: chart.individuals(i["x"]).ucl,
    "CHT-03": lambda i: chart.individuals(i["x"]).lcl,
    "CHT-05": lambda i: [s.rule for s in chart.nelson(i["z_scores"])],
    "CHT-06": lambda i: [s.rule for s in chart.nelson(i["z_scores"])],
}


@reproduces(SUMS)
def test_charts_reproduce_the_handbook(check: Check, value: Callable[[dict[str, Any]], Any]) -> None:
    assert_reproduced(check, value)


# Limits in pairs: the run that breaks a rule, and the same run one point or one step short of it.
@pytest.mark.parametrize(
    ("rule", "breaks", "holds"),
    [
        (1, [0.1, 3.01], [0.1, 3.0]),
        (2, [0.5, 0.7] * 4 + [0.5], [0.5, 0.7] * 4),
        (3, [-0.9, -0.5, -0.1, 0.2, 0.4, 0.6], [-0.9, -0.5, -0.1, 0.2, 0.2, 0.6]),
        (4, [0.5, -0.5] * 7, [0.5, -0.5] * 6 + [0.5]),
        (5, [2.1, 0.0, 2.1], [2.1, 0.0, 2.0]),
        (6, [1.1, 1.2, -0.1, 1.3, 1.1], [1.1, 1.2, -0.1, 1.3, 1.0]),
        (7, [0.9, -0.2, 0.1] * 5, [0.9, -0.2, 0.1] * 4 + [0.9, -0.2]),
        (8, [1.2, -1.3, 1.1, -1.4] * 2, [1.2, -1.3, 1.1, -1.4, 1.2, -1.3, 1.1]),
    ],
)
def test_each_rule_is_broken_at_its_limit_and_not_before(
    rule: int, breaks: list[float], holds: list[float]
) -> None:
    assert rule in {s.rule for s in chart.nelson(breaks)}
    assert rule not in {s.rule for s in chart.nelson(holds)}


def test_a_chart_of_one_value_for_ever_has_no_signal_and_two_values_are_no_chart() -> None:
    assert chart.individuals([5.0] * 20).signals == ()
    with pytest.raises(OutOfRange):
        chart.individuals([5.0, 5.1])
