"""The rows that the parts of a plan rest on: each part's vessel, source and solvent."""

from collections.abc import Iterator, Mapping
from typing import Any

from store.errors import BadInput
from store.model.prep import Part, Plan
from store.model.words import LotStatus
from store.procedure import parts
from store.queries import lot_checks, lots, registers, rests_on
from store.record.record import Record


def gather(record: Record, plan: Plan) -> dict[str, Any]:
    """Give the rows of every part by its key, under `parts`; nothing for a plan of one vessel.

    A part that is made from another part of the plan rests on the lot which that part will be.

    Raises
    ------
    BadInput
        A key or a vessel stands twice, or a source is no part before it.
    NotFound
        A part names something that is not in its register.
    """
    if not plan.parts:
        return {}
    prep = record.next_prep_id()
    out: dict[str, Any] = {}
    vessels: set[str] = set()
    containers: dict[str, dict[str, Any]] = {}

    def taken(id: str, named: str, of: str) -> dict[str, Any]:
        if id not in containers:  # many vessels are filled from one container: it is asked about once
            containers[id] = container(record, id)
        row = containers[id]
        return {named: dict(row), of: registers.in_use(record, "lot", row["lot"])}

    for part in plan.parts:
        if part.key in out:
            raise BadInput(f"Part {part.key} stands twice in the plan: give each its own key.")
        if part.vessel in vessels:
            raise BadInput(f"Vessel {part.vessel} stands twice in the plan: give each part its own vessel.")
        if part.source and part.source not in out:
            raise BadInput(f"Part {part.key} is made from {part.source}, which is no part before it.")
        vessels.add(part.vessel)
        rows: dict[str, Any] = {"vessel": registers.in_use(record, "vessel", part.vessel)}
        if part.source:
            rows |= _to_be_made(prep, plan.part(part.source), out[part.source])
        elif part.container:
            rows |= taken(part.container, "container", "lot")
        if part.solvent_container:
            rows |= taken(part.solvent_container, "solvent_container", "solvent_lot")
        out[part.key] = rows
    _must_go_together(plan, out)
    return {"parts": out}


def container(record: Record, id: str) -> dict[str, Any]:
    """Give a container with what the record knows: first opened, how often thawed, what stands against it.

    Raises
    ------
    NotFound
        There is none, or it was retired.
    """
    row = registers.in_use(record, "container", id)
    if opened := row.get("opened_on") or lots.first_opened(record, id):
        row["opened_on"] = opened
    if row.get("thaws_most"):
        row["thawed"] = lots.thawed(record, id)
    if against := rests_on.of(record, id):
        row["rests_on"] = list(against)
    if undecided := lot_checks.undecided(record, str(row.get("lot", ""))):
        row["undecided"] = [u.line for u in undecided]
    return row


def substances(several: Mapping[str, Any]) -> Iterator[str]:
    """Give every substance that the parts bring with them: analyte, what carries it, solvent."""
    for rows in several.get("parts", {}).values():
        for lot in (rows.get("lot", {}), rows.get("solvent_lot", {})):
            yield from (str(lot[k]) for k in ("substance", "solvent") if lot.get(k))


def lots_taken(several: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """Give the lots that the parts take from containers; what is made on the way is weaker than they are."""
    for rows in several.get("parts", {}).values():
        for container, lot in (("container", "lot"), ("solvent_container", "solvent_lot")):
            if container in rows and lot in rows:
                yield rows[lot]


def _must_go_together(plan: Plan, out: Mapping[str, Mapping[str, Any]]) -> None:
    """Refuse what one prep cannot hold apart: several analytes, several solvents.

    Raises
    ------
    BadInput
        With what to plan instead.
    """
    for key, what in (("lot", "substance"), ("solvent_lot", "solvent")):
        found = {rows[key]["substance"] for rows in out.values() if key in rows}
        if len(found) > 1:
            raise BadInput(
                f"All vessels of a prep have one {what}, not {' and '.join(sorted(found))}: plan two."
            )
    if all(p.is_blank for p in plan.parts):
        raise BadInput("Every vessel of this plan is a blank: give a target to one.")


def _to_be_made(prep: str, source: Part, rows: dict[str, Any]) -> dict[str, Any]:
    lot = parts.made_lot(prep, source.key)
    row = {
        "id": lot,
        "substance": rows["lot"]["substance"],
        "concentration": source.target,
        "solvent": rows.get("solvent_lot", {}).get("substance", ""),
        "status": str(LotStatus.RELEASED),
        "made_by": prep,
    }
    return {"container": {"id": parts.made_container(lot), "lot": lot, "place": source.vessel}, "lot": row}
