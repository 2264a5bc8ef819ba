"""Fold the entries of a prep into what is open, in the vessel, owed. Pure: entry after entry, never ahead.

A fold adds what an entry says and decides nothing that could be decided otherwise tomorrow: no hazards, no
sums, no recipes are asked here, so that an upgrade never rewrites history.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from store import events as ev
from store.model.prep import Plan, Step
from store.model.words import PrepStatus
from store.procedure import weighed
from store.procedure.done import AckDone
from store.procedure.state import PrepState
from store.procedure.weighed import did


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
    after = state if folder is None else folder(state, entry, event)
    if after is state:
        return replace(state, last_entry=entry.entry, last_at=entry.at, last_person=entry.person)
    # It was made just now and nobody has seen it: a second copy would tell nothing more.
    for name, value in (("last_entry", entry.entry), ("last_at", entry.at), ("last_person", entry.person)):
        object.__setattr__(after, name, value)
    return after


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
        families=event.families,
    )
    return replace(state, acks=(*state.acks, ack))


def _resumed(state: PrepState, entry: ev.Entry, event: ev.Resumed) -> PrepState:
    return replace(state, ack_floor=entry.entry, resumed=entry.entry)


def _confirmed(state: PrepState, entry: ev.Entry, event: ev.Confirmed) -> PrepState:
    state = replace(
        state,
        done=did(state, event.step, event.act),
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


def _incident(state: PrepState, entry: ev.Entry, event: ev.IncidentNoted) -> PrepState:
    return replace(state, incidents=(*state.incidents, entry.entry), ack_floor=entry.entry)


def _step_done(state: PrepState, entry: ev.Entry, event: ev.StepDone) -> PrepState:
    return replace(state, step=event.step + 1)


def _went_back(state: PrepState, entry: ev.Entry, event: ev.WentBack) -> PrepState:
    if event.part:
        return _part_again(state, entry, event)
    keys = [a.key for a in state.steps[event.step].acts]
    again = set(keys[keys.index(event.act) if event.act in keys else 0 :])
    done = frozenset(
        (s, a)
        for s, a in state.done
        if s < event.step or (s == event.step and a not in again and not a.startswith("rule:"))
    )
    return replace(state, step=event.step, done=done, ack_floor=entry.entry)


def _part_again(state: PrepState, entry: ev.Entry, event: ev.WentBack) -> PrepState:
    """Ask again what one part needs, from a step on; what only other parts need stays done.

    What serves no part, such as cleaning, is asked again too: it comes after what is now done anew.
    """
    done = set(state.done)
    for number, step in enumerate(state.steps[event.step :], event.step):
        if event.part in step.parts or (number > event.step and not step.parts):
            done -= {(s, a) for s, a in done if s == number and a.startswith("rule:")}
            for act in step.acts:
                if state.part_of(number, act) in ("", event.part):
                    done.discard((number, act.key))
    return replace(state, step=event.step, done=frozenset(done), ack_floor=entry.entry)


def _prep_closed(state: PrepState, entry: ev.Entry, event: ev.PrepClosed) -> PrepState:
    basis = state.basis
    for key, says in event.result.get("certificates", {}).items():
        basis = {**basis, key: {**basis.get(key, {}), **says}}
        if "parts" in basis:
            basis = {**basis, "parts": _certified(basis["parts"], key, basis[key])}
    for lot, says in event.result.get("certificates_of_parts", {}).items():
        for key in ("lot", "solvent_lot"):
            basis = {**basis, "parts": _certified(basis["parts"], key, {"id": lot}, says)}
    return replace(
        state,
        basis=basis,
        status=PrepStatus.CLOSED,
        result=event.result,
        lot=event.lot,
        made=event.made,
        label=event.label,
        closed_at=entry.at,
        closed_entry=entry.entry,
        stale="",
    )


def _certified(
    rows: Mapping[str, Mapping[str, Any]],
    key: str,
    lot: Mapping[str, Any],
    says: Mapping[str, Any] | None = None,
) -> dict[str, Mapping[str, Any]]:
    """Give the rows of every part, with a lot as its revised certificate has it wherever it was used."""
    return {
        part: {**own, key: lot if says is None else {**own[key], **says}}
        if own.get(key, {}).get("id") == lot.get("id")
        else own
        for part, own in rows.items()
    }


def _abandoned(state: PrepState, entry: ev.Entry, event: ev.Abandoned) -> PrepState:
    return replace(
        state,
        status=PrepStatus.ABANDONED,
        material=event.material,
        closed_at=entry.at,
        closed_entry=entry.entry,
    )


def _place_rejected(state: PrepState, entry: ev.Entry, event: ev.PlaceRejected) -> PrepState:
    return replace(state, rejections={**state.rejections, event.part: event.reason})


def _assayed(state: PrepState, entry: ev.Entry, event: ev.Assayed) -> PrepState:
    report = {"units": event.units, "mean": event.mean, "target": event.target, "entry": entry.entry}
    return replace(state, assays=(*state.assays, report))


def _reviewed(state: PrepState, entry: ev.Entry, event: ev.Reviewed) -> PrepState:
    verdict = PrepStatus.ACCEPTED if event.verdict == "accepted" else PrepStatus.RETURNED
    return replace(state, status=verdict)


_FOLDERS: Mapping[str, Callable[[PrepState, ev.Entry, Any], PrepState]] = {
    **weighed.FOLDERS,
    "acknowledged": _acknowledged,
    "resumed": _resumed,
    "confirmed": _confirmed,
    "incident": _incident,
    "step_done": _step_done,
    "went_back": _went_back,
    "prep_closed": _prep_closed,
    "place_rejected": _place_rejected,
    "assayed": _assayed,
    "abandoned": _abandoned,
    "reviewed": _reviewed,
}
