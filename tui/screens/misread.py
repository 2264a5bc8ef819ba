"""Correct a reading of a closed prep: which dose, what the display showed, why."""

from collections.abc import Mapping
from functools import partial

from store.actions import misread
from store.actions.acting import LetThrough
from store.queries.page import PrepPage
from tui.screens.desk import Desk
from tui.screens.small_form import SmallForm
from tui.widgets.entry_form import Field


def misread_form(desk: Desk, page: PrepPage) -> SmallForm:
    """Give the form; the corrected result, its label and a new review follow."""
    from tui.guide.labels import final_label

    state = page.state
    doses = {f"{d.entry}  {d.content} to {d.vessel}: {d.shown}": d for d in state.doses if d.counts}
    lines = (
        "The reading is put right, and the result and the lot are written anew; what stood before stays on "
        "the page. A reviewer decides again. Print the label again, and tell who used the lot.",
    )

    def do(given: Mapping[str, str], let_through: LetThrough | None = None) -> None:
        misread.write(
            desk.acting,
            state.prep,
            seen=state.last_entry,
            entry=doses[given["dose"]].entry,
            shown=given["shown"],
            reason=given["reason"],
            label=partial(final_label, desk.record),
            let_through=let_through,
        )

    fields = (
        Field("dose", "dose", "choice", "", tuple(doses), required=True,
              help="the number of its entry, or a digit"),
        Field("shown", "the display showed", required=True, help="every digit"),
        Field("reason", "why", required=True, help="what was misread, and how it was found"),
    )  # fmt: skip
    return SmallForm(desk, f"Misread in {state.prep}", lines, fields, do, with_second=do)
