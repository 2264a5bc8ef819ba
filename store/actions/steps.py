"""The verbs of a step: each checks, then appends; a step is done when its last act is."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from store import events as ev
from store.actions import now_checks, rules_now
from store.actions.acting import Acting, LetThrough
from store.actions.balances import stops_weighing
from store.actions.cautions import acknowledge_short, before, keep_text
from store.errors import BadInput, MovedOn, NeedsSecondPerson, NotAcknowledged, Owed, Refused
from store.model.prep import Act
from store.model.words import ActKind, PrepStatus, Role
from store.procedure.checks import Finding
from store.procedure.recipes import COMPARE
from store.procedure.standing import Standing
from store.procedure.state import PrepState
from store.units import number


def subject(prep: str) -> str:
    """Give the journal subject of a prep."""
    return f"prep:{prep}"


@contextmanager
def open_prep(acting: Acting, prep: str, seen: int) -> Iterator[PrepState]:
    """Hold the record for one verb on an open prep that has not moved on; end the step if its acts are done.

    Raises
    ------
    MovedOn
        Another entry came after the one the person saw.
    Refused
        The prep is not open.
    """
    record = acting.record
    with record.immediate():
        state = record.prep_state(prep)
        if state.last_entry != seen:
            raise MovedOn(
                f"{prep} has moved on since you saw it ({state.last_person} wrote entry {state.last_entry}): "
                "look again, then decide."
            )
        if state.status != PrepStatus.OPEN:
            raise Refused(f"{prep} is {state.status}: nothing more is done in it.")
        yield state
        after = record.prep_state(prep)
        while after.current is not None and after.act is None:  # one vessel made anew leaves others done
            append(acting, after, ev.StepDone(prep=prep, step=after.step))
            after = record.prep_state(prep)


@contextmanager
def guarded_act(acting: Acting, prep: str, seen: int, *kinds: ActKind) -> Iterator[tuple[PrepState, Act]]:
    """Hold the record for one act of the open step, whose cautions must stand acknowledged.

    Where the page is unchanged since this person's last acknowledgement, the short form is acknowledged
    here: it stood on the screen when the act's key was pressed.

    Raises
    ------
    NotAcknowledged
        The full page must be read first.
    Refused
        The open act is of another kind.
    """
    acting.must(Role.OPERATOR)
    with open_prep(acting, prep, seen) as state:
        stands = before(acting.record, state, acting.person)
        if stands.standing == Standing.PAGE:
            raise NotAcknowledged("Read the cautions of this step first, page by page.")
        if stands.standing == Standing.SHORT:
            state = acknowledge_short(acting, state, stands)
        act = state.act
        if act is None or act.kind not in kinds:
            raise Refused(f"The open act is {act.text if act else 'none'!r}: do that first.")
        yield state, act


def append(acting: Acting, state: PrepState, event: ev.Event) -> ev.Entry:
    """Append one event of a prep."""
    return acting.record.append(event, person=acting.person, subject=subject(state.prep))


def confirm(
    acting: Acting,
    prep: str,
    *,
    seen: int,
    answer: str = "",
    kept_text: str = "",
    let_through: LetThrough | None = None,
) -> None:
    """Write that an act was done, answered or told; `kept_text` is what was shown (a label).

    Raises
    ------
    BadInput
        What was told is no number, or a reading outside its limit was confirmed without a reason.
    NeedsSecondPerson
        What was told lies outside the limits of the enclosure; or the lot, the enclosure or the person is
        not what it was at the plan; or the wait until room temperature is not over.
    """
    with guarded_act(acting, prep, seen, ActKind.CONFIRM, ActKind.ANSWER, ActKind.TELL, ActKind.READ) as (
        state,
        act,
    ):
        if act.kind == ActKind.READ and let_through is None and not answer:
            raise BadInput("A reading that was out of its limit goes on only with a reason.")
        if act.key.partition(":")[0] == COMPARE:
            now_checks.stop(
                acting,
                state,
                (*now_checks.material(acting, state), *now_checks.person(acting, state)),
                let_through,
            )
        now_checks.stop(acting, state, now_checks.warming(acting, state), let_through)
        if act.what == "cleaning":
            now_checks.stop(acting, state, now_checks.met(acting, state, answer), let_through)
        if act.kind == ActKind.TELL and (against := outside(state, answer)) and let_through is None:
            raise NeedsSecondPerson((against,))
        if kept_text:
            answer = keep_text(acting, kept_text, act.what or "text")
        event = ev.Confirmed(
            prep=prep,
            step=state.step,
            act=act.key,
            answer=answer,
            let_through=(let_through.to_body(),) if let_through else (),
        )
        append(acting, state, event)


def outside(state: PrepState, told: str) -> str:
    """Say what is wrong with a pressure that was told, against the limits of the enclosure."""
    shown, row = number(told), state.basis["enclosure"]
    for key, word, beyond in (("pressure_low", "lowest", -1), ("pressure_high", "highest", 1)):
        if row.get(key) and (shown - number(row[key])) * beyond > 0:
            return f"{told} Pa is outside the limits of {row['id']}: {word} {row[key]} Pa"
    return ""


def open_up(acting: Acting, prep: str, *, seen: int, let_through: LetThrough | None = None) -> None:
    """Write that from now on something hazardous is open.

    Raises
    ------
    NeedsSecondPerson
        The person, who need not be the one who planned, is not trained for it, or the balance that is to
        weigh has failed its check or is overdue for it, or a local rule stands against it.
    Owed
        Something is open already.
    """
    with guarded_act(acting, prep, seen, ActKind.OPEN) as (state, act):
        if state.open_handlings:
            raise Owed("Something is open already: close it first.")
        found = (
            *now_checks.person(acting, state),
            *now_checks.worn(acting, state),
            *now_checks.met(acting, state),
            *rules_now.against(acting, state),
            *(Finding(what, group="place") for what in stops_weighing(acting.record, state)),
        )
        now_checks.stop(acting, state, found, let_through)
        step = state.steps[state.step]
        event = ev.Opened(
            prep=prep,
            step=state.step,
            act=act.key,
            what=act.what,
            container=step.container,
            vessel=act.vessel or step.vessel,
            enclosure=state.plan.enclosure,
            substances=step.substances,
            let_through=(let_through.to_body(),) if let_through else (),
        )
        append(acting, state, event)


def tell_rule(acting: Acting, prep: str, *, seen: int, key: str, answer: str) -> None:
    """Write what the checklist of a local rule asks before the open act.

    Raises
    ------
    BadInput
        It is no number where one is asked.
    Refused
        It was not done, or nothing of it is asked.
    """
    with guarded_act(acting, prep, seen, ActKind.OPEN, ActKind.HANDLE) as (state, _):
        asked = next((a for a in rules_now.untold(acting.record, state) if a.key == key), None)
        if asked is None:
            raise Refused("That is not asked now: look again.")
        kept = rules_now.answer_of(asked, answer)
        append(acting, state, ev.Confirmed(prep=prep, step=state.step, act=key, answer=kept))


def close_up(acting: Acting, prep: str, *, seen: int, open_s: float | None) -> None:
    """Write that it is closed again; `open_s` is monotonic, or None across an interruption (then estimated).

    Before its turn this is the opening's own act taken back: what was begun is opened anew later.
    """
    with open_prep(acting, prep, seen) as state:
        if not state.open_handlings:
            raise Refused("Nothing is open.")
        handling = state.open_handlings[-1]
        act = state.act
        key = act.key if act is not None and act.kind == ActKind.CLOSE else handling.act
        seconds = open_s
        if seconds is None:
            seconds = (acting.record.now() - datetime.fromisoformat(handling.at)).total_seconds()
        event = ev.Closed(
            prep=prep,
            step=handling.step,
            act=key,
            opened=handling.entry,
            open_s=f"{max(seconds, 0.0):.1f}",
            estimated=open_s is None,
        )
        append(acting, state, event)


def handle(
    acting: Acting, prep: str, *, seen: int, detail: str = "", let_through: LetThrough | None = None
) -> None:
    """Write a handling without an opening: transfer in or out, waste.

    Raises
    ------
    NeedsSecondPerson
        What goes to waste must not meet what is in the stream, or a local rule stands against it.
    """
    with guarded_act(acting, prep, seen, ActKind.HANDLE) as (state, act):
        found = (*now_checks.met(acting, state), *rules_now.against(acting, state))
        now_checks.stop(acting, state, found, let_through)
        event = ev.Handled(
            prep=prep,
            step=state.step,
            act=act.key,
            what=act.what,
            enclosure=state.plan.enclosure,
            substances=state.steps[state.step].substances,
            detail=detail,
            let_through=(let_through.to_body(),) if let_through else (),
        )
        append(acting, state, event)


def resume(acting: Acting, prep: str, *, why: str) -> None:
    """Write that an open prep is taken up again; acknowledgements so far stand no more."""
    record = acting.record
    with record.immediate():
        state = record.prep_state(prep)
        if state.status != PrepStatus.OPEN:
            raise Refused(f"{prep} is {state.status}.")
        open_now = state.open_handlings[-1].what if state.open_handlings else ""
        append(acting, state, ev.Resumed(prep=prep, why=why, open_now=open_now))


def go_back(
    acting: Acting, prep: str, *, seen: int, step: int, act: str = "", reason: str, part: str = ""
) -> None:
    """Go on at an earlier step of the prep, whose acts from `act` on are asked again.

    With `part` only what that one vessel needs is asked again, in that step and all after it.

    Raises
    ------
    Owed
        Something is open, or owes its exposure note.
    """
    with open_prep(acting, prep, seen) as state:
        if not 0 <= step <= min(state.step, len(state.steps) - 1):
            raise BadInput(f"Step {step + 1} is not behind you.")
        if state.open_handlings:
            raise Owed("Something is open: close it first.")
        if state.owed and step != state.step:
            raise Owed("An exposure note is owed: write it first.")
        append(acting, state, ev.WentBack(prep=prep, step=step, act=act, reason=reason, part=part))
