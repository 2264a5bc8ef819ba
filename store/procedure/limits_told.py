"""Generic concentration limits beside what a plan or a prep makes: information, nothing is lowered by it."""

from collections.abc import Iterator, Mapping
from typing import Any

from store.hazards import limits
from store.hazards.data import table
from store.model.prep import Plan
from store.procedure import parts, strength


def of_plan(plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any]) -> tuple[str, ...]:
    """Say which generic limits the solute and the solvent reach in the strongest vessel of a plan.

    Empty where nothing is mixed, or nothing classified has such a limit.
    """
    strongest: dict[str, float] = {}
    for own, rows, aimed in parts.views(plan, basis, aims):
        masses = strength.aimed_mg(own, aimed)
        if masses is not None:
            for substance, fraction in strength.fractions(rows, *masses).items():
                strongest[substance] = max(fraction, strongest.get(substance, 0.0))
    return told(basis, strongest)


def told(basis: Mapping[str, Any], fractions: Mapping[str, float]) -> tuple[str, ...]:
    """Say which generic limits substances reach at their mass fractions [g/g] in a mixture.

    A substance whose solution a competent person classified has none: that class stands for the mixture.
    """
    lines = [line for id, fraction in fractions.items() for line in _of_one(basis, id, fraction)]
    if lines:
        lines.append(f"for information, nothing is lowered by them: {table('limits.toml')['source']}")
    return tuple(lines)


def _of_one(basis: Mapping[str, Any], id: str, fraction: float) -> Iterator[str]:
    taken = basis.get("hazards", {}).get(id, {})
    if taken.get("entered"):
        return
    if found := limits.generic(taken.get("classes", ()), fraction=fraction):
        yield from limits.summary(str(basis["substances"][id]["name"]), found, fraction=fraction)
