"""Solutions as a competent person classified them: used below the strength entered, never by calculation."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from store.hazards import snapshot
from store.model.decisions import Mixture
from store.procedure.state import PrepState
from store.procedure.strength import strength_in_lot
from store.units import number

SLACK = 1 - 1e-9
"""A strength that is the ceiling itself is not below it, whatever binary fractions make of it."""


def covering(
    rows: Iterable[Mapping[str, Any]], *, substance: str, solvent: str, fraction: float, today: date
) -> Mixture | None:
    """Give the classification that holds for a solution; of several the one for the least strength.

    Where two are for the same strength neither holds, so that solute and solvent count with all they have.

    Parameters
    ----------
    rows
        Rows of the register of solutions.
    fraction
        Mass fraction of the substance in the solution [g/g]; 1 where it is not known.
    """
    of = [Mixture.from_body(row) for row in rows]
    fits = [
        m
        for m in of
        if (m.substance, m.solvent) == (substance, solvent)
        and m.since <= today.isoformat()
        and 100.0 * fraction < float(number(m.below)) * SLACK
    ]
    least = min((float(number(m.below)) for m in fits), default=0.0)
    nearest = [m for m in fits if float(number(m.below)) == least]
    return nearest[0] if len(nearest) == 1 else None


def taken(of: Mixture) -> dict[str, Any]:
    """Give the hazards of a solution as entered, as an entry carries them, with who answers for them."""
    found = snapshot.take(
        of.classification,
        skin_notation=of.skin_notation,
        hazardous_drug=of.hazardous_drug,
        peroxide_former=of.peroxide_former,
        edition=of.edition,
    )
    return {**found, "entered": said(of), "entered_by": f"{of.id} (entered by {of.classified_by})"}


def said(of: Mixture) -> str:
    """Say by whom and why a solution is classified as it is."""
    return (
        f"{of.id}: {of.substance} in {of.solvent} below {of.below} %, classified by {of.classified_by} "
        f"since {of.since}: {of.reason}"
    )


def of_lots(
    rows: Sequence[Mapping[str, Any]],
    lots: Iterable[Mapping[str, Any]],
    substances: Mapping[str, Mapping[str, Any]],
    today: date,
) -> dict[str, dict[str, Any]]:
    """Give the hazards entered for substances that a plan takes only from solutions below a ceiling.

    Where a plan takes a substance from several lots, the strongest decides; from two solvents, none does.
    """
    strongest: dict[str, float] = {}
    solvents: dict[str, set[str]] = {}
    for lot in lots:
        id = str(lot["substance"])
        strength = strength_in_lot(substances[id], lot)
        strongest[id] = max(strength, strongest.get(id, 0.0))
        solvents.setdefault(id, set()).add(str(lot.get("solvent", "")))
    out = {}
    for id, fraction in strongest.items():
        if len(solvents[id]) == 1:
            (solvent,) = solvents[id]
            found = covering(rows, substance=id, solvent=solvent, fraction=fraction, today=today)
            if found is not None:
                out[id] = taken(found)
    return out


def of_finished(state: PrepState, today: date) -> dict[str, Any] | None:
    """Give the hazards entered for the solution of a prep with the masses that are in the vessel; else None.

    The solute counts as pure where its lot says nothing else, so the strength is rather too great.
    """
    basis = state.basis
    lot, solvent_lot = basis["lot"], basis["solvent_lot"]
    solute_mg, solvent_mg = state.total_mg(state.solute), state.total_mg("solvent")
    if not basis.get("mixtures") or not (solute_mg > 0 and solvent_mg > 0) or state.plan.rehearsal:
        return None
    own = strength_in_lot(basis["substances"][lot["substance"]], lot)
    fraction = own * solute_mg / (solute_mg + solvent_mg)
    if lot.get("solvent") and lot["solvent"] != solvent_lot["substance"]:
        return None  # two solvents: nobody classified that
    found = covering(
        basis["mixtures"],
        substance=lot["substance"],
        solvent=solvent_lot["substance"],
        fraction=fraction,
        today=today,
    )
    return None if found is None else taken(found)
