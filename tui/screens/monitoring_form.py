"""A result of an air or wipe sample, typed at the desk as the laboratory reported it."""

from collections.abc import Mapping

from store.actions import handlings
from store.model.words import Role
from store.queries import named, registers
from tui.screens.desk import Desk
from tui.screens.small_form import SmallForm
from tui.widgets.entry_form import Field

LINES = (
    "As the laboratory reported it, every digit kept. Nothing is averaged or judged here: what a result "
    "means under the local law is for a competent person.",
)


def monitoring_form(desk: Desk) -> SmallForm:
    """Give the form.

    Raises
    ------
    NotAllowed
        No safety officer.
    """
    desk.acting.must(Role.SAFETY_OFFICER)
    record = desk.record
    places = [r.id for r in registers.rows(record, "enclosure")]
    units = f"such as 0.12 {handlings.UNITS_IN_AIR[1]}, < 0.05 {handlings.UNITS_IN_AIR[1]}, 3 ng/cm2"

    def do(given: Mapping[str, str]) -> None:
        handlings.monitor(desk.acting, **given)

    fields = (
        Field("what", "sample", "choice", "", handlings.SAMPLES, required=True),
        Field("substance", "of", take=lambda t: named.substance(record, t), required=True,
              help="substance: id, name or CAS"),
        Field("value", "result", required=True, help=units),
        Field("day", "sampled on", value=record.now().date().isoformat()),
        Field("who", "breathing zone of", take=lambda t: named.person(record, t),
              help="for personal air; empty else"),
        Field("enclosure", "enclosure", suggest=lambda t: [p for p in places if t.lower() in p.lower()],
              help="in or at which; empty: none"),
        Field("place", "place", help="in words"),
        Field("minutes", "minutes sampled", "number"),
        Field("limit", "limit", help="that it is held against, with its unit; empty: none"),
        Field("limit_source", "limit from", help="needed beside a limit"),
        Field("method", "method"),
        Field("laboratory", "laboratory"),
        Field("report", "report number"),
        Field("note", "note"),
    )  # fmt: skip
    return SmallForm(desk, "Measured", LINES, fields, do)
