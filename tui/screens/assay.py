"""Enter what a laboratory found in the portions of a closed rack."""

from collections.abc import Mapping

from store.actions import assays
from store.procedure import portions
from store.procedure.state import PrepState
from tui.screens.desk import Desk
from tui.screens.small_form import SmallForm
from tui.widgets.entry_form import Field


def assay_form(desk: Desk, state: PrepState) -> SmallForm:
    """Give the form: contents of single portions, or the mean content by an assay of the lot."""
    before = portions.assayed(state)
    there = [p for p in portions.places(state) if p.word == portions.FILLED]
    lines = (
        f"{len(there)} portions stand, {len(before.units)} of them assayed"
        + (f", mean {before.mean} %" if before.mean else "")
        + ". In % of what was aimed at (the label).",
        "USP <905>: ten single contents are judged at stage 1, thirty at stage 2; the mean of an assay of "
        "the lot serves weight variation. A content or mean of - takes back what stood.",
    )

    def do(given: Mapping[str, str]) -> None:
        found = assays.units(state.plan, given["places"], given["contents"])
        more = {k: given[k] for k in ("mean", "target", "method", "laboratory", "report", "note")}
        assays.enter(desk.acting, state.prep, seen=state.last_entry, units=found, **more)

    fields = (
        Field("places", "places", help="1 to 10, or 3, 7; or their vessels; empty: only a mean"),
        Field("contents", "contents, %", help="one for each place, in that order, parted by blanks"),
        Field("mean", "or mean, %", help="by an assay of the lot"),
        Field("target", "target T, %", value=before.target),
        Field("method", "method", required=True),
        Field("laboratory", "laboratory"),
        Field("report", "report"),
        Field("note", "note", help="why, where it replaces what stood"),
    )  # fmt: skip
    return SmallForm(desk, f"Assay of {state.prep}", lines, fields, do)
