"""A plan of several vessels, looked at one at a time, so that what holds for one vessel is said once."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from store.model.prep import Part, Plan

View = tuple[Plan, Mapping[str, Any], Mapping[str, Any]]
"""Plan, basis and aims of one vessel."""


def view(plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any], key: str) -> View:
    """Give plan, basis and aims of one part, in the shape that a plan of one vessel has.

    The rows of a part stand in `basis["parts"]` and its aims in `aims["parts"]`, by its key.
    """
    part = plan.part(key)
    rows = basis.get("parts", {}).get(key, {})
    own = {**{k: v for k, v in basis.items() if k != "parts"}, **rows}
    narrowed = replace(
        plan,
        container=str(own.get("container", {}).get("id", "")) or part.container or plan.container,
        solvent_container=part.solvent_container or plan.solvent_container,
        target=part.target or plan.target,
        amount=part.amount or plan.amount,
        vessel=part.vessel,
        parts=(part,),
    )
    return narrowed, own, aims.get("parts", {}).get(key, {})


def views(plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any]) -> Iterator[View]:
    """Give every vessel of a plan; a plan without parts is its one vessel."""
    if not plan.parts:
        yield plan, basis, aims
    for part in plan.parts:
        yield view(plan, basis, aims, part.key)


def made_lot(prep: str, key: str) -> str:
    """Give the number of the lot that a part of a prep makes; without a key, that of the prep's one vessel.

    Examples
    --------
    >>> made_lot("P-7F3A-0012", "2"), made_lot("P-7F3A-0012", "")
    ('S-7F3A-0012.2', 'S-7F3A-0012')
    """
    base = prep.replace("P-", "S-", 1)
    return f"{base}.{key}" if key else base


def made_container(lot: str, key: str = "1") -> str:
    """Give the number of a container that a made lot is in; a lot in many vessels has one for each part.

    >>> made_container("S-7F3A-0012"), made_container("S-7F3A-0012", "30")
    ('S-7F3A-0012-1', 'S-7F3A-0012-30')
    """
    return f"{lot}-{key}"


def descendants(plan: Plan, key: str) -> tuple[Part, ...]:
    """Give every part that is made from a part, directly or through others, in the order of the plan."""
    found = {key}
    for part in plan.parts:
        if part.source in found:
            found.add(part.key)
    return tuple(p for p in plan.parts if p.key in found and p.key != key)


def generations(plan: Plan) -> tuple[tuple[Part, ...], ...]:
    """Give the parts by how many parts lie between them and a container, the nearest first."""
    depth: dict[str, int] = {}
    for part in plan.parts:
        depth[part.key] = depth[part.source] + 1 if part.source else 0
    return tuple(
        tuple(p for p in plan.parts if depth[p.key] == n) for n in range(max(depth.values(), default=-1) + 1)
    )
