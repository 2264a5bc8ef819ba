"""The verbs that take what the balance showed: a reading, a dose."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from store import events as ev
from store.actions.acting import Acting, LetThrough
from store.actions.balances import stops_weighing
from store.actions.steps import append, guarded_act, open_prep
from store.errors import BadInput, NeedsSecondPerson, Owed, Refused
from store.model.prep import Act
from store.model.words import ActKind
from store.procedure import outcome, pan, tare_age
from store.procedure.state import PrepState
from store.units import milligrams

CONTINUITY = Act(
    key="continuity",
    kind=ActKind.READ,
    text="Vessel on the pan as it was tared, doors closed: does the display go on where it was?",
    what="continuity",
)
"""Asked after an interruption, before anything is dosed on top of what the vessel holds."""


def read(
    acting: Acting,
    prep: str,
    *,
    seen: int,
    text: str,
    source: str = "typed",
    steady: bool = True,
    conditions: Mapping[str, Any] | None = None,
) -> bool:
    """Write one reading that is not a dose, and say whether it is within its limit.

    Before a dose it is the empty vessel weighed again, where its tare is past its lifetime.

    Raises
    ------
    Refused
        No reading is asked now.
    """
    with guarded_act(acting, prep, seen, ActKind.READ, ActKind.DOSE) as (state, act):
        asked = act if act.kind == ActKind.READ else tare_age.fresh(state)
        if asked is None:
            raise Refused(f"The open act is {act.text!r}: do that first.")
        return _write_reading(acting, state, asked, text, source, steady, conditions or {})


def check_continuity(
    acting: Acting,
    prep: str,
    *,
    seen: int,
    text: str,
    source: str = "typed",
    steady: bool = True,
    goes_on: str = "",
) -> bool:
    """Write what the display shows after an interruption, and say whether it goes on where it was.

    `goes_on` says why it does so all the same: what fell and was not accepted yet lies in the vessel too.
    """
    with open_prep(acting, prep, seen) as state:
        if not state.resumed:
            raise Refused("No interruption waits for a continuity check.")
        conditions = {"goes_on": goes_on} if goes_on else {}
        return _write_reading(acting, state, CONTINUITY, text, source, steady, conditions)


def _write_reading(
    acting: Acting,
    state: PrepState,
    act: Act,
    text: str,
    source: str,
    steady: bool,
    conditions: Mapping[str, Any],
) -> bool:
    of, here = pan.balance(state), state.here
    reading = pan.as_shown(text, of)
    expected = pan.expectation(here, act)
    within = expected.holds(reading.mass_mg)
    event = ev.Read(
        prep=state.prep,
        step=state.step,
        act=act.key,
        what=act.what,
        balance=of.id,
        shown=reading.shown,
        mass_mg=milligrams(reading.mass_mg),
        source=source,
        steady=steady,
        expected_mg="" if expected.expected_mg is None else milligrams(expected.expected_mg),
        limit_mg="" if expected.limit_mg is None else milligrams(expected.limit_mg),
        within=within,
        conditions={**(tare_age.conditions(here) if act.what in ("vessel", "tared") else {}), **conditions},
    )
    append(acting, state, event)
    return within


def dose(
    acting: Acting,
    prep: str,
    *,
    seen: int,
    text: str,
    source: str = "typed",
    steady: bool = True,
    ends: bool = True,
    reason: str = "",
    usable: bool = True,
    let_through: LetThrough | None = None,
    stream: Mapping[str, Any] | None = None,
) -> None:
    """Write what the display showed when this dose was taken; `ends` says that no more of it follows.

    `stream` is what stood around the acceptance on a live balance: raw lines, spread, creep.

    Raises
    ------
    BadInput
        It is outside the tolerance or not steady, and no reason was given.
    NeedsSecondPerson
        The net that it ends with is below the minimum weight of this balance, or over a limit; or the
        balance failed a check since it was opened.
    Owed
        Nothing is open, an interruption waits for its continuity check, or the tare of the vessel is past its
        lifetime.
    """
    with guarded_act(acting, prep, seen, ActKind.DOSE) as (state, act):
        if not state.open_handlings:
            raise Owed("Nothing is open: open the container first.")
        if usable and (again := tare_age.fresh(state)) is not None:
            raise Owed(
                f"The tare of {again.vessel} is past its lifetime: weigh the empty vessel again first."
            )
        here = state.here
        if state.resumed and pan.content_mg(here) > 0:
            raise Owed("After the interruption, check first that the display goes on where it was.")
        of = pan.balance(state)
        reading = pan.as_shown(text, of)
        total_mg = pan.total_mg(here, act.what, reading.mass_mg)
        window = outcome.window(here, act.what)
        inside = window.holds(total_mg)
        if ends and usable and not reason.strip() and not (inside and steady):
            raise BadInput(
                "It is not steady, or outside the tolerance: take it with a reason, or go on dosing."
            )
        if usable and total_mg <= 0:
            raise BadInput("The display shows that nothing was added: dose, or go back.")
        since = datetime.fromisoformat(state.open_handlings[-1].at)
        stands = outcome.against if ends else outcome.over_capacity
        against = (
            *(stands(here, act.what, total_mg) if usable else ()),
            *(stops_weighing(acting.record, state, at=since) if usable else ()),
        )
        if against and let_through is None:
            raise NeedsSecondPerson(against)
        step = state.steps[state.step]
        event = ev.Dosed(
            prep=prep,
            step=state.step,
            act=act.key,
            content=act.what,
            container=step.container,
            vessel=act.vessel or step.vessel,
            shown=reading.shown,
            net_mg=milligrams(total_mg - here.total_mg(act.what)),
            total_mg=milligrams(total_mg),
            source=source,
            steady=steady,
            usable=usable,
            reason=reason.strip(),
            inside=inside,
            ends=ends,
            computed={
                **(outcome.if_taken(here, act.what, total_mg).to_body() if usable else {}),
                **({"stream": stream} if stream else {}),
                **({"contains": shares} if (shares := outcome.contains(here, act.what)) else {}),
            },
            let_through=(let_through.to_body(),) if let_through else (),
        )
        append(acting, state, event)
