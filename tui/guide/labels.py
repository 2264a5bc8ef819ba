"""The label of a prep: what stands on the vessel before anything is in it, and what came out at the end."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Literal

from store.actions.closing import made_lot
from store.errors import StoreError
from store.hazards.classification import Classification, classification
from store.hazards.label import elements
from store.hazards.statements import edition_named
from store.model.words import NOT_CLASSIFIED, PrepStatus
from store.procedure import entered, inputs, outcome, powder
from store.procedure.state import PrepState
from store.record.record import Record
from store.units import factor_k, quantity, rounded
from tui.paper.label import POWDER, LabelData, label_text

DISPLAYED = "as displayed"
"""An amount is the sum of the nets that the balance showed, as in the stock; a strength is of true masses."""


def label_of(record: Record, state: PrepState) -> str:
    """Give the text label that fits the moment: a pre-label until something came out."""
    if state.plan.parts and state.whole is None:
        return "\n".join(_short(record, part) for part in state.each)
    if state.label and state.status != PrepStatus.OPEN:
        return state.label
    if state.complete:
        return final_label(record, state)
    return label_text(data_of(record, state, "pre-label"))


def final_label(record: Record, state: PrepState) -> str:
    """Give the text label of what stands in one vessel now."""
    return label_text(data_of(record, state, "final"))


def _short(record: Record, state: PrepState) -> str:
    """Give the pre-label of one of several vessels in two lines; the final one holds everything."""
    data = data_of(record, state, "pre-label")
    part = state.plan.parts[0]
    what = "BLANK" if part.is_blank else f"wanted {data.strength}"
    first = f"{data.vessel:<8} BEING PREPARED, NOT FOR USE  {what} in {data.solvent}"
    return f"{first}\n         {data.name}  {data.signal_line}  {data.prep}, part {part.key}"


def data_of(record: Record, state: PrepState, kind: Literal["pre-label", "final"]) -> LabelData:
    """Give everything that a label of a prep says.

    The hazards are those of solute and solvent together, as classified when the prep was planned: nothing is
    lowered by calculation. What a competent person entered for the finished solution stands in their place.
    """
    basis = state.basis
    lot, solvent_lot = basis["lot"], basis["solvent_lot"]
    if state.plan.parts and state.plan.parts[0].is_blank:
        lot = solvent_lot
    solute, solvent = (basis["substances"][row["substance"]] for row in (lot, solvent_lot))
    carrier = basis["substances"].get(lot.get("solvent", ""))
    held = list({row["id"]: row for row in (solute, solvent, carrier) if row is not None}.values())
    stands = record.entry(state.closed_entry or state.last_entry)
    made = datetime.fromisoformat(stands.at).astimezone(record.now().tzinfo).date()
    snapshots = [basis["hazards"][row["id"]] for row in held]
    if kind == "final" and (whole := entered.of_finished(state, made)) is not None:
        held, snapshots = [solute], [whole]
    shown = elements([one for row, s in zip(held, snapshots, strict=True) for one in _classes(row, s)])
    texts = {s["code"]: s["text"] for snapshot in snapshots for s in snapshot["statements"]}
    strength, uncertainty, expires, rests, amount = state.plan.target, "", "", "", state.plan.amount
    lot_id, container_id = "", ""
    if kind == "final":
        of_lot, of_container, rests = made_lot(state, made)
        lot_id, container_id, expires = of_lot.id, of_container.id, of_lot.expiry
        strength, uncertainty, amount = _came_out(state)
    form = "" if powder.stays(state) else inputs.stated_form(state.plan, state.basis)
    return LabelData(
        kind=kind,
        name=f"{form}, from {solute['name']}" if form else solute["name"],
        cas=solute.get("cas", ""),
        strength=strength,
        uncertainty=uncertainty,
        solvent=POWDER if powder.stays(state) else solvent["name"],
        amount=amount,
        made=made.isoformat(),
        expires=expires,
        expiry_rests_on=rests,
        storage=solute.get("storage", "") or solvent.get("storage", ""),
        preparer=state.last_person,
        prep=state.prep,
        vessel=state.plan.vessel,
        lot=lot_id,
        container=container_id,
        entry=stands.entry,
        digest=stands.digest,
        signal_word=shown.signal_word,
        pictograms=shown.pictograms,
        statements=tuple((code, texts.get(code, "")) for code in shown.statements),
        contains=tuple(row["name"] for row, s in zip(held, snapshots, strict=True) if s["statements"]),
        waste_stream=solute.get("waste_stream", ""),
        edition=_edition(snapshots),
        capacity_ml=_capacity_ml(basis.get("vessel", {})),
        no_data=any(s["no_data"] for s in snapshots),
    )


def _capacity_ml(vessel: Mapping[str, Any]) -> float | None:
    """What a vessel takes, or None where its row does not say it."""
    try:
        return quantity(str(vessel.get("capacity", "")), "volume").to("mL")
    except StoreError:
        return None


def _classes(row: Mapping[str, Any], snapshot: Mapping[str, Any]) -> list[Classification]:
    """Classifications of a substance, or of its solution where a competent person entered one."""
    texts = snapshot["classes"] if "entered" in snapshot else row.get("classification", ())
    return [classification(text) for text in texts if text != NOT_CLASSIFIED]


def _edition(snapshots: Sequence[Mapping[str, Any]]) -> str:
    """Edition of the classification, and who answers for what was entered for a solution."""
    editions = [edition_named(s["edition"]) for s in snapshots]
    return ", ".join(dict.fromkeys((*editions, *(s["entered_by"] for s in snapshots if "entered" in s))))


def _came_out(state: PrepState) -> tuple[str, str, str]:
    result = outcome.result(state)
    if not result.value:
        content_g = state.total_mg("solvent") / 1000.0
        return "blank, nothing added", "", f"{content_g:.3f} g {DISPLAYED}"
    value, spread = rounded(result.value, result.U)
    uncertainty = f"{spread} {result.unit} ({factor_k(result.k)})" if result.complete else ""
    content_mg = state.total_mg(state.solute) + state.total_mg("solvent")
    amount = f"{content_mg:.2f} mg" if powder.stays(state) else f"{content_mg / 1000.0:.3f} g"
    return f"{value} {result.unit}", uncertainty, f"{amount} {DISPLAYED}"
