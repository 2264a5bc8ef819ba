"""A reading of a prep that is closed was wrong: it is corrected, and the result written anew, in one act."""

from collections.abc import Callable

from store.actions import amend, closing
from store.actions.acting import Acting, LetThrough
from store.errors import Refused
from store.model.words import Role
from store.procedure.state import PrepState


def write(
    acting: Acting,
    prep: str,
    *,
    seen: int,
    entry: int,
    shown: str,
    reason: str,
    label: Callable[[PrepState], str],
    let_through: LetThrough | None = None,
) -> None:
    """Correct a dose of a closed prep and compute what it came to anew; the old result stays on its page.

    A prep that was accepted or returned waits for a reviewer again; what was made from it shows as stale.

    Parameters
    ----------
    entry
        That of the dose.
    shown
        What the display showed, every digit.
    label
        Gives the text label of each vessel as it stands then.

    Raises
    ------
    Refused
        The prep is not closed.
    BadInput, BadReading
        No reason, no reading, or one by which nothing was added.
    NotFound
        The entry is no dose that stands.
    MovedOn
        The prep has moved on since it was seen.
    NeedsSecondPerson
        By it the net is below the minimum weight, or over a limit.
    """
    acting.must(Role.OPERATOR)
    with acting.record.immediate():
        state = acting.record.prep_state(prep)
        if not state.status.done:
            raise Refused(f"{prep} is {state.status}: correct it with - in its steps.")
        amend.correct(
            acting, prep, seen=seen, entry=entry, text=shown, reason=reason, let_through=let_through
        )
        corrected = acting.record.prep_state(prep)
        closing.compute_anew(acting, prep, seen=corrected.last_entry, label=label)
