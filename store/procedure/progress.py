"""Fold the entries of a prep into what is open, in the vessel, owed. Pure: entry after entry, never ahead.

A fold adds what an entry says and decides nothing that could be decided otherwise tomorrow: no hazards, no
sums, no recipes are asked here, so that an upgrade never rewrites history.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from store import events as ev
from store.model.prep import Plan, Step
from store.model.words import ActKind, PrepStatus
from store.procedure.state import (
    CORRECTED,
    DISCARDED,
    NEVER,
    AckDone,
    DoseDone,
    HandlingDone,
    PrepState,
    ReadDone,
)


def fold(state: PrepState | None, entry: ev.Entry) -> PrepState:
    """Give the state after one more entry of the prep."""
    event = entry.event
    if isinstance(event, ev.Planned):
        return PrepState(
            prep=event.prep,
            status=PrepStatus.OPEN,
            plan=Plan.from_body(event.plan),
            basis=event.basis,
            aims=event.aims,
            steps=tuple(Step.from_body(s) for s in event.steps),
            planned_at=entry.at,
            planned_by=entry.person,
            last_entry=entry.entry,
            last_at=entry.at,
            last_person=entry.person,
            let_through=event.let_through,
        )
    if state is None:
        raise ValueError(f"entry {entry.entry}: {event.kind} before the prep was planned")
    folder = _FOLDERS.get(event.kind)
    if folder is not None:
        state = folder(state, entry, event)
    return replace(state, last_entry=entry.entry, last_at=entry.at, last_person=entry.person)


def _did(state: PrepState, step: int, act: str) -> frozenset[tuple[int, str]]:
    return state.done | {(step, act)}


def _acknowledged(state: PrepState, entry: ev.Entry, event: ev.Acknowledged) -> PrepState:
    step = state.steps[event.step]
    ack = AckDone(
        entry=entry.entry,
        at=entry.at,
        person=entry.person,
        step=event.step,
        step_name=step.name,
        digest=event.digest,
        how=event.how,
        container=step.container,
    )
    return replace(state, acks=(*state.acks, ack))


def _resumed(state: PrepState, entry: ev.Entry, event: ev.Resumed) -> PrepState:
    return replace(state, ack_floor=entry.entry, resumed=entry.entry)


def _confirmed(state: PrepState, entry: ev.Entry, event: ev.Confirmed) -> PrepState:
    state = replace(
        state,
        done=_did(state, event.step, event.act),
        answers={**state.answers, f"{event.step}/{event.act}": event.answer},
        answered_at={**state.answered_at, f"{event.step}/{event.act}": entry.at},
        let_through=(*state.let_through, *event.let_through),
    )
    number = len(state.reads) - 1
    while number >= 0 and (state.reads[number].step, state.reads[number].act) != (event.step, event.act):
        number -= 1
    if number < 0 or not event.let_through:
        return state
    read = replace(state.reads[number], let_through=True)
    return replace(
        state,
        reads=(*state.reads[:number], read, *state.reads[number + 1 :]),
        resumed=0 if read.what == "tared" else state.resumed,
    )


def _read(state: PrepState, entry: ev.Entry, event: ev.Read) -> PrepState:
    read = ReadDone(
        entry=entry.entry,
        at=entry.at,
        step=event.step,
        act=event.act,
        what=event.what,
        shown=event.shown,
        mass_mg=float(event.mass_mg),
        within=event.within,
        conditions=event.conditions,
        let_through=bool(event.let_through),
    )
    passed = event.within or bool(event.let_through)
    if event.what == "continuity":
        goes_on = passed or bool(event.conditions.get("goes_on"))
        return replace(state, reads=(*state.reads, read), resumed=0 if goes_on else state.resumed)
    return replace(
        state,
        reads=(*state.reads, read),
        done=_did(state, event.step, event.act) if passed else state.done,
        resumed=0 if event.what == "tared" and passed else state.resumed,
        let_through=(*state.let_through, *event.let_through),
    )


def _opened(state: PrepState, entry: ev.Entry, event: ev.Opened) -> PrepState:
    handling = HandlingDone(
        entry=entry.entry,
        at=entry.at,
        person=entry.person,
        step=event.step,
        act=event.act,
        what=event.what,
        container=event.container,
        vessel=event.vessel,
        enclosure=event.enclosure,
        substances=event.substances,
    )
    return replace(
        state,
        handlings=(*state.handlings, handling),
        done=_did(state, event.step, event.act),
        let_through=(*state.let_through, *event.let_through),
    )


def _closed(state: PrepState, entry: ev.Entry, event: ev.Closed) -> PrepState:
    """Close; before its time (by the opening act's own key) the opening is asked again."""
    act = next((a for a in state.steps[event.step].acts if a.key == event.act), None)
    early = act is not None and act.kind == ActKind.OPEN
    done = state.done - {(event.step, event.act)} if early else _did(state, event.step, event.act)
    return replace(
        state,
        done=done,
        handlings=tuple(
            replace(h, closed=entry.entry, open_s=float(event.open_s), estimated=event.estimated)
            if h.entry == event.opened
            else h
            for h in state.handlings
        ),
    )


def _handled(state: PrepState, entry: ev.Entry, event: ev.Handled) -> PrepState:
    handling = HandlingDone(
        entry=entry.entry,
        at=entry.at,
        person=entry.person,
        step=event.step,
        act=event.act,
        what=event.what,
        container="",
        vessel="",
        enclosure=event.enclosure,
        substances=event.substances,
        closed=entry.entry,
    )
    return replace(
        state,
        handlings=(*state.handlings, handling),
        done=_did(state, event.step, event.act) if event.act else state.done,
        let_through=(*state.let_through, *event.let_through),
    )


def _dosed(state: PrepState, entry: ev.Entry, event: ev.Dosed) -> PrepState:
    dose = DoseDone(
        entry=entry.entry,
        at=entry.at,
        person=entry.person,
        step=event.step,
        act=event.act,
        content=event.content,
        container=event.container,
        vessel=event.vessel,
        shown=event.shown,
        net_mg=float(event.net_mg),
        total_mg=float(event.total_mg),
        source=event.source,
        usable=event.usable,
        inside=event.inside,
        ends=event.ends,
        reason=event.reason,
    )
    return replace(
        state,
        doses=(*state.doses, dose),
        done=_did(state, event.step, event.act) if event.ends else state.done,
        let_through=(*state.let_through, *event.let_through),
    )


def _exposure_noted(state: PrepState, entry: ev.Entry, event: ev.ExposureNoted) -> PrepState:
    return replace(
        state,
        done=_did(state, event.step, event.act) if event.act else state.done,
        handlings=tuple(
            replace(h, noted=entry.entry) if h.entry in event.handlings else h for h in state.handlings
        ),
    )


def _incident(state: PrepState, entry: ev.Entry, event: ev.IncidentNoted) -> PrepState:
    return replace(state, incidents=(*state.incidents, entry.entry), ack_floor=entry.entry)


def _step_done(state: PrepState, entry: ev.Entry, event: ev.StepDone) -> PrepState:
    return replace(state, step=event.step + 1)


def _went_back(state: PrepState, entry: ev.Entry, event: ev.WentBack) -> PrepState:
    keys = [a.key for a in state.steps[event.step].acts]
    again = set(keys[keys.index(event.act) if event.act in keys else 0 :])
    done = frozenset((s, a) for s, a in state.done if s < event.step or (s == event.step and a not in again))
    return replace(state, step=event.step, done=done, ack_floor=entry.entry)


def _corrected(state: PrepState, entry: ev.Entry, event: ev.Corrected) -> PrepState:
    doses = tuple(
        replace(
            d,
            shown=event.shown,
            net_mg=float(event.net_mg),
            total_mg=float(event.total_mg),
            state=CORRECTED,
        )
        if d.entry == event.entry
        else d
        for d in state.doses
    )
    state = replace(state, doses=_renetted(doses), let_through=(*state.let_through, *event.let_through))
    return _marked_stale(state, f"entry {event.entry} was corrected")


def _withdrawn(state: PrepState, number: int, how: str) -> PrepState:
    """Withdraw an entry; a dose that ended its act ends it no more, where that act's step is still open."""
    doses = tuple(replace(d, state=how) if d.entry == number else d for d in state.doses)
    undone = {(d.step, d.act) for d in doses if d.entry == number and d.ends and d.step == state.step}
    handlings = state.handlings
    if how == NEVER:
        handlings = tuple(replace(h, state=NEVER) if h.entry == number else h for h in handlings)
    state = replace(state, doses=_renetted(doses), handlings=handlings, done=state.done - undone)
    return _marked_stale(state, f"entry {number} was {how}" if how == DISCARDED else f"entry {number} {how}")


def _discarded(state: PrepState, entry: ev.Entry, event: ev.Discarded) -> PrepState:
    return _withdrawn(state, event.entry, DISCARDED)


def _never_happened(state: PrepState, entry: ev.Entry, event: ev.NeverHappened) -> PrepState:
    return _withdrawn(state, event.entry, NEVER)


def _renetted(doses: tuple[DoseDone, ...]) -> tuple[DoseDone, ...]:
    """Readings are cumulative: what each standing dose added follows from the one that stands before it."""
    last: dict[str, float] = {}
    out = []
    for dose in doses:
        if dose.counts:
            dose = replace(dose, net_mg=dose.total_mg - last.get(dose.content, 0.0))
            last[dose.content] = dose.total_mg
        out.append(dose)
    return tuple(out)


def _marked_stale(state: PrepState, why: str) -> PrepState:
    return replace(state, stale=why) if state.status != PrepStatus.OPEN else state


def _prep_closed(state: PrepState, entry: ev.Entry, event: ev.PrepClosed) -> PrepState:
    basis = state.basis
    for key, says in event.result.get("certificates", {}).items():
        basis = {**basis, key: {**basis.get(key, {}), **says}}
    return replace(
        state,
        basis=basis,
        status=PrepStatus.CLOSED,
        result=event.result,
        lot=event.lot,
        label=event.label,
        closed_at=entry.at,
        closed_entry=entry.entry,
        stale="",
    )


def _abandoned(state: PrepState, entry: ev.Entry, event: ev.Abandoned) -> PrepState:
    return replace(
        state,
        status=PrepStatus.ABANDONED,
        material=event.material,
        closed_at=entry.at,
        closed_entry=entry.entry,
    )


def _reviewed(state: PrepState, entry: ev.Entry, event: ev.Reviewed) -> PrepState:
    verdict = PrepStatus.ACCEPTED if event.verdict == "accepted" else PrepStatus.RETURNED
    return replace(state, status=verdict)


_FOLDERS: Mapping[str, Callable[[PrepState, ev.Entry, Any], PrepState]] = {
    "acknowledged": _acknowledged,
    "resumed": _resumed,
    "confirmed": _confirmed,
    "read": _read,
    "opened": _opened,
    "closed": _closed,
    "handled": _handled,
    "dosed": _dosed,
    "exposure_noted": _exposure_noted,
    "incident": _incident,
    "step_done": _step_done,
    "went_back": _went_back,
    "corrected": _corrected,
    "discarded": _discarded,
    "never_happened": _never_happened,
    "prep_closed": _prep_closed,
    "abandoned": _abandoned,
    "reviewed": _reviewed,
}
