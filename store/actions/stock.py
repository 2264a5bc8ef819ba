"""What is left of a container, whether it is tight, and whether a lot agrees with another."""

from datetime import datetime

from store import events as ev
from store.actions.acting import Acting
from store.calc import storage
from store.calc.weighing import effective_sd_mg
from store.errors import BadField, BadInput, Refused
from store.events import Entry
from store.model.registers import Balance
from store.model.words import Role
from store.procedure import pan
from store.queries import balances, lots, registers
from store.queries import storage as weighed
from store.units import figure, milligrams, net, number, quantity

HOW = ("weighed", "estimated")
DIFFERENCE = 0.02
"""A stocktake that differs by more than this part of the content asks for a reason; our own choice."""
LEAK_PERCENT = "1"
"""A loss of more than this part of the content, in percent, is called a leak; our own choice."""
GAINED = "heavier than it was: another reading, another container, or something came in; no value is told"
VERIFIED = ("previous lot", "independent check")


def take_stock(acting: Acting, container: str, *, left: str, how: str, reason: str = "") -> Entry:
    """Write what was found left in a container, beside what content and doses leave by the record.

    Parameters
    ----------
    left
        Mass of the content with its unit, as weighed or estimated.
    reason
        What a difference comes from; needed where it is over `DIFFERENCE` of the content.

    Raises
    ------
    BadField
        A field that cannot be used, or a difference without a reason.
    """
    acting.must(Role.OPERATOR, Role.KEEPER)
    record = acting.record
    if how not in HOW:
        raise BadField("how", f"write {' or '.join(HOW)}.")
    try:
        left_mg = quantity(left, "mass").to("mg")
    except BadInput as error:
        raise BadField("left", str(error)) from error
    if left_mg < 0:
        raise BadField("left", "less than nothing is left: weigh again, or write 0 mg.")
    with record.immediate():
        registers.in_use(record, "container", container)
        stands = lots.stock(record, container)
        by_record = stands.left_mg
        whole = stands.content_mg or by_record or left_mg
        if by_record is not None and abs(left_mg - by_record) > DIFFERENCE * whole and not reason.strip():
            raise BadField(
                "reason", f"by the record {by_record:.1f} mg are left, a difference of "
                f"{left_mg - by_record:+.1f} mg: write what it comes from, or that it is not known.",
            )  # fmt: skip
        event = ev.StockTaken(
            container=container,
            how=how,
            shown=left.strip(),
            left_mg=milligrams(left_mg),
            by_record_mg="" if by_record is None else milligrams(by_record),
            reason=reason.strip(),
        )
        return record.append(event, person=acting.person, subject=f"stock:{container}")


def weigh_sealed(
    acting: Acting, container: str, *, when: str, balance: str, shown: str, limit_percent: str = LEAK_PERCENT
) -> Entry:
    """Write the gross of a sealed container, and what it lost since the weighing before.

    Weighed at closing and after each use it begins anew; before a use the loss is computed, and what it
    makes of the concentration if only solvent escaped. A loss beyond the limit, and beyond what two readings
    of this balance can scatter, is called a leak: then liquid may have gone as well, and no corrected value
    is right for certain, nor any later one. A gain so large is no loss below zero: the reading, the container
    or what is in it is another, and no value is computed.

    Raises
    ------
    BadField
        A moment that is none, or a limit that is no percentage.
    BadReading
        The balance does not show that.
    Refused
        Something was dosed since the weighing before: a loss cannot be told from a use.
    """
    acting.must(Role.OPERATOR, Role.KEEPER)
    record = acting.record
    if when not in weighed.MOMENTS:
        raise BadField("when", f"write one of {', '.join(weighed.MOMENTS)}.")
    limit = float(number(limit_percent))
    if not 0 < limit < 100:
        raise BadField("limit", "write a percentage between 0 and 100.")
    with record.immediate():
        registers.in_use(record, "container", container)
        row = balances.in_force(record, registers.in_use(record, "balance", balance))
        of = Balance.from_body(row)
        reading = pan.as_shown(shown, of)
        if reading.mass_mg <= 0:
            raise BadField("shown", "a sealed container weighs something: zero the empty pan, weigh again.")
        computed: dict[str, str] = {}
        leaks = False
        if when == weighed.BEFORE_USE:
            computed, leaks = _loss(acting, container, reading.mass_mg, of, limit)
        event = ev.SealedWeighed(
            container=container,
            when=when,
            balance=balance,
            shown=reading.shown,
            mass_mg=milligrams(reading.mass_mg),
            computed=computed,
            leaks=leaks,
        )
        return record.append(event, person=acting.person, subject=f"sealed:{container}")


def _loss(
    acting: Acting, container: str, mass_mg: float, of: Balance, limit_percent: float
) -> tuple[dict[str, str], bool]:
    record = acting.record
    before = weighed.reference(record, container)
    if before is None:
        raise Refused(f"{container} was never weighed sealed: weigh it at closing or after a use first.")
    if weighed.dosed_since(record, container, before.entry):
        raise Refused(
            f"{container} was used since {before.at[:10]}: weigh it after use, then before the next."
        )
    u_one = effective_sd_mg(sd_mg=pan.repeatability_mg(of) or 0.0, readability_mg=pan.readability_mg(of))
    loss_mg, u_loss_mg = net(before.mass_mg - mass_mg), 2**0.5 * u_one
    content_mg = lots.stock(record, container).left_mg
    out = {"since": str(before.entry), "loss_mg": figure(loss_mg, 4), "u_loss_mg": figure(u_loss_mg, 3)}
    days = (record.now() - datetime.fromisoformat(before.at)).days
    out["days"] = str(days)
    if content_mg is None or content_mg <= 0:
        return out | {"note": "the content is not known: no loss in percent"}, False
    out |= {"content_mg": figure(content_mg, 7), "loss_percent": figure(100 * loss_mg / content_mg, 4)}
    out["limit_percent"] = figure(limit_percent)
    beyond = abs(loss_mg) > max(limit_percent / 100.0 * content_mg, 2.0 * u_loss_mg)
    leaks = beyond and loss_mg > 0
    if beyond and not leaks:
        return out | {"note": GAINED}, False
    standing = weighed.concentration(record, container)
    if standing is not None and not leaks:
        value, u, unit = standing
        now, now_u = storage.concentrated(
            value=value, u=u, content_mg=content_mg, loss_mg=max(loss_mg, 0.0), u_loss_mg=u_loss_mg
        )
        out |= {"was": f"{value:.9g}", "value": f"{now:.9g}", "u": f"{now_u:.3g}", "unit": unit}
    return out, leaks


def verify_lot(
    acting: Acting,
    lot: str,
    *,
    how: str,
    against: str,
    method: str,
    ratio: str,
    u: str = "",
    limit_percent: str = "",
    note: str = "",
) -> Entry:
    """Write how a lot stood against the one before, or against something independent of it.

    Parameters
    ----------
    against
        For `previous lot` the number of that lot; for an independent check what it was, in words.
    ratio
        Found over expected: response per concentration of this lot over that of the other; 1 is agreement.
    u
        Standard uncertainty of the ratio.
    limit_percent
        How far it may be from 1; empty where no limit was set, and then nothing is judged.

    Raises
    ------
    BadField
        A field that cannot be used.
    NotFound
        Lot or previous lot is in no register.
    Refused
        The previous lot is of another substance, or the lot itself.
    """
    acting.must(Role.OPERATOR, Role.REVIEWER)
    record = acting.record
    if how not in VERIFIED:
        raise BadField("how", f"write {' or '.join(VERIFIED)}.")
    for name, text in (("against", against), ("method", method)):
        if not text.strip():
            raise BadField(name, "is needed: a check without it says nothing.")
    figures = {
        n: _figure(n, t) for n, t in (("ratio", ratio), ("u", u), ("limit_percent", limit_percent)) if t
    }
    if not figures.get("ratio"):
        raise BadField("ratio", "write found over expected, such as 0.998.")
    with record.immediate():
        row = registers.row(record, "lot", lot).row
        if how == VERIFIED[0]:
            other = registers.row(record, "lot", against.strip())
            if other.id == lot or other.row.get("substance") != row.get("substance"):
                raise Refused(f"{other.id} is no earlier lot of {row.get('substance')}: name one of it.")
        limit = figures.get("limit_percent")
        event = ev.LotVerified(
            lot=lot,
            how=how,
            against=against.strip(),
            method=method.strip(),
            ratio=ratio.strip().replace(",", "."),
            u=u.strip().replace(",", "."),
            limit="" if limit is None else figure(limit / 100),
            within=limit is None or abs(figures["ratio"] - 1.0) <= limit / 100 * (1 + 1e-12),
            note=note.strip(),
        )
        return record.append(event, person=acting.person, subject=f"verification:{lot}")


def _figure(name: str, text: str) -> float:
    try:
        found = float(number(text))
    except BadInput as error:
        raise BadField(name, str(error)) from error
    if found <= 0:
        raise BadField(name, "write a number above zero.")
    return found
