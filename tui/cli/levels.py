"""The levels of a series with their covariance matrix, as a calibration fit takes them."""

from collections.abc import Mapping
from typing import Any

from store.errors import BadInput
from store.queries.page import PrepPage


def _written(page: PrepPage) -> Mapping[str, Any]:
    """Give the levels as the closing entry has them.

    Raises
    ------
    BadInput
        The prep is not closed, or has no levels.
    """
    found = page.result.levels if page.result is not None else {}
    if not found:
        raise BadInput(
            f"{page.state.prep} has no levels with a covariance: name a closed dilution or series."
        )
    return found


def data(page: PrepPage) -> dict[str, Any]:
    """Give values, standard uncertainties, covariance and correlation as numbers for a program."""
    found = _written(page)
    matrix = [[float(c) for c in row] for row in found["covariance"]]
    u = [max(0.0, row[n]) ** 0.5 for n, row in enumerate(matrix)]
    return {
        "prep": page.state.prep,
        "head": page.head,
        "unit": found["unit"],
        "covariance_unit": f"({found['unit']})^2",
        "levels": [
            {"part": part, "vessel": vessel, "value": float(value), "standard_uncertainty": spread}
            for part, vessel, value, spread in zip(
                found["parts"], found["vessels"], found["values"], u, strict=True
            )
        ],
        "covariance": matrix,
        "correlation": [
            [c / (u[i] * u[j]) if u[i] and u[j] else float(i == j) for j, c in enumerate(row)]
            for i, row in enumerate(matrix)
        ],
        "source": "JCGM 102:2011, 6.2, as computed when the prep was closed",
    }


def rows(page: PrepPage) -> list[dict[str, Any]]:
    """Give a row a level: value, standard uncertainty, and its row of the covariance matrix."""
    found = data(page)
    names = [f"cov {level['vessel']}, {found['covariance_unit']}" for level in found["levels"]]
    return [
        {
            "part": level["part"],
            "vessel": level["vessel"],
            "value": repr(level["value"]),
            "u": repr(level["standard_uncertainty"]),
            "unit": found["unit"],
            **dict(zip(names, (repr(c) for c in row), strict=True)),
        }
        for level, row in zip(found["levels"], found["covariance"], strict=True)
    ]
