"""What the exposure log is chosen by, as the fields of a form."""

from collections.abc import Mapping

from store.actions.handlings import WHAT as HANDLED
from store.queries import named, registers
from tui.screens.desk import Desk
from tui.screens.which import choice, families, period
from tui.widgets.entry_form import Field

KINDS = ("container", "vessel", *HANDLED)
"""What is offered; any other word must stand in the log."""
FILTERS = ("person", "substance", "lot", "family", "since", "until", "enclosure", "what", "classified")


def fields(desk: Desk, which: Mapping[str, str], *, officer: bool) -> tuple[Field, ...]:
    """Give the fields; the person only for a safety officer."""
    record = desk.record
    places = [r.id for r in registers.rows(record, "enclosure", retired=True)]
    person = Field("person", "person", value=which["person"], **choice(record, "person", named.person),
                   help="present at the handling; empty for everybody")  # fmt: skip
    return (
        *((person,) if officer else ()),
        Field("substance", "substance", value=which["substance"],
              **choice(record, "substance", named.substance),
              help="open alone or dissolved: id, name or CAS"),
        Field("lot", "lot", value=which["lot"], **choice(record, "lot", named.lot),
              help="handled itself, or in what was made of it"),
        Field("family", "hazard family", value=which["family"], **families(record),
              help="in words or by code: cancer, CMR 1"),
        Field("since", "since", value=which["since"], take=period, help="day, month or year"),
        Field("until", "until", value=which["until"], take=period, help="day, month or year"),
        Field("enclosure", "enclosure", value=which["enclosure"],
              suggest=lambda t: [e for e in places if t.lower() in e.lower()],
              take=lambda t: named.enclosure(record, t.strip()), help="where"),
        Field("what", "kind of handling", value=which["what"],
              suggest=lambda t: [w for w in KINDS if t.lower() in w],
              take=lambda t: t if t in KINDS else named.what(record, t),
              help="what was opened or done, or a step"),
        Field("classified", "as classified", "choice", value=which["classified"], choices=("then", "now"),
              help="when it was handled, or as the register says today"),
    )  # fmt: skip
