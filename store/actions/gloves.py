"""Gloves changed in the midst of a prep: a handling of its own, that starts their clock anew."""

from store import events as ev
from store.actions.acting import Acting
from store.actions.steps import append, open_prep
from store.errors import Owed
from store.model.words import GLOVE_CHANGE


def change_gloves(acting: Acting, prep: str, *, seen: int) -> None:
    """Write that the gloves were changed: their clock starts anew, and an exposure note is owed.

    Raises
    ------
    Owed
        Something is open.
    """
    with open_prep(acting, prep, seen) as state:
        if state.open_handlings:
            raise Owed("Something is open: close it before you change gloves.")
        step = state.current
        event = ev.Handled(
            prep=prep,
            step=state.step,
            act="",
            what=GLOVE_CHANGE,
            enclosure=state.plan.enclosure,
            substances=step.substances if step is not None else (),
        )
        append(acting, state, event)
