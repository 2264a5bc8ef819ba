"""A handling without a prep, typed at the desk: what, when, where, what could be met, who was there."""

from collections.abc import Mapping

from store.actions import handlings
from store.errors import BadField, StoreError
from store.queries import named, registers
from tui.screens.desk import Desk
from tui.screens.small_form import SmallForm
from tui.widgets.entry_form import Field

LINES = (
    "It counts in the exposure log of everybody present. See to people first; an incident is written with + "
    "at the bench.",
    "Follow your site's safety rules, the risk assessment and the safety data sheet; they come before this "
    "text.",
)


def parts(text: str) -> tuple[str, ...]:
    """Give what was typed parted by commas.

    >>> parts("op-1, op-2,")
    ('op-1', 'op-2')
    """
    return tuple(part.strip() for part in text.split(",") if part.strip())


def handling_form(desk: Desk) -> SmallForm:
    """Give the form; its fields are checked one by one, and together when it is written."""
    record, me = desk.record, desk.acting.person
    places = {r.id: r.row for r in registers.rows(record, "enclosure")}

    def substances(text: str) -> str:
        return ", ".join(named.substance(record, part) for part in parts(text))

    def people(text: str) -> str:
        return ", ".join(named.person(record, part) for part in parts(text))

    def do(given: Mapping[str, str]) -> None:
        try:
            handlings.handle_apart(
                desk.acting,
                what=given["what"],
                day=given["day"],
                enclosure=given["enclosure"],
                gloves=given["gloves"] or str(places.get(given["enclosure"], {}).get("gloves", "")),
                substances=parts(given["substances"]),
                present=parts(given["present"]),
                minutes=given["minutes"],
                unusual=given["unusual"] == "yes",
                note=given["note"],
            )
        except BadField:
            raise
        except StoreError as refusal:
            raise BadField("what", str(refusal)) from refusal

    fields = (
        Field("what", "what was done", value=handlings.WHAT[0], required=True,
              suggest=lambda t: [w for w in handlings.WHAT if t.lower() in w],
              help=", ".join(handlings.WHAT)),
        Field("day", "on", value=record.now().date().isoformat(), help="the day on which it happened"),
        Field("enclosure", "enclosure", value=next(iter(places), ""),
              suggest=lambda t: [p for p in places if t.lower() in p.lower()], help="empty: none"),
        Field("gloves", "gloves", help="empty: as the enclosure's row says"),
        Field("substances", "could be met", take=substances, help="ids, names or CAS, parted by commas"),
        Field("present", "everybody present", value=me, take=people, required=True,
              help="who did it first, parted by commas"),
        Field("minutes", "minutes open", "number", help="estimated; empty where nothing was open"),
        Field("unusual", "unusual", "choice", "no", ("no", "yes"), help="yes needs a note"),
        Field("note", "note"),
    )  # fmt: skip
    return SmallForm(desk, "Handling without a prep", LINES, fields, do)
