"""The three ways back, none of which hides anything: correct, discard, never happened."""

from store import events as ev
from store.actions.acting import Acting, LetThrough
from store.actions.steps import append
from store.errors import BadInput, MovedOn, NeedsSecondPerson, NotFound, Owed, Refused
from store.model.words import ActKind, PrepStatus
from store.procedure import outcome, pan
from store.procedure.done import DoseDone
from store.procedure.state import PrepState
from store.record.record import Record
from store.units import milligrams


def _look(record: Record, prep: str, seen: int) -> PrepState:
    state = record.prep_state(prep)
    if state.last_entry != seen:
        raise MovedOn(f"{prep} has moved on since you saw it: look again, then decide.")
    return state


def _dose(state: PrepState, entry: int) -> DoseDone:
    found = next((d for d in state.doses if d.entry == entry and d.counts), None)
    if found is None:
        raise NotFound(f"Entry {entry} is no standing dose of {state.prep}.")
    return found


def _reason(text: str) -> str:
    if not text.strip():
        raise BadInput("Write the reason: it stands in the record for good.")
    return text.strip()


def _way_back(state: PrepState, standing: set[int]) -> int | None:
    """Give the earliest step that has to be done again when only the entries of `standing` are left.

    A step whose container is still open goes on as it is: its dose is asked again.

    Raises
    ------
    Owed
        There is one, and something is open or owes its exposure note: nobody goes back from there.
    """
    if state.status != PrepStatus.OPEN:
        return None
    left = {(d.step, d.act) for d in state.doses if d.entry in standing and d.ends}
    for number, step in enumerate(state.steps[: state.step + 1]):
        lacking = {(number, a.key) for a in step.acts if a.kind == ActKind.DOSE} - left
        if lacking and number < state.step:
            if state.open_handlings:
                raise Owed("Something is open: close it first.")
            if state.owed:
                raise Owed("An exposure note is owed: write it first.")
            return number
        if lacking & state.done and not state.open_handlings:
            return number
    return None


def correct(
    acting: Acting,
    prep: str,
    *,
    seen: int,
    entry: int,
    text: str,
    reason: str,
    let_through: LetThrough | None = None,
) -> None:
    """The entry was wrong: give the reading as it was; contents are computed anew, the exposure stays.

    Raises
    ------
    NeedsSecondPerson
        By it the net is below the minimum weight, or over a limit, as at the acceptance of a dose.
    """
    reason = _reason(reason)
    with acting.record.immediate():
        state = _look(acting.record, prep, seen)
        old = _dose(state, entry)
        was, now = (pan.as_shown(t, pan.balance(state)) for t in (_digits(old.shown), text))
        total_mg = old.total_mg + now.mass_mg - was.mass_mg
        if total_mg <= 0:
            raise BadInput(
                f"By {now.shown} nothing was added: if so, say that the entry never happened, or discard."
            )
        against = _against(state, old, total_mg)
        if against and let_through is None:
            raise NeedsSecondPerson(against)
        event = ev.Corrected(
            prep=prep,
            entry=entry,
            shown=now.shown,
            net_mg=milligrams(old.net_mg + now.mass_mg - was.mass_mg),
            total_mg=milligrams(total_mg),
            reason=reason,
            let_through=(let_through.to_body(),) if let_through else (),
        )
        append(acting, state, event)


def _against(state: PrepState, old: DoseDone, total_mg: float) -> tuple[str, ...]:
    """Give what stands against a corrected total, where it is the net that its content ended with."""
    state = state.part(old.part) if old.part else state
    there = state.in_vessel(old.content)
    if not old.usable or not there or there[-1].entry != old.entry or not old.ends:
        return ()
    return outcome.against(state, old.content, total_mg)


def _digits(shown: str) -> str:
    return shown.rsplit(" ", 1)[0]


def discard(
    acting: Acting,
    prep: str,
    *,
    seen: int,
    reason: str,
    parts: tuple[str, ...] | None = None,
    while_open: bool = False,
) -> None:
    """What is in the vessel goes to waste: it happened, exposure and stock stay.

    `parts` are the vessels by their keys, where the prep has several; None: all that it has. With
    `while_open` the container stays open: the vessel is capped and put aside, the others go on.

    Raises
    ------
    Refused
        Nothing is in the vessel, or something is open.
    Owed
        The prep is open and an exposure note is owed.
    """
    reason = _reason(reason)
    record = acting.record
    with record.immediate():
        state = _look(record, prep, seen)
        goes_on = while_open and bool(state.open_handlings)
        if state.open_handlings and not while_open:
            raise Refused("Something is open: close it first.")
        standing = [d for d in state.doses if d.counts and (parts is None or d.part in parts)]
        if not standing:
            raise Refused("Nothing is in the vessel.")
        if state.status == PrepStatus.OPEN and state.owed and not goes_on:
            raise Owed("An exposure note is owed: write it first.")
        for dose in standing:
            append(acting, state, ev.Discarded(prep=prep, entry=dose.entry, reason=reason))


def never_happened(acting: Acting, prep: str, *, seen: int, entry: int, let_through: LetThrough) -> None:
    """A second person agrees that an entry did not happen: it leaves the totals, it stays on the page.

    Raises
    ------
    NotFound
        The entry is no dose and no handling of this prep that stands.
    Owed
        The prep has to go back for it, and something is open or owes its exposure note.
    """
    record = acting.record
    with record.immediate():
        state = _look(record, prep, seen)
        if entry not in {d.entry for d in state.doses if d.counts} | {h.entry for h in state.handlings}:
            raise NotFound(f"Entry {entry} is no standing dose or handling of {prep}.")
        again = _way_back(state, {d.entry for d in state.doses if d.counts and d.entry != entry})
        event = ev.NeverHappened(
            prep=prep, entry=entry, second=let_through.second, reason=_reason(let_through.reason)
        )
        append(acting, state, event)
        if again is not None:
            why = f"entry {entry} never happened"
            append(acting, state, ev.WentBack(prep=prep, step=again, act="", reason=why))
