"""Fold handlings, readings and doses of a prep: what is open, owed, in which vessel. See `progress`."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from store import events as ev
from store.model.words import ActKind, PrepStatus
from store.procedure.done import CORRECTED, DISCARDED, NEVER, DoseDone, HandlingDone, ReadDone
from store.procedure.state import PrepState
from store.units import net


def did(state: PrepState, step: int, act: str) -> frozenset[tuple[int, str]]:
    """Give the acts done, with one more."""
    return state.done | {(step, act)}


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
        part=state.part_of(event.step, state.act_of(event.step, event.act)),
    )
    passed = event.within or bool(event.let_through)
    if event.what == "continuity":
        goes_on = passed or bool(event.conditions.get("goes_on"))
        return replace(state, reads=(*state.reads, read), resumed=0 if goes_on else state.resumed)
    return replace(
        state,
        reads=(*state.reads, read),
        done=did(state, event.step, event.act) if passed else state.done,
        resumed=0 if event.what == "tared" and passed else state.resumed,
        let_through=(*state.let_through, *event.let_through),
    )


def _begun(state: PrepState, entry: ev.Entry, event: ev.Opened | ev.Handled, **own: Any) -> PrepState:
    """Add a handling; what only an opening or only a whole handling has comes as `own`."""
    handling = HandlingDone(
        entry=entry.entry,
        at=entry.at,
        person=entry.person,
        step=event.step,
        act=event.act,
        what=event.what,
        enclosure=event.enclosure,
        substances=event.substances,
        **own,
    )
    return replace(
        state,
        handlings=(*state.handlings, handling),
        done=did(state, event.step, event.act) if event.act else state.done,
        let_through=(*state.let_through, *event.let_through),
    )


def _opened(state: PrepState, entry: ev.Entry, event: ev.Opened) -> PrepState:
    return _begun(state, entry, event, container=event.container, vessel=event.vessel)


def _closed(state: PrepState, entry: ev.Entry, event: ev.Closed) -> PrepState:
    """Close; before its time (by the opening act's own key) the opening is asked again."""
    act = next((a for a in state.steps[event.step].acts if a.key == event.act), None)
    early = act is not None and act.kind == ActKind.OPEN
    done = state.done - {(event.step, event.act)} if early else did(state, event.step, event.act)
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
    return _begun(state, entry, event, container="", vessel="", closed=entry.entry)


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
        part=state.part_of(event.step, state.act_of(event.step, event.act)),
        contains=event.computed.get("contains", {}),
    )
    return replace(
        state,
        doses=(*state.doses, dose),
        done=did(state, event.step, event.act) if event.ends else state.done,
        let_through=(*state.let_through, *event.let_through),
    )


def _exposure_noted(state: PrepState, entry: ev.Entry, event: ev.ExposureNoted) -> PrepState:
    return replace(
        state,
        done=did(state, event.step, event.act) if event.act else state.done,
        handlings=tuple(
            replace(h, noted=entry.entry) if h.entry in event.handlings else h for h in state.handlings
        ),
    )


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
    last: dict[tuple[str, str], float] = {}
    out = []
    for dose in doses:
        if dose.counts:
            place = dose.part, dose.content
            dose = replace(dose, net_mg=net(dose.total_mg - last.get(place, 0.0)))
            last[place] = dose.total_mg
        out.append(dose)
    return tuple(out)


def _marked_stale(state: PrepState, why: str) -> PrepState:
    return replace(state, stale=why) if state.status != PrepStatus.OPEN else state


FOLDERS: Mapping[str, Callable[[PrepState, ev.Entry, Any], PrepState]] = {
    "read": _read,
    "opened": _opened,
    "closed": _closed,
    "handled": _handled,
    "dosed": _dosed,
    "exposure_noted": _exposure_noted,
    "corrected": _corrected,
    "discarded": _discarded,
    "never_happened": _never_happened,
}
