"""The columns of a prep's row that follow from its state alone."""

from collections.abc import Mapping
from typing import Any

from store.procedure.done import NEVER
from store.procedure.state import PrepState


def standing(state: PrepState) -> dict[str, Any]:
    """Give them, by name."""
    current, result = state.current, state.result
    counted = [h for h in state.handlings if h.state != NEVER]
    return {
        "status": state.status,
        "step": state.step,
        "step_name": current.name if current is not None else "",
        "last_entry": state.last_entry,
        "last_at": state.last_at,
        "last_person": state.last_person,
        "closed_at": state.closed_at,
        "solid_mg": state.total_mg(state.solute),
        "solvent_mg": state.total_mg("solvent"),
        "open_s": sum(h.open_s for h in counted),
        "open_estimated": any(h.estimated for h in counted),
        "owed": len(state.owed),
        "value": number(result, "value"),
        "unit": str(result.get("unit", "")),
        "u": number(result, "u"),
        "u_rel": number(result, "u_rel"),
        "k": number(result, "k"),
        "deviation": number(result, "deviation"),
        "complete": result.get("complete") in (True, "True", "yes"),
        "made_lot": state.lot.get("id", ""),
        "expiry": state.lot.get("expiry", ""),
        "label": state.label,
        "stale": state.stale,
        "incidents": len(state.incidents),
        "let_through": len(state.let_through),
    }


def number(result: Mapping[str, Any], name: str) -> float | None:
    """Give a figure of the result, None where the result has none."""
    return float(result[name]) if result.get(name) not in (None, "") else None
