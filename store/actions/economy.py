"""Least powder, fewest openings: what a plan could spare, and whether its container lasts."""

from collections.abc import Iterator, Mapping
from typing import Any

from store.calc import least
from store.model.prep import Plan
from store.model.settings import value
from store.procedure import inputs
from store.procedure.checks import Finding
from store.queries import lots, merging
from store.queries.duty import CMR_1
from store.queries.merging import Waiting
from store.record.record import Record
from store.units import figure, number, weighed

WORTH = 0.8
"""Less powder is proposed from a fifth on; our own choice."""
THIS = "this prep"


def findings(
    record: Record, plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any]
) -> tuple[Finding, ...]:
    """Give what could be spared and what runs out; nothing of it stops a plan."""
    if plan.parts or "solid_mg" not in aims:
        return tuple(Finding(what, stop=False) for what in _as_a_solution(basis))
    said = (
        *_as_a_solution(basis),
        *_least(plan, basis, aims),
        *_runs_out(record, plan, aims),
        *_together(record, plan, basis, aims),
    )
    return tuple(Finding(what, stop=False) for what in said)


def _as_a_solution(basis: Mapping[str, Any]) -> Iterator[str]:
    """Directive 2004/37/EC, Articles 4 and 5: replace, or reduce, before anything else."""
    id = basis["lot"]["substance"]
    if CMR_1 in basis["hazards"][id]["families"] and not basis["lot"].get("concentration"):
        name = basis["substances"][id]["name"]
        yield f"{name} is CMR category 1 and would be weighed as a solid: can it be had as a solution?"


def _least(plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any]) -> Iterator[str]:
    solid_mg = float(aims["solid_mg"])
    enough = float(number(value(basis["settings"], "enough_percent")))
    found = least.least_solid(
        inputs.of_solution(plan, basis, solid_mg=solid_mg, solvent_mg=1.0),
        target=float(inputs.target(plan).number),
        u_rel=enough / 200.0,
        minimum_mg=float(aims["minimum_mg"]),
    )
    if found.solid_mg < WORTH * solid_mg:
        yield (
            f"least powder: {weighed(found.solid_mg)} would be enough for ± {figure(enough, 3)} % (k = 2) "
            f"({found.decides}), {weighed(solid_mg - found.solid_mg)} less"
        )
    elif found.decides == "not by mass":
        yield (
            f"more powder makes it no surer than ± {figure(200 * found.u_rel, 2)} % (k = 2), "
            f"{figure(enough, 3)} % is wanted: only a better certificate would"
        )
    elif found.solid_mg > solid_mg and found.decides == "uncertainty":
        yield f"± {figure(enough, 3)} % (k = 2) would take {weighed(found.solid_mg)} of solid"


def _runs_out(record: Record, plan: Plan, aims: Mapping[str, Any]) -> Iterator[str]:
    needs = (
        (plan.container, float(aims["solid_mg"]), "container"),
        (plan.solvent_container, float(aims["solvent_mg"]), "solvent_container"),
    )
    for container, need_mg, column in needs:
        left_mg = lots.stock(record, container).left_mg
        if left_mg is None or left_mg < need_mg:
            continue
        others = [w for w in merging.waiting(record) if column == "container" and w.container == container]
        planned_mg = sum(w.solid_mg for w in others)
        after_mg = left_mg - need_mg
        if planned_mg > after_mg:
            yield (
                f"container {container} runs out: {len(others)} more planned from it take "
                f"{weighed(planned_mg)}, {weighed(after_mg)} are left after this prep"
            )
        elif after_mg < need_mg:
            yield f"container {container} runs out: {weighed(after_mg)} are left after this prep"


def _together(record: Record, plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any]) -> Iterator[str]:
    masses = (float(aims[key]) for key in ("solid_mg", "solvent_mg", "minimum_mg"))
    lot, solvent = basis["lot"], basis["solvent_lot"]["substance"]
    this = Waiting(
        THIS, plan.container, lot["id"], lot["substance"], solvent, plan.target, plan.amount, *masses
    )
    for merge in merging.merges(record, beside=this):
        yield f"one opening for several: {merge.words()}"
