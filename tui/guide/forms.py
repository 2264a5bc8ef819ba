"""What is dosed as powder or as liquid: keys and choices name the grain or the drop that can fall."""

from store.model.words import ActKind
from store.procedure.state import PrepState
from tui.guide import texts

LIQUIDS = ("liquid", "solution")
GRAIN, DROP = "a grain", "a drop"


def is_liquid(state: PrepState, content: str) -> bool:
    """Say whether a content of the vessel is dosed as a liquid: a solvent, an aliquot, a liquid substance."""
    if content != "solid":
        return True
    basis = state.here.basis
    substance = basis["substances"].get(basis["lot"]["substance"], {})
    return substance.get("form", "") in LIQUIDS


def least(state: PrepState, content: str) -> str:
    """Give the least that falls at once of a content."""
    return DROP if is_liquid(state, content) else GRAIN


def dosed_now(state: PrepState) -> bool | None:
    """Say whether the step at hand doses a liquid; None where it doses nothing."""
    step = state.current
    dosed = next((a.what for a in step.acts if a.kind == ActKind.DOSE), None) if step is not None else None
    return None if dosed is None else is_liquid(state, dosed)


def take_reasons(state: PrepState, content: str) -> tuple[str, ...]:
    """Give the reasons to take a dose as it is."""
    if content != "solid":
        return texts.SOLVENT_REASONS
    return texts.LIQUID_REASONS if is_liquid(state, content) else texts.TAKE_REASONS


def unusual(state: PrepState) -> tuple[str, ...]:
    """Give what may have been unusual with what the step doses."""
    return {True: texts.UNUSUAL_LIQUID, False: texts.UNUSUAL_POWDER, None: texts.UNUSUAL}[dosed_now(state)]


def rest(state: PrepState) -> str:
    """Name what may lie on the pan."""
    return {True: DROP, False: "powder", None: "powder or a drop"}[dosed_now(state)]
