"""Balances: what is in force for one, whether it may weigh, and how its checks went."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from store.calc.chart import Chart, individuals
from store.calc.weighing import minimum_weight_mg
from store.model.registers import Balance
from store.model.settings import value
from store.procedure.balance_checks import CheckStanding, LastCheck, calibration_u_mg, standing
from store.procedure.inputs import balance_data
from store.queries import registers
from store.record.record import Record
from store.units import figure, number, quantity

CHARTED = 60
"""So many of the last checks stand on a chart."""
FEWEST_CHARTED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckRow:
    """One check with the check weight, in a prep or outside one."""

    entry: int
    at: str
    person: str
    prep: str
    """Empty for a daily check outside a prep."""
    shown: str
    error_mg: float
    limit_mg: float | None
    within: bool
    expected_mg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One repeatability, from ten or more weighings."""

    entry: int
    at: str
    day: str
    person: str
    enclosure: str
    load: str
    weighings: tuple[str, ...]
    sd_mg: float
    readability_mg: float
    minimum_mg: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustment:
    """One adjustment."""

    entry: int
    at: str
    day: str
    person: str
    how: str
    air_kg_m3: float | None
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """Everything that says whether a balance can be trusted, and how small a sample it can weigh."""

    balance: str
    name: str
    row: Mapping[str, Any]
    """As in force: the newest measured repeatability and adjustment over the register's."""
    standing: CheckStanding
    sd_mg: float | None
    sd_from: str
    """Where the repeatability comes from, in words."""
    minimum_mg: float
    measured: tuple[Measured, ...]
    """Newest first."""
    adjustments: tuple[Adjustment, ...]
    charted: tuple[CheckRow, ...]
    """The checks of the chart, oldest first."""
    chart: Chart | None
    """Of the errors in mg; None while there are too few."""
    calibration_u_mg: float | None
    """Of the certificate, at the check weight; None where it says nothing there."""


def checks(record: Record, balance: str, *, limit: int = CHARTED) -> tuple[CheckRow, ...]:
    """Give the last checks of a balance, newest first."""
    found = record.query(
        """
        SELECT entry, at, person, prep, shown, mass_mg, expected_mg, limit_mg, within
        FROM reading WHERE balance = :balance AND what = 'check' AND expected_mg IS NOT NULL
        ORDER BY entry DESC LIMIT :limit
        """,
        balance=balance,
        limit=limit,
    )
    return tuple(
        CheckRow(
            entry=r["entry"],
            at=r["at"],
            person=r["person"],
            prep=r["prep"],
            shown=r["shown"],
            error_mg=round(r["mass_mg"] - r["expected_mg"], 7),
            limit_mg=r["limit_mg"],
            within=bool(r["within"]),
            expected_mg=r["expected_mg"],
        )
        for r in found
    )


def measured(record: Record, balance: str) -> tuple[Measured, ...]:
    """Give the repeatabilities measured on a balance, newest first."""
    found = record.query(
        """
        SELECT entry, at, day, person, enclosure, load, weighings, sd_mg, readability_mg, minimum_mg, source
        FROM repeatability WHERE balance = :balance ORDER BY entry DESC
        """,
        balance=balance,
    )
    return tuple(Measured(**{**r, "weighings": tuple(json.loads(r["weighings"]))}) for r in map(dict, found))


def adjustments(record: Record, balance: str) -> tuple[Adjustment, ...]:
    """Give the adjustments of a balance, newest first."""
    found = record.query(
        """
        SELECT entry, at, day, person, how, air_kg_m3, note
        FROM adjustment WHERE balance = :balance ORDER BY entry DESC
        """,
        balance=balance,
    )
    return tuple(Adjustment(**dict(r)) for r in found)


def in_force(record: Record, row: Mapping[str, Any]) -> dict[str, Any]:
    """Give a register row with what was measured since: repeatability in this place, last adjustment.

    What was measured counts where it is no older than what the register dates, and only in the enclosure
    where it was measured: a balance that was moved needs ten weighings more.
    """
    out = dict(row)
    for found in measured(record, str(row["id"])):
        here = not row.get("enclosure") or found.enclosure == row["enclosure"]
        if here and found.day >= str(row.get("repeatability_on", "")):
            out |= {
                "repeatability": f"{figure(found.sd_mg, 8)} mg",
                "repeatability_n": str(len(found.weighings)),
                "repeatability_on": found.day,
                "repeatability_load": found.load,
                "repeatability_entry": found.entry,
            }
            break
    last = next(iter(adjustments(record, str(row["id"]))), None)
    if last is not None and last.day >= str(row.get("adjusted", "")):
        out |= {"adjusted": last.day, "adjusted_entry": last.entry}
        out["adjustment_air"] = f"{figure(last.air_kg_m3, 8)} kg/m3" if last.air_kg_m3 else ""
    return out


def check_standing(record: Record, row: Mapping[str, Any], *, at: datetime | None = None) -> CheckStanding:
    """Say what the last check of a balance is worth at a time, or now; by the later of now and last entry."""
    now = at or record.due_now()
    last = next(iter(checks(record, str(row["id"]), limit=1)), None)
    adjusted = next(iter(adjustments(record, str(row["id"]))), None)
    zone = record.due_now().tzinfo
    return standing(
        row,
        last=LastCheck(
            entry=last.entry,
            at=datetime.fromisoformat(last.at).astimezone(zone),
            within=last.within,
            error_mg=last.error_mg,
        )
        if last is not None
        else None,
        adjusted_at=datetime.fromisoformat(adjusted.at).astimezone(zone)
        if adjusted is not None and last is not None and adjusted.entry > last.entry
        else None,
        now=now.astimezone(zone),
    )


def health(record: Record, id: str) -> Health:
    """Give all that is known of a balance's health.

    Raises
    ------
    NotFound
        There is no such balance.
    """
    row = in_force(record, registers.in_use(record, "balance", id))
    data, settings = balance_data(Balance.from_body(row)), registers.settings(record)
    least = minimum_weight_mg(
        readability_mg=data.readability_mg,
        sd_mg=data.sd_mg or 0.0,
        limit_percent=float(number(value(settings, "minimum_weight_limit"))),
        factor=float(number(value(settings, "minimum_weight_factor"))),
    )
    changes = adjustments(record, id)
    charted = _charted(checks(record, id), changes, row)
    check_mg = quantity(row["check_mass"], "mass").to("mg") if row.get("check_mass") else None
    return Health(
        balance=id,
        name=str(row.get("name", "")),
        row=row,
        standing=check_standing(record, row),
        sd_mg=data.sd_mg,
        sd_from=_sd_from(row),
        minimum_mg=least,
        measured=measured(record, id),
        adjustments=changes,
        charted=charted,
        chart=individuals([c.error_mg for c in charted]) if len(charted) >= FEWEST_CHARTED else None,
        calibration_u_mg=calibration_u_mg(row.get("calibration_u", ()), check_mg) if check_mg else None,
    )


def _charted(
    found: tuple[CheckRow, ...], changes: tuple[Adjustment, ...], row: Mapping[str, Any]
) -> tuple[CheckRow, ...]:
    """Only checks of one state of the balance are compared: since its adjustment, with this check weight."""
    since = changes[0].entry if changes else 0
    now_mg = quantity(row["check_mass"], "mass").to("mg") if row.get("check_mass") else None
    return tuple(c for c in reversed(found) if c.entry > since and c.expected_mg == now_mg)


def _sd_from(row: Mapping[str, Any]) -> str:
    if not row.get("repeatability"):
        return "none: 0.41 of its readability is used"
    n = f"{row['repeatability_n']} weighings" if row.get("repeatability_n") else "the register"
    on = f" of {row['repeatability_on']}" if row.get("repeatability_on") else ""
    load = f", {row['repeatability_load']} on the pan" if row.get("repeatability_load") else ""
    return f"{n}{on}{load}"
