"""The published check values: each with its source and how it was verified, in `metrology_checks.json`.

Where `verified` says *from memory*, the value was not read in its source.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import pytest


@dataclass(frozen=True)
class Check:
    """One value to reproduce."""

    id: str
    quantity: str
    inputs: dict[str, Any]
    expected: Any
    tolerance: Any
    source: str


@cache
def every_check() -> dict[str, Check]:
    """Every check by its id."""
    rows = json.loads(files("tests.published").joinpath("metrology_checks.json").read_text(encoding="utf-8"))
    names = ("id", "quantity", "inputs", "expected", "tolerance", "source")
    return {row["id"]: Check(**{n: row[n] for n in names}) for row in rows}


Sums = dict[str, Callable[[dict[str, Any]], Any]]


def reproduces(sums: Sums) -> pytest.MarkDecorator:
    """Parametrise a test over checks, each with the sum that must reproduce it."""
    known = every_check()
    return pytest.mark.parametrize(
        ("check", "value"), [pytest.param(known[id_], f, id=id_) for id_, f in sums.items()]
    )


def assert_reproduced(check: Check, value: Callable[[dict[str, Any]], Any]) -> None:
    """Compare with the published value within its tolerance."""
    got = value(check.inputs)
    if check.tolerance == "exact":
        assert got == check.expected, check.source
    elif isinstance(check.expected, list):
        assert got == pytest.approx(check.expected, abs=check.tolerance), check.source
    else:
        assert abs(got - check.expected) <= check.tolerance, f"{got} against {check.expected}: {check.source}"
