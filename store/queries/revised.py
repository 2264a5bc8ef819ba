"""What a revised certificate changes: every prep that rests on the lot, with its old and its new value.

What was written is never changed: the new value is computed beside it, from the same readings and the row of
the lot as it stands now. Further on it is carried by proportion.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from store.calc.budget import SolutionResult
from store.errors import StoreError
from store.model.registers import Lot
from store.procedure import outcome, powder
from store.procedure.state import PrepState
from store.queries import lots, registers, trace
from store.record.record import Record

CERTIFICATE = (
    "assay", "assay_u", "basis", "assay_method", "assay_formula", "water", "water_u", "loss_on_drying",
    "loss_on_drying_u", "dried_before_use", "density", "concentration", "concentration_u",
)  # fmt: skip
"""Fields of a lot that a result rests on."""
CONTENT = "g/g"
"""Unit of what is said of a portion of powder: its content, which stands on no label."""
SAME = 1e-9
"""Two values closer than this are the same number."""


@dataclass(frozen=True, slots=True)
class Holder:
    """One container of what was made, and what is left in it by the record."""

    container: str
    place: str
    left_mg: float | None


@dataclass(frozen=True, slots=True)
class Revised:
    """One lot that rests on the lot asked for, and the prep that made it.

    Values are numbers in its unit, None where none was written.
    """

    depth: int
    prep: str
    by: str
    status: str
    made_lot: str
    unit: str
    was: float | None
    was_u: float | None
    now: float | None
    now_u: float | None
    how: str
    """computed, in proportion, unchanged; or why nothing can be said."""
    holders: tuple[Holder, ...]
    used_by: tuple[str, ...]
    """People who took from what it made."""

    @property
    def changed(self) -> bool:
        """Whether the value is another one now."""
        return (
            self.was is not None and self.now is not None and abs(self.now - self.was) > SAME * abs(self.was)
        )

    @property
    def print_again(self) -> bool:
        """Whether a label with the old value stands on something that is still there."""
        return self.changed and bool(self.holders) and self.unit != CONTENT


def certificate(row: Mapping[str, Any]) -> dict[str, Any]:
    """Give what a result rests on, of a lot's row."""
    whole = Lot.from_body(row)
    return {name: getattr(whole, name) for name in CERTIFICATE}


def certificates(state: PrepState) -> dict[str, dict[str, Any]]:
    """Give what a prep takes of the certificate of every lot that it rests on; not of what it made itself."""
    rows = (state.basis, *state.basis.get("parts", {}).values())
    held = [own[key] for own in rows for key in ("lot", "solvent_lot") if own.get(key, {}).get("id")]
    return {str(row["id"]): certificate(row) for row in held if row.get("made_by") != state.prep}


def as_now(record: Record, state: PrepState) -> PrepState:
    """Give a prep as if its lots had been then what their rows say now."""
    basis = dict(state.basis)
    for key in ("lot", "solvent_lot"):
        id = str(basis[key]["id"])
        basis[key] = {**basis[key], **certificate(registers.row(record, "lot", id).row)}
    if "parts" in basis:
        basis["parts"] = {key: _part_as_now(record, state.prep, rows) for key, rows in basis["parts"].items()}
    return replace(state, basis=basis)


def _part_as_now(record: Record, prep: str, rows: Mapping[str, Any]) -> dict[str, Any]:
    """The rows of one part; what the prep itself made follows from its own doses, not from a row."""
    now = dict(rows)
    for key in ("lot", "solvent_lot"):
        if key in now and now[key].get("made_by") != prep:
            row = registers.row(record, "lot", str(now[key]["id"])).row
            now[key] = {**now[key], **certificate(row)}
    return now


def of(record: Record, lot: str) -> tuple[Revised, ...]:
    """Give every prep that rests on a lot, the nearest first.

    Raises
    ------
    NotFound
        Nobody knows the lot.
    """
    followed = trace.trace(record, lot)
    ratios: dict[str, float] = {}
    states: dict[str, PrepState] = {}
    out: dict[tuple[str, str], Revised] = {}
    for link in followed.down:
        if (link.prep, link.child) not in out:
            whole = states.setdefault(link.prep, record.prep_state(link.prep))
            of_lot = next((p for p in whole.each if link.child and p.lot.get("id") == link.child), whole)
            out[link.prep, link.child] = _of_vessel(record, of_lot, link.depth, ratios)
    return tuple(out.values())


def _of_vessel(record: Record, state: PrepState, depth: int, ratios: dict[str, float]) -> Revised:
    """Compute one vessel of a prep anew, and carry how much what it made changes."""
    was, was_u, unit = _says(state)
    now, now_u, how = was, was_u, "unchanged"
    own = state.basis.get("lot", {})
    if was is None:
        how = "no value was written"
    else:
        # What it was made of may have been written anew already: its row counts first, then what is to come.
        now, now_u, how = _anew(record, state, was, was_u)
        ratio = ratios.get(str(own.get("id")), 1.0)
        if now is not None and abs(ratio - 1.0) > SAME:
            now, now_u, how = now * ratio, None if now_u is None else now_u * ratio, "in proportion"
    made = str(state.lot.get("id", ""))
    if made:
        ratios[made] = now / was if now is not None and was else 1.0
    return Revised(
        depth=depth,
        prep=state.prep,
        by=state.planned_by,
        status=state.status,
        made_lot=made,
        unit=unit,
        was=was,
        was_u=was_u,
        now=now,
        now_u=now_u,
        how=how,
        holders=_holders(record, made),
        used_by=_used_by(record, made),
    )


def _anew(
    record: Record, state: PrepState, was: float, was_u: float | None
) -> tuple[float | None, float | None, str]:
    try:
        now = as_now(record, state.whole or state)
        with_now = now.part(state.key) if state.whole is not None else now
        if all(certificate(with_now.basis[k]) == certificate(state.basis[k]) for k in ("lot", "solvent_lot")):
            return was, was_u, "unchanged"
        found = outcome.result(with_now)
    except StoreError as error:
        return None, None, f"cannot be computed: {error}"
    except KeyError as missing:
        return None, None, f"cannot be computed: its plan says nothing of {missing}"
    if isinstance(found, SolutionResult) and powder.stays(state):
        return found.content, None, "computed"
    return found.value, found.u, "computed"


def _says(state: PrepState) -> tuple[float | None, float | None, str]:
    """Give what was written of one vessel; of a portion of powder its content, since no mass changes."""
    result = state.result
    if result and powder.stays(state):
        return _number(result, "content"), None, CONTENT
    return _number(result, "value"), _number(result, "u"), str(result.get("unit", ""))


def _number(result: Mapping[str, Any], name: str) -> float | None:
    return float(result[name]) if result.get(name) not in (None, "") else None


def _holders(record: Record, lot: str) -> tuple[Holder, ...]:
    found = record.query(
        "SELECT id, row ->> '$.place' AS place FROM register_row "
        "WHERE register = 'container' AND NOT retired AND row ->> '$.lot' = :lot ORDER BY natural_order(id)",
        lot=lot,
    )
    return tuple(Holder(r["id"], r["place"] or "", lots.stock(record, r["id"]).left_mg) for r in found)


def _used_by(record: Record, lot: str) -> tuple[str, ...]:
    found = record.query(
        "SELECT DISTINCT person FROM dose WHERE lot = :lot AND lot <> '' AND state <> 'never happened' "
        "ORDER BY person",
        lot=lot,
    )
    return tuple(r["person"] for r in found)


@dataclass(frozen=True, slots=True)
class Recalled:
    """One container to be taken back: of the lot itself, or of something made of it."""

    lot: str
    container: str
    place: str
    left_mg: float | None
    substance: str
    concentration: str
    lot_status: str
    made_by: str
    who: tuple[str, ...]
    """Who made it or took from it."""
    open_preps: tuple[str, ...]
    """Preps under way that take from it."""


def recall(record: Record, lot: str) -> tuple[Recalled, ...]:
    """Give every container of a lot and of all that was made of it that is not retired, the nearest first."""
    followed = trace.trace(record, lot)
    out: list[Recalled] = []
    for id in dict.fromkeys((lot, *(link.child for link in followed.down if link.child))):
        found = record.query(
            "SELECT row FROM register_row WHERE register = 'lot' AND id = :id", id=id
        ) and registers.row(record, "lot", id)
        if not found:
            continue
        maker = str(found.row.get("made_by", ""))
        made_by = record.query("SELECT planned_by FROM prep WHERE prep = :prep", prep=maker)
        people = dict.fromkeys((*(r["planned_by"] for r in made_by), *_used_by(record, id)))
        under_way = record.query(
            "SELECT prep FROM prep WHERE status = 'open' AND prep IN (SELECT prep FROM used_lot "
            "WHERE lot = :lot) ORDER BY entry",
            lot=id,
        )
        taken_in = {r["prep"]: record.prep_state(r["prep"]).plan.containers for r in under_way}
        for holder in _holders(record, id):
            out.append(
                Recalled(
                    lot=id,
                    container=holder.container,
                    place=holder.place,
                    left_mg=holder.left_mg,
                    substance=str(found.row.get("substance", "")),
                    concentration=str(found.row.get("concentration", "")),
                    lot_status=str(found.row.get("status", "")),
                    made_by=maker,
                    who=tuple(people),
                    open_preps=tuple(prep for prep, taken in taken_in.items() if holder.container in taken),
                )
            )
    return tuple(out)
