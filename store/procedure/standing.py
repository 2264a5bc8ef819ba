"""Whether an acknowledgement of the cautions stands for the open step."""

from datetime import datetime, timedelta
from enum import StrEnum

from store.procedure.state import PrepState


class Standing(StrEnum):
    """What the cautions of the open step ask of this person now."""

    STANDS = "stands"
    SHORT = "short"
    PAGE = "page"


def standing(state: PrepState, *, person: str, digest: str, now: datetime, break_minutes: float) -> Standing:
    """Say whether an acknowledgement of this very text by this person stands for the open step.

    In full after an interruption, an incident, a change of person, container or kind of step, a break of
    `break_minutes`, or any change of the text; the short form when the last acknowledgement was of this text
    for a step of this kind. While something is open a break does not count: all reading comes before opening.
    """
    step = state.current
    alive = [a for a in state.acks if a.entry > state.ack_floor]
    if step is None or not alive:
        return Standing.PAGE
    last = alive[-1]
    fits = (
        last.person == person
        and last.digest == digest
        and last.step_name == step.name
        and last.container == step.container
    )
    idle = now - datetime.fromisoformat(state.last_at)
    if not fits or (idle > timedelta(minutes=break_minutes) and not state.open_handlings):
        return Standing.PAGE
    return Standing.STANDS if last.step == state.step else Standing.SHORT
