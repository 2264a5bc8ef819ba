"""What a prep brings together: solute with solvent in the vessel, what is in it with a cleaning liquid."""

from collections.abc import Iterator, Mapping
from typing import Any

from store.hazards import mixing
from store.hazards.mixing import NOT_CHECKED, STOP, WARN, Item, Verdict
from store.model.prep import Plan
from store.procedure.checks import Finding
from store.units import number


def _item(
    row: Mapping[str, Any], lot: Mapping[str, Any], snapshot: Mapping[str, Any], mass_mg: float
) -> Item:
    """One substance as the rules know it; by name, CAS number or synonym, else by tags and statements."""
    names = (row["name"], row.get("cas", ""), *row.get("synonyms", ()))
    found = next((n for n in names if n and mixing.known(n)), row["name"])
    strength = 1.0
    if row.get("form") in ("liquid", "solution") and lot.get("assay") and not lot["assay"].startswith(">"):
        strength = min(1.0, float(number(lot["assay"].replace("%", ""))) / 100.0)
    return Item(
        found,
        strength,
        mass_mg,
        tags=tuple(row.get("tags", ())),
        statements=tuple(s["code"] for s in snapshot["statements"]),
    )


def _items(basis: Mapping[str, Any], aims: Mapping[str, Any]) -> tuple[Item, Item]:
    lot, solvent = basis["lot"], basis["solvent_lot"]
    solute_row, solvent_row = (basis["substances"][x["substance"]] for x in (lot, solvent))
    hazards = basis["hazards"]
    return (
        _item(solute_row, lot, hazards[lot["substance"]], float(aims["solid_mg"])),
        _item(solvent_row, solvent, hazards[solvent["substance"]], float(aims["solvent_mg"])),
    )


def in_vessel(plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any]) -> Verdict:
    """Give what is known of solute and solvent meeting, in the order of the recipe."""
    items = _items(basis, aims)
    return mixing.meet(items if not plan.recipe.endswith("solvent first") else items[::-1])


def with_cleaning(basis: Mapping[str, Any], aims: Mapping[str, Any], liquid: str) -> Verdict:
    """Give what is known of traces of solute and solution meeting a cleaning liquid."""
    return mixing.meet((*_items(basis, aims), Item(liquid)), where="cleaning")


def findings(plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any]) -> Iterator[Finding]:
    """Give what a plan's meetings come to: a stop, a warning, a reminder, or that nothing was checked."""
    solute, solvent = (basis["substances"][basis[k]["substance"]]["name"] for k in ("lot", "solvent_lot"))
    yield from _said(f"{solute} and {solvent} in the vessel", in_vessel(plan, basis, aims))
    for liquid in basis["enclosure"].get("cleaning", ()):
        yield from _said(f"{solute} and {liquid} when cleaning", with_cleaning(basis, aims, liquid))


def against_cleaning(basis: Mapping[str, Any], aims: Mapping[str, Any], liquid: str) -> str:
    """Say why a cleaning liquid must not be used on what this prep leaves; empty where no rule says so."""
    verdict = with_cleaning(basis, aims, liquid)
    return "; ".join(f.what for f in _said(f"cleaning with {liquid}", verdict) if f.stop)


def _said(what: str, verdict: Verdict) -> Iterator[Finding]:
    instead = f" {verdict.instead}" if verdict.instead else ""
    if verdict.level == STOP:
        order = f" Order: {verdict.order}" if verdict.order else ""
        yield Finding(f"{what} must not meet: {verdict.happens}{instead}{order}", group="mixing")
    elif verdict.level == NOT_CHECKED:
        yield Finding(f"{what}: not checked, no rule was found", stop=False, group="mixing")
    else:
        word = "warning" if verdict.level == WARN else "remember"
        yield Finding(f"{word}, {what}: {verdict.happens}{instead}", stop=False, group="mixing")
    if verdict.unchecked and verdict.level != NOT_CHECKED:
        yield Finding(f"not checked: {', '.join(verdict.unchecked)}", stop=False, group="mixing")
