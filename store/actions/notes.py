"""How it went: the exposure note that a handling owes, and what went wrong."""

from store import events as ev
from store.actions.acting import Acting
from store.actions.steps import append, open_prep, subject
from store.errors import BadInput, Refused
from store.model.words import ActKind


def note_exposure(
    acting: Acting,
    prep: str,
    *,
    seen: int,
    gloves: str,
    unusual: bool = False,
    note: str = "",
    present: tuple[str, ...] = (),
) -> None:
    """Write the exposure note of every handling that owes one and is closed."""
    if unusual and not note.strip():
        raise BadInput("Write what was unusual.")
    with open_prep(acting, prep, seen) as state:
        act = state.act
        owed = tuple(h.entry for h in state.owed if h.closed)
        if not owed and not (act is not None and act.kind == ActKind.NOTE):
            raise Refused("No handling owes an exposure note.")
        event = ev.ExposureNoted(
            prep=prep,
            step=state.step,
            act=act.key if act is not None and act.kind == ActKind.NOTE else "",
            handlings=owed,
            enclosure=state.plan.enclosure,
            gloves=gloves,
            unusual=unusual,
            note=note.strip(),
            present=tuple(dict.fromkeys((acting.person, *present))),
        )
        append(acting, state, event)


def note_incident(
    acting: Acting, prep: str, *, what: str, note: str, present: tuple[str, ...] = ()
) -> ev.Entry:
    """Write an incident, at any time; with a prep its cautions are shown in full again."""
    if not note.strip():
        raise BadInput("Write what happened, in a few words.")
    record = acting.record
    with record.immediate():
        state = record.prep_state(prep) if prep else None
        step = state.current if state is not None else None
        open_now = state.open_handlings if state is not None else ()
        event = ev.IncidentNoted(
            prep=prep,
            what=what,
            note=note.strip(),
            substances=step.substances if step is not None else (),
            handling=open_now[-1].entry if open_now else 0,
            enclosure=state.plan.enclosure if state is not None else "",
            present=tuple(dict.fromkeys((acting.person, *present))),
            step=state.step if state is not None else -1,
        )
        return record.append(event, person=acting.person, subject=subject(prep) if prep else "record")


def remark(acting: Acting, prep: str, *, seen: int, note: str) -> None:
    """Write a plain note in a prep, at any time: it settles no handling and says that nothing went wrong."""
    if not note.strip():
        raise BadInput("Write the note, in a few words.")
    with open_prep(acting, prep, seen) as state:
        event = ev.ExposureNoted(
            prep=prep,
            step=state.step,
            act="",
            handlings=(),
            enclosure=state.plan.enclosure,
            gloves=str(state.basis["enclosure"].get("gloves", "")),
            note=note.strip(),
            present=(acting.person,),
        )
        append(acting, state, event)
