"""What is typed at the desk about a row besides its fields: stocktake, sealed gross, comparison, a PIN."""

from collections.abc import Mapping

from store.actions import people, stock
from store.errors import BadField, NotAllowed
from store.model.words import Role
from store.queries import lot_checks, lots, registers, storage
from store.units import figure, fixed, number, rounded
from tui.screens.desk import Desk
from tui.screens.small_form import SmallForm
from tui.widgets.entry_form import Field

FORGET = "Nothing is written before the last field; - goes back."


def _number(text: str) -> str:
    return str(number(text))


def pin_form(desk: Desk, person: str) -> SmallForm:
    """Give the form in which a PIN is set.

    Raises
    ------
    NotAllowed
        It is another person's, and no keeper asks.
    """
    acting = desk.acting
    if person != acting.person and Role.KEEPER not in acting.roles:
        raise NotAllowed("Only a keeper sets another person's PIN.")

    def do(given: Mapping[str, str]) -> None:
        if given["pin"] != given["again"]:
            raise BadField("pin", "The two PINs differ: type both again.")
        people.set_pin(acting, person, given["pin"])

    lines = ("4 to 12 digits. The record keeps that it was set and by whom, never the PIN.",)
    fields = (Field("pin", "PIN", "pin", required=True), Field("again", "PIN again", "pin", required=True))
    return SmallForm(desk, f"PIN of {person}", lines, fields, do)


def stocktake(desk: Desk, container: str) -> SmallForm:
    """Give the form of a stocktake: what was found left, beside what the record expects."""
    stands = lots.stock(desk.record, container)
    expected = "not known" if stands.left_mg is None else fixed(stands.left_mg / 1000, 4, "g")

    def do(given: Mapping[str, str]) -> None:
        stock.take_stock(desk.acting, container, left=given["left"], how=given["how"], reason=given["reason"])

    lines = (
        f"By the record {expected} are left in {container}. A difference of more than "
        f"{100 * stock.DIFFERENCE:g} % of the content needs a reason; from here on the record counts from "
        "what was found.",
        FORGET,
    )
    fields = (
        Field("left", "found left", required=True, help="mass of the content with its unit, such as 4.51 g"),
        Field("how", "how", "choice", "", stock.HOW, required=True),
        Field("reason", "what it comes from", help="empty where it agrees"),
    )
    return SmallForm(desk, f"Stocktake of {container}", lines, fields, do)


def sealed_gross(desk: Desk, container: str) -> SmallForm:
    """Give the form of the gross of a sealed container; before a use its loss is computed."""
    ids = [r.id for r in registers.rows(desk.record, "balance")]

    def do(given: Mapping[str, str]) -> None:
        stock.weigh_sealed(
            desk.acting,
            container,
            when=given["when"],
            balance=given["balance"],
            shown=given["shown"],
            limit_percent=given["limit"],
        )

    lines = (
        "The whole sealed container, wiped dry, at the temperature of the balance: as it stood on the pan "
        "at closing, before a use, after a use.",
        "Before a use it says what was lost since, and the concentration if only solvent escaped. Beyond the "
        "limit it leaks: then no corrected value is right for certain.",
    )
    fields = (
        Field("when", "when", "choice", "", storage.MOMENTS, required=True),
        Field("balance", "balance", value=ids[0] if len(ids) == 1 else "", required=True,
              suggest=lambda t: [id for id in ids if t.lower() in id.lower()]),
        Field("shown", "display shows", "number", required=True, help="every digit, in the display's unit"),
        Field("limit", "a leak from, %", "number", value=stock.LEAK_PERCENT, take=_number, required=True),
    )  # fmt: skip
    return SmallForm(desk, f"Sealed gross of {container}", lines, fields, do)


def comparison(desk: Desk, lot: str) -> SmallForm:
    """Give the form of a lot held against the one before, or against something independent."""

    def do(given: Mapping[str, str]) -> None:
        stock.verify_lot(
            desk.acting,
            lot,
            how=given["how"],
            against=given["against"],
            method=given["method"],
            ratio=given["ratio"],
            u=given["u"],
            limit_percent=given["limit_percent"],
            note=given["note"],
        )

    lines = (
        "Found over expected: the response per concentration of this lot over that of the other; 1 is "
        "agreement. It is written and shown; it releases or blocks nothing by itself.",
    )
    fields = (
        Field("how", "held against", "choice", "", stock.VERIFIED, required=True),
        Field("against", "which", required=True, help="number of the previous lot, or what it was"),
        Field("method", "method", required=True, help="how it was measured"),
        Field("ratio", "ratio", "number", required=True, take=_number, help="such as 0.998"),
        Field("u", "its u", "number", take=_number, help="standard uncertainty; empty if not known"),
        Field("limit_percent", "limit, %", "number", take=_number,
              help="how far from 1 it may be; empty: nothing is judged"),
        Field("note", "note"),
    )  # fmt: skip
    return SmallForm(desk, f"Verification of lot {lot}", lines, fields, do)


def said_of(desk: Desk, register: str, id: str) -> str:
    """Say what the last entry about a row came to."""
    if register == "container":
        return _sealed(desk, id)
    checks = lot_checks.of(desk.record, id) if register == "lot" else ()
    if not checks or checks[0].limit_ratio is None:
        return ""
    return f"ratio {figure(checks[0].ratio)}: {'within' if checks[0].within else 'OUT OF'} its limit"


def _sealed(desk: Desk, container: str) -> str:
    found = storage.of(desk.record, container)
    last = found.weighings[-1] if found.weighings else None
    if last is None or not last.computed.get("loss_mg"):
        return f"What is in it now is not known: {found.doubt}." if found.doubt else ""
    said = f"lost {last.computed['loss_mg']} mg in {last.computed['days']} days"
    if "loss_percent" in last.computed:
        said += f", {last.computed['loss_percent']} % of the content"
    if last.leaks:
        return f"{said}. LEAKS: liquid may have gone as well as vapour; use no corrected value."
    if found.doubt:
        return f"{said}. What is in it now is not known: {found.doubt}."
    if found.value is not None and found.u:
        value, u = rounded(found.value, found.u)
        said += f". In it now {value} {found.unit}, u {u}, if only solvent escaped"
    return f"{said}."
