"""Recipes: a plan becomes steps. A recipe is data in the order that the method wants."""

from collections.abc import Callable, Mapping
from typing import Any

from store.errors import UnknownCode
from store.model.prep import Plan, Step
from store.procedure import warned
from store.procedure.recipes import dilution, rack, solution
from store.procedure.recipes.acts import COMPARE

__all__ = ["COMPARE", "RECIPES", "SEVERAL", "steps"]

Recipe = Callable[[Plan, Mapping[str, Any]], tuple[Step, ...]]

RECIPES: Mapping[str, Recipe] = {
    "solution, solid first": solution.solid_first,
    "solution, solvent first": solution.solvent_first,
}
"""The recipes of one vessel, by the name that stands in the plan."""

SEVERAL: Mapping[str, Recipe] = {
    "dilution, aliquot first": dilution.aliquot_first,
    "dilution, solvent first": dilution.solvent_first,
    "series, aliquot first": dilution.aliquot_first,
    "series, solvent first": dilution.solvent_first,
    rack.ALL_AT_ONCE: rack.all_at_once,
    rack.ONE_BY_ONE: rack.one_by_one,
}
"""The recipes of a plan with parts."""


def steps(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Give the steps of a plan.

    Raises
    ------
    UnknownCode
        The plan names a recipe that there is not.
    """
    known = SEVERAL if plan.parts else RECIPES
    if plan.recipe not in known:
        raise UnknownCode(f"There is no recipe {plan.recipe!r}: choose {' or '.join(known)}.")
    return warned.into(known[plan.recipe](plan, basis), basis)
