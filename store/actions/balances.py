"""The verbs of a balance's health: ten weighings, the daily check, an adjustment; and what stops weighing."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from store import events as ev
from store.actions.acting import Acting
from store.calc.weighing import check as check_of
from store.calc.weighing import minimum_weight_mg, repeatability_mg, zero_return_limit_mg
from store.errors import BadInput, Refused
from store.events import Entry
from store.model.registers import Balance
from store.model.settings import value
from store.model.words import ActKind, Role
from store.procedure import pan
from store.procedure.balance_checks import CheckState
from store.procedure.state import PrepState
from store.queries import balances, registers
from store.readings import Reading
from store.record.record import Record
from store.units import milligrams, number, plain, quantity

MOST_STEPS = 1000
"""A repeatability of more steps of the display than this is a slip of the pen, as in the register."""
HOW = ("internal weight", "external weight", "by the service")
"""How a balance is adjusted."""


def subject(balance: str) -> str:
    """Give the journal subject of a balance's checks; its register row is another."""
    return f"checks:{balance}"


def measure(
    acting: Acting, id: str, *, weighings: Sequence[str], load: str = "", source: str = "typed"
) -> Entry:
    """Write ten or more weighings of one small mass, with the vessel's load on the pan, and what they give.

    Parameters
    ----------
    weighings
        The net of each, as the display showed it.
    load
        What else lay on the pan, such as the mass of the empty vessel; empty where nothing did.

    Raises
    ------
    OutOfRange
        They are fewer than ten.
    BadReading
        One is no reading of this balance; it is named by its place.
    BadInput
        They scatter by more than a display does, or are more than the balance takes.
    """
    acting.must(Role.OPERATOR, Role.KEEPER)
    record = acting.record
    with record.immediate():
        row = registers.in_use(record, "balance", id)
        of = Balance.from_body(row)
        readings = [_shown(text, of, n) for n, text in enumerate(weighings, 1)]
        sd_mg = repeatability_mg([r.mass_mg for r in readings])
        step_mg = pan.readability_mg(of)
        if sd_mg > MOST_STEPS * step_mg:
            raise BadInput(
                f"These weighings scatter by over {MOST_STEPS} steps of the display: look at each."
            )
        load_mg = _load_mg(load)
        if load_mg + max(r.mass_mg for r in readings) > quantity(of.capacity, "mass").to("mg"):
            raise BadInput(f"Load and weighings are over the capacity of {of.capacity}: check them.")
        settings = registers.settings(record)
        in_force = {k: value(settings, k) for k in ("minimum_weight_limit", "minimum_weight_factor")}
        event = ev.RepeatabilityMeasured(
            balance=id,
            enclosure=of.enclosure,
            load=load.strip(),
            weighings=tuple(r.shown for r in readings),
            sd_mg=milligrams(sd_mg),
            readability_mg=milligrams(step_mg),
            minimum_mg=milligrams(
                minimum_weight_mg(
                    sd_mg=sd_mg,
                    readability_mg=step_mg,
                    limit_percent=float(number(in_force["minimum_weight_limit"])),
                    factor=float(number(in_force["minimum_weight_factor"])),
                )
            ),
            settings=in_force,
            source=source,
        )
        return record.append(event, person=acting.person, subject=subject(id))


def _shown(text: str, of: Balance, place: int) -> Reading:
    try:
        return pan.as_shown(text, of)
    except BadInput as error:
        raise BadInput(f"Weighing {place}: {error}") from error


def _load_mg(load: str) -> float:
    return quantity(load, "mass").to("mg") if load.strip() else 0.0


def check(acting: Acting, id: str, *, zero: str, shown: str, source: str = "typed") -> bool:
    """Write a daily check outside a prep: the empty pan, then the check weight; say whether it is within.

    Raises
    ------
    Refused
        The register has no check weight, or one whose own uncertainty decides nothing.
    BadInput
        The empty pan is not at zero: nothing is written.
    """
    acting.must(Role.OPERATOR, Role.KEEPER)
    record = acting.record
    with record.immediate():
        row = balances.in_force(record, registers.in_use(record, "balance", id))
        of = Balance.from_body(row)
        if against := undecided(row):
            raise Refused(against)
        empty, weight = pan.as_shown(zero, of), pan.as_shown(shown, of)
        step_mg = pan.readability_mg(of)
        factor = float(number(value(registers.settings(record), "zero_return_factor")))
        limit_mg = max(
            step_mg,
            zero_return_limit_mg(
                sd_mg=pan.repeatability_mg(of) or 0.0, readability_mg=step_mg, factor=factor
            ),
        )
        if abs(empty.mass_mg) > limit_mg + 1e-9:
            raise BadInput(f"The empty pan shows {empty.shown}: clean it, zero the display, begin anew.")
        expected_mg = quantity(of.check_mass, "mass").to("mg")
        allowed_mg = quantity(of.check_limit, "mass").to("mg")
        found = check_of(reading_mg=weight.mass_mg, weight_mg=expected_mg, limit_mg=allowed_mg)
        conditions = {k: row[k] for k in ("check_mass", "check_class", "check_u", "enclosure") if row.get(k)}
        for what, reading, want_mg, within_mg, within in (
            ("zero", empty, 0.0, limit_mg, True),
            ("check", weight, expected_mg, allowed_mg, found.passes),
        ):
            event = ev.Read(
                prep="",
                step=-1,
                act="daily check",
                what=what,
                balance=id,
                shown=reading.shown,
                mass_mg=milligrams(reading.mass_mg),
                source=source,
                expected_mg=milligrams(want_mg),
                limit_mg=milligrams(within_mg),
                within=within,
                conditions=conditions if what == "check" else {},
            )
            record.append(event, person=acting.person, subject=subject(id))
        return found.passes


def undecided(row: Mapping[str, Any]) -> str:
    """Say why a check weight decides nothing; empty where it does.

    Its expanded uncertainty must be no more than a third of the limit, *common practice*.
    """
    if not row.get("check_mass") or not row.get("check_limit"):
        return f"Balance {row['id']} has no check weight with a limit in the register: enter them."
    limit_mg = quantity(row["check_limit"], "mass").to("mg")
    u_mg = quantity(row["check_u"], "mass").to("mg") if row.get("check_u") else 0.0
    if u_mg > limit_mg / 3.0 * (1.0 + 1e-9):
        return (
            f"The check weight of balance {row['id']} has U {row['check_u']}, over a third of the limit of "
            f"{row['check_limit']}: it decides nothing; take a better weight."
        )
    return ""


def adjusted(acting: Acting, id: str, *, how: str, air: str = "", note: str = "") -> Entry:
    """Write that a balance was adjusted; a check before it stands no more.

    Parameters
    ----------
    air
        Density of the gas around its weight then, such as `1.199 kg/m3`; empty where it is that of the
        place of use.

    Raises
    ------
    BadInput
        `how` is empty, or `air` is no density of a gas.
    """
    acting.must(Role.OPERATOR, Role.KEEPER)
    if not how.strip():
        raise BadInput(f"Write how it was adjusted, such as {HOW[0]}.")
    air_kg_m3 = quantity(air, "density").to("kg/m3") if air.strip() else None
    if air_kg_m3 is not None and not 0 < air_kg_m3 <= 5.0:
        raise BadInput(f"{plain(air)} is no density of a gas: write one such as 1.199 kg/m3.")
    record = acting.record
    with record.immediate():
        registers.in_use(record, "balance", id)
        event = ev.Adjusted(
            balance=id,
            how=how.strip(),
            air_kg_m3="" if air_kg_m3 is None else f"{air_kg_m3:.6g}",
            note=note.strip(),
        )
        return record.append(event, person=acting.person, subject=subject(id))


def stops_weighing(record: Record, state: PrepState, *, at: datetime | None = None) -> tuple[str, ...]:
    """Give why the balance of a prep may not weigh now; what was let through in this prep already is none.

    Parameters
    ----------
    at
        When what is open was opened: a check that stood then is not overdue before it is closed.
    """
    step = state.current
    if step is None or not any(a.kind == ActKind.DOSE for a in step.acts):
        return ()
    found = balances.check_standing(record, state.basis["balance"], at=at)
    if found.weighs or any(found.why in decided.get("what", ()) for decided in state.let_through):
        return ()
    if found.state == CheckState.FAILED and found.last is not None:
        own = next((r for r in state.reads if r.entry == found.last.entry), None)
        if own is not None and (own.step, own.act) in state.done:
            return ()  # a second person let this very reading through
    return (found.why,)
