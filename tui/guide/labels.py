"""The label of a prep, from what is in the vessel."""

from store.actions.closing import made_lot
from store.hazards.label import elements
from store.procedure import outcome
from store.procedure.state import PrepState


def label_of(state: PrepState) -> str:
    return f"{state.prep}"
