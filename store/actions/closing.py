"""The end of a prep: closed with its result and the lot it makes, abandoned, or computed anew."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from typing import Any

from store import events as ev
from store.actions.acting import Acting
from store.actions.steps import append, open_prep
from store.errors import BadInput, MovedOn, Owed, Refused
from store.model.registers import Container, Lot
from store.model.settings import value
from store.model.words import LotStatus, PrepStatus, Role
from store.procedure import inputs, outcome, parts, portions, powder
from store.procedure.state import PrepState
from store.queries import registers
from store.units import number, rounded


@dataclass(frozen=True, slots=True)
class Made:
    """What one vessel of a prep becomes."""

    part: str
    lot: Lot
    container: Container
    label: str
    result: Mapping[str, Any]

    def to_body(self) -> dict[str, Any]:
        """Give it as it stands in a journal body."""
        return {
            "part": self.part,
            "result": self.result,
            "lot": self.lot.to_body(),
            "container": self.container.to_body(),
            "label": self.label,
        }


def made_of(state: PrepState, today: date, labels: Mapping[str, str]) -> tuple[Made, ...]:
    """Give what every vessel of a prep becomes, in the order of its plan."""
    found = []
    for part in portions.without_rejected(state).each:
        lot, container, _ = made_lot(part, today)
        found.append(Made(part.key, lot, container, labels.get(part.key, ""), result_body(part)))
    return tuple(found)


def closed_event(state: PrepState, made: tuple[Made, ...]) -> ev.PrepClosed:
    """Give the event that closes a prep with what it made."""
    last = next((m for m in reversed(made) if m.lot.concentration), made[-1])
    return ev.PrepClosed(
        prep=state.prep,
        result={**last.result, **outcome.levels_body(state)},
        lot=last.lot.to_body(),
        container=last.container.to_body(),
        label=last.label,
        made=tuple(m.to_body() for m in made) if state.plan.parts else (),
    )


def made_lot(state: PrepState, today: date) -> tuple[Lot, Container, str]:
    """Give the lot and the container of one vessel of a prep, and what its expiry rests on."""
    basis, result = state.basis, outcome.result(state)
    days = int(number(value(basis["settings"], "expiry_days")))
    own = (today + timedelta(days=days)).isoformat()
    limits = {own: f"{days} days of the site's settings"}
    for key in ("lot", "solvent_lot"):
        if expiry := basis[key].get("expiry"):
            limits.setdefault(expiry, f"lot {basis[key]['id']}")
    if state.whole is not None and (source := state.plan.parts[0].source):
        parent, _, _ = made_lot(state.whole.part(source), today)
        limits.setdefault(parent.expiry, f"lot {parent.id}")
    if powder.stays(state) and len(limits) > 1:
        del limits[own]  # the same powder in another vessel: its own lot says how long
    expiry = min(limits)
    shown, shown_u = rounded(result.value, result.u) if result.value else ("", "")
    solvent = basis["substances"][basis["solvent_lot"]["substance"]]
    id, container_id = _numbers(state)
    quarantine = value(basis["settings"], "quarantine") == "yes"
    lot = Lot(
        id=id,
        substance=basis["lot" if result.value else "solvent_lot"]["substance"],
        concentration=f"{shown} {result.unit}" if result.value else "",
        concentration_u=f"{shown_u} {result.unit}" if result.value else "",
        # Of what the strength is: a dilution to moles must not take the substance as it is called.
        assay_formula=inputs.stated_form(state.plan, basis) if result.value else "",
        solvent=basis["solvent_lot"]["substance"],
        received=today.isoformat(),
        expiry=expiry,
        status=LotStatus.QUARANTINE if quarantine else LotStatus.RELEASED,
        status_reason="waits for review" if quarantine else "",
        made_by=state.prep,
        storage=basis["substances"][basis["lot"]["substance"]].get("storage", "")
        or solvent.get("storage", ""),
    )
    if powder.stays(state):
        says = ("assay", "assay_u", "basis", "assay_method", "assay_formula", "water", "water_u",
                "loss_on_drying", "loss_on_drying_u", "dried_before_use", "density")  # fmt: skip
        as_it_is = {key: basis["lot"][key] for key in says if basis["lot"].get(key)}
        lot = replace(lot, concentration="", concentration_u="", solvent="", **as_it_is)
    content_mg = sum(state.total_mg(c) for c in (state.solute, "solvent"))
    content = f"{content_mg:.3f} mg" if powder.stays(state) else f"{content_mg / 1000:.4f} g"
    container = Container(id=container_id, lot=id, content=content, place=state.plan.vessel)
    return lot, container, limits[expiry]


def _numbers(state: PrepState) -> tuple[str, str]:
    """Give the numbers of lot and container of one vessel: those it has, where it was closed before."""
    whole = state.whole or state
    if before := next((m for m in whole.made if m["part"] == state.key), None):
        return str(before["lot"]["id"]), str(before["container"]["id"])
    one = powder.one_lot(state)
    lot = parts.made_lot(state.prep, "" if one else state.key)
    return lot, parts.made_container(lot, state.key) if one else parts.made_container(lot)


def enter_lots(acting: Acting, made: tuple[Made, ...], reason: str) -> None:
    """Write the register row of every lot that was made, once where it is in many vessels."""
    for lot in {one.lot.id: one.lot for one in made}.values():
        enter_made(acting, "lot", lot.id, lot.to_body(), reason)


def close(
    acting: Acting, prep: str, *, seen: int, label: str = "", labels: Mapping[str, str] | None = None
) -> None:
    """Close a prep: write its result, its label and the lot it makes; of several vessels one of each.

    `labels` are by part, for a prep of several vessels.

    Raises
    ------
    Owed
        A step is not done, something is open, or an exposure note is owed.
    Refused
        There is no solution: solid or solvent was withdrawn.
    """
    record = acting.record
    with open_prep(acting, prep, seen) as state:
        if state.current is not None:
            raise Owed(f"{prep} is at step {state.step + 1} of {len(state.steps)}: finish it first.")
        if state.open_handlings or state.owed:
            raise Owed("Something is open or an exposure note is owed: see to it first.")
        if not state.complete:
            raise Refused(f"{prep} holds no solution: go back and dose, or give it up (-).")
        made = made_of(state, record.now().date(), labels or {"": label})
        append(acting, state, closed_event(state, made))
        if not state.plan.rehearsal:
            enter_lots(acting, made, f"made by {prep}")
            for one in made:
                enter_made(acting, "container", one.container.id, one.container.to_body(), f"made by {prep}")
                if one.part and not state.plan.part(one.part).keep:
                    _used_up(acting, one, prep)


def _used_up(acting: Acting, made: Made, prep: str) -> None:
    """Retire what was not kept: its rest went to waste in the same prep."""
    for register, id in (("container", made.container.id), ("lot", made.lot.id)):
        event = ev.Retired(register=register, id=id, reason=f"what was left of it went to waste in {prep}")
        acting.record.append(event, person=acting.person, subject=f"{register}:{id}")


def made_anew(state: PrepState, label: Callable[[PrepState], str]) -> tuple[Made, ...]:
    """Give what a closed prep made, by its state as it is now, as of the day when it was closed."""
    labels = {part.key: label(part) for part in portions.without_rejected(state).each}
    return made_of(state, date.fromisoformat(state.closed_at[:10]), labels)


def compute_anew(acting: Acting, prep: str, *, seen: int, label: Callable[[PrepState], str]) -> None:
    """Write the result of a closed prep again after a correction; the old result stays on its page.

    Parameters
    ----------
    label
        Gives the text label of each vessel as it stands then.

    Raises
    ------
    Refused
        Nothing in it was corrected since it was closed.
    """
    record = acting.record
    with record.immediate():
        state = record.prep_state(prep)
        if state.last_entry != seen:
            raise MovedOn(f"{prep} has moved on since you saw it: look again.")
        if not state.stale or not state.doses:
            raise Refused(f"Nothing in {prep} changed since it was closed.")
        if not state.complete:
            raise Refused(f"{prep} holds no solution any more: block its lot instead.")
        made = made_anew(state, label)
        append(acting, state, closed_event(state, made))
        if not state.plan.rehearsal:
            enter_lots(acting, made, f"computed anew: {state.stale}")


def abandon(acting: Acting, prep: str, *, seen: int, reason: str, material: str) -> None:
    """Give a prep up; say why, and what became of the material.

    Raises
    ------
    Owed
        Something is open, or an exposure note is owed.
    """
    if not reason.strip() or not material.strip():
        raise BadInput("Write why, and what became of the material.")
    with open_prep(acting, prep, seen) as state:
        if state.open_handlings:
            raise Owed("Something is open: close it first.")
        if state.owed:
            raise Owed("An exposure note is owed: write it first.")
        append(acting, state, ev.Abandoned(prep=prep, reason=reason.strip(), material=material.strip()))


def review(acting: Acting, prep: str, *, seen: int, accept: bool, reason: str, meaning: str) -> None:
    """Accept or return a closed prep; the lot that it made is released or blocked with it.

    Raises
    ------
    NotAllowed
        No reviewer.
    Refused
        It is one's own prep, or not closed.
    """
    acting.must(Role.REVIEWER)
    record = acting.record
    with record.immediate():
        state = record.prep_state(prep)
        if state.last_entry != seen:
            raise MovedOn(f"{prep} has moved on since you saw it: look again, then decide.")
        if state.status not in (PrepStatus.CLOSED, PrepStatus.RETURNED):
            raise Refused(f"{prep} is {state.status}: only a closed prep is reviewed.")
        if acting.person in {state.planned_by, *(d.person for d in state.doses)}:
            raise Refused("One's own prep is reviewed by somebody else.")
        if state.stale:
            raise Refused(f"{prep} is stale ({state.stale}): have it computed anew first.")
        if not accept and not reason.strip():
            raise BadInput("Write why it is returned.")
        head = record.head()
        event = ev.Reviewed(
            prep=prep,
            verdict="accepted" if accept else "returned",
            reason=reason.strip(),
            meaning=meaning,
            head=f"{head.entry}:{head.digest}",
        )
        append(acting, state, event)
        if state.lot and not state.plan.rehearsal:
            status = LotStatus.RELEASED if accept else LotStatus.BLOCKED
            for lot in dict.fromkeys(str(part.lot["id"]) for part in state.each if part.lot):
                found = registers.row(record, "lot", lot)
                if found.retired:
                    continue
                row = {**found.row, "status": status, "status_reason": "" if accept else event.reason}
                enter_made(acting, "lot", found.id, row, f"{prep} {event.verdict}")


def enter_made(acting: Acting, register: str, id: str, row: Mapping[str, Any], reason: str) -> None:
    """Write the register row of what a prep made."""
    event = ev.Registered(register=register, id=id, row=row, reason=reason)
    acting.record.append(event, person=acting.person, subject=f"{register}:{id}")


def result_body(state: PrepState) -> dict[str, Any]:
    """Give the result and what it is computed from, numbers as text as written."""
    found = outcome.result(state)
    body = {**written(asdict(found)), "deviation": repr(outcome.deviation(state, found))}
    return body if powder.stays(state) else {**body, "inputs": written(outcome.given(state))}


def written(of: Mapping[str, Any]) -> dict[str, Any]:
    """Give plain data as a journal body keeps it: every number as text, to its last digit."""
    return {key: _text(item) for key, item in of.items()}


def _text(item: Any) -> Any:
    if isinstance(item, bool) or item is None:
        return item
    if isinstance(item, int | float):
        return repr(item)
    if isinstance(item, Mapping):
        return written(item)
    if isinstance(item, tuple | list):
        return [_text(value) for value in item]
    return str(item)
