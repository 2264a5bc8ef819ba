"""How strong a substance is in its lot and in what its masses make; what is not said is the strongest."""

from collections.abc import Mapping
from typing import Any

from store.errors import StoreError
from store.model.prep import Plan
from store.units import number, quantity


def strength_in_lot(row: Mapping[str, Any], lot: Mapping[str, Any]) -> float:
    """Mass fraction of the substance in its lot; 1 where nothing says so: unknown is the strongest."""
    if lot.get("concentration"):
        try:
            stated = quantity(lot["concentration"], "mass_fraction", "mass_concentration")
            if stated.kind == "mass_fraction":
                return min(1.0, stated.to("g/g"))
            if stated.kind == "mass_concentration" and (own := lot.get("density") or row.get("density")):
                return min(1.0, stated.to("g/L") / quantity(own, "density").to("kg/m3"))
        except StoreError:
            pass
    elif row.get("form") in ("liquid", "solution") and lot.get("assay") and not lot["assay"].startswith(">"):
        return min(1.0, float(number(lot["assay"].replace("%", ""))) / 100.0)
    return 1.0


def aimed_mg(plan: Plan, aims: Mapping[str, Any]) -> tuple[float, float] | None:
    """Give the masses of solute and solvent aimed at in one vessel; None where nothing meets in it."""
    solute = plan.parts[0].content if plan.parts else "solid"
    if not aims.get(f"{solute}_mg") or not aims.get("solvent_mg"):
        return None
    return float(aims[f"{solute}_mg"]), float(aims["solvent_mg"])


def fractions(basis: Mapping[str, Any], solute_mg: float, solvent_mg: float) -> dict[str, float]:
    """Give the mass fraction [g/g] of solute and solvent in what their masses make together.

    The solvent counts whole, also where it is a solution itself: its row may be classified as that solution.
    """
    lot, solvent_lot = basis["lot"], basis["solvent_lot"]
    strength = strength_in_lot(basis["substances"][lot["substance"]], lot)
    whole_mg = solute_mg + solvent_mg
    return {
        lot["substance"]: strength * solute_mg / whole_mg,
        solvent_lot["substance"]: solvent_mg / whole_mg,
    }
