"""A rack of portions: its plan from vessels by number, a place rejected, fresh tares after a pause."""

from datetime import datetime

from store import events as ev
from store.actions import amend, steps
from store.actions.acting import Acting
from store.errors import BadField, BadInput, Owed, Refused
from store.model.naming import natural
from store.model.prep import Part, Plan
from store.model.words import PrepStatus
from store.procedure import tare_age
from store.procedure.recipes import rack
from store.procedure.state import PrepState
from store.queries import register_ids, registers
from store.record.record import Record

FRESH = "fresh tare: the old one is past its lifetime"


def vessels(record: Record, text: str, *, least: int = 2) -> tuple[str, ...]:
    """Read the vessels of a rack: numbers parted by commas or blanks, runs such as `R-01 to R-30`, tare sets.

    Raises
    ------
    BadField
        A run that is none, a vessel that is in no register or stands twice, or too many of them.
    """
    out: list[str] = []
    for part in (p.strip() for p in text.replace(";", ",").split(",") if p.strip()):
        first, sign, last = (x.strip() for x in part.partition(" to "))
        if sign:
            out += _run(record, first, last)
        else:
            out += [id for word in part.split() for id in _set(record, word) or (word,)]
    for id in out:
        _in_register(record, id)
        if out.count(id) > 1:
            raise BadField("vessels", f"{id} stands there twice: each place has its own vessel.")
    if not least <= len(out) <= rack.MOST_PLACES:
        raise BadField("vessels", f"{len(out)} vessels: a rack has from 2 to {rack.MOST_PLACES} places.")
    return tuple(out)


def _set(record: Record, name: str) -> tuple[str, ...]:
    """Give the vessels that were weighed empty together under a name; none where it names a vessel."""
    if registers.is_in_use(record, "vessel", name):
        return ()
    most = rack.MOST_PLACES + 1
    return register_ids.referring(record, "vessel", ("tare_set",), name, most=most).ids


def _run(record: Record, first: str, last: str) -> tuple[str, ...]:
    for id in (first, last):
        _in_register(record, id)
    if natural(first) > natural(last):
        raise BadField("vessels", f"{first} to {last} runs backwards.")
    return register_ids.between(record, "vessel", first, last)


def _in_register(record: Record, id: str) -> None:
    if not registers.is_in_use(record, "vessel", id):
        raise BadField("vessels", f"{id} is no vessel of the register: add it there, or type another.")


def plan(
    record: Record,
    *,
    container: str,
    amount: str,
    vessels_text: str,
    balance: str,
    enclosure: str,
    target: str = "",
    solvent_container: str = "",
    recipe: str = rack.ALL_AT_ONCE,
    tolerance_percent: str = "5",
    rehearsal: bool = False,
) -> Plan:
    """Give the plan of a rack: equal portions of powder, or of solution where a target is given.

    Parameters
    ----------
    amount
        Of one portion: powder by mass; with a target, solution by mass or volume.

    Raises
    ------
    BadField
        The vessels cannot be read.
    BadInput
        A target without a solvent, or a solvent without a target.
    """
    if bool(target.strip()) != bool(solvent_container.strip()):
        raise BadInput("A target needs a solvent, and a solvent a target: give both, or neither for powder.")
    ids = vessels(record, vessels_text)
    parts = tuple(
        Part(
            key=str(n),
            vessel=id,
            target=target.strip() or amount,
            amount=amount,
            container=container,
            solvent_container=solvent_container,
        )
        for n, id in enumerate(ids, start=1)
    )
    return Plan(
        recipe=recipe,
        container=container,
        # Without solvent the powder is its own surroundings: nothing else meets it.
        solvent_container=solvent_container or container,
        target=target.strip() or amount,
        amount=amount,
        vessel=ids[0],
        balance=balance,
        enclosure=enclosure,
        tolerance_percent=tolerance_percent,
        rehearsal=rehearsal,
        parts=parts,
    )


def reject(acting: Acting, prep: str, *, seen: int, place: str, reason: str) -> None:
    """Reject one place at any step: what is in it goes to waste, it stays on record, the others go on.

    A container that is open stays open: the vessel is capped and put aside.

    Raises
    ------
    Refused
        It is no rack, there is no such place, or it is rejected already; of a closed rack nothing is in it.
    Owed
        Nothing is open, and an exposure note is owed.
    BadInput
        There is no reason.
    """
    state = acting.record.prep_state(prep)
    if not state.plan.is_rack:
        raise Refused(f"{prep} is no rack of portions: discard what is in the vessel.")
    if place not in {p.key for p in state.plan.parts}:
        raise Refused(f"There is no place {place}: it has 1 to {len(state.plan.parts)}.")
    if place in state.rejected:
        raise Refused(f"Place {place} is rejected already.")
    if not reason.strip():
        raise BadInput("Write the reason: it stands in the record for good.")
    if state.status != PrepStatus.OPEN:
        amend.discard(acting, prep, seen=seen, reason=reason, parts=(place,))
        return
    with steps.open_prep(acting, prep, seen) as state:
        if any(d.counts and d.part == place for d in state.doses):
            amend.discard(acting, prep, seen=seen, reason=reason, parts=(place,), while_open=True)
        elif state.owed and not state.open_handlings:
            raise Owed("An exposure note is owed: write it first.")
        steps.append(acting, state, ev.PlaceRejected(prep=prep, part=place, reason=reason.strip()))


def stale_tares(state: PrepState, *, now: datetime) -> tuple[str, ...]:
    """Give the places that are tared but not dosed, and whose tare is past its lifetime."""
    if not state.plan.is_rack or rack.tare_step(state.steps) is None:
        return ()
    found = []
    for part in state.each:
        tared = any(r.what == "vessel" and r.part == part.key for r in part.reads)
        dosed = any(d.part == part.key for d in part.doses)
        if tared and not dosed and tare_age.warnings(part, now=now):
            found.append(part.key)
    return tuple(found)


def tare_again(acting: Acting, prep: str, *, seen: int) -> None:
    """Ask for a fresh tare of every place whose tare is past its lifetime; what is dosed stays.

    Raises
    ------
    Refused
        No tare is too old.
    Owed
        Something is open, or an exposure note is owed.
    """
    record = acting.record
    with record.immediate():
        state = record.prep_state(prep)
        step = rack.tare_step(state.steps)
        stale = stale_tares(state, now=record.due_now())
        if step is None or not stale:
            raise Refused(f"Every tare of {prep} stands: go on.")
        for key in stale:
            steps.go_back(acting, prep, seen=seen, step=step, reason=FRESH, part=key)
            seen = record.prep_state(prep).last_entry
