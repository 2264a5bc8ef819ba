"""Whether a balance may weigh: its last check, when that was, and what happened since. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from typing import Any

from store.errors import BadInput, StoreError
from store.units import figure, number, quantity

HOURS = 24.0
"""How long a check holds where the register says nothing: a working day, *common practice*."""


class CheckState(StrEnum):
    """What the last check of a balance is worth now."""

    NO_WEIGHT = "no check weight"
    STANDS = "stands"
    NEVER = "never checked"
    FAILED = "failed"
    OVERDUE = "overdue"
    ADJUSTED = "adjusted since"


@dataclass(frozen=True, slots=True, kw_only=True)
class LastCheck:
    """The last check with the check weight."""

    entry: int
    at: datetime
    """Local."""
    within: bool
    error_mg: float


@dataclass(frozen=True, slots=True)
class CheckStanding:
    """What the last check is worth, and in words."""

    state: CheckState
    why: str
    last: LastCheck | None = None

    @property
    def weighs(self) -> bool:
        """Whether the balance may weigh by it; without a check weight that is not for this to say."""
        return self.state in (CheckState.STANDS, CheckState.NO_WEIGHT)


def hours(balance: Mapping[str, Any]) -> float:
    """Give the hours that a check of a balance holds."""
    return float(number(str(balance["check_hours"]))) if balance.get("check_hours") else HOURS


def standing(
    balance: Mapping[str, Any], *, last: LastCheck | None, adjusted_at: datetime | None, now: datetime
) -> CheckStanding:
    """Say what the last check of a balance is worth.

    A check that failed, that is older than its hours, or that was done before an adjustment does not stand;
    `adjusted_at` is the time of an adjustment entered after the last check, if there was one.
    """
    id = balance["id"]
    if not balance.get("check_mass"):
        return CheckStanding(CheckState.NO_WEIGHT, f"balance {id} has no check weight in the register")
    if last is None:
        return CheckStanding(CheckState.NEVER, f"balance {id} was never checked")
    when, holds = f"{last.at:%Y-%m-%d %H:%M}", hours(balance)
    if not last.within:
        why = f"balance {id} failed its check of {when}, off by {figure(last.error_mg, 4)} mg"
        return CheckStanding(CheckState.FAILED, why, last)
    if adjusted_at is not None:
        why = f"balance {id} was adjusted on {adjusted_at:%Y-%m-%d %H:%M}, after its check of {when}"
        return CheckStanding(CheckState.ADJUSTED, why, last)
    if now > last.at + timedelta(hours=holds):
        why = f"the check of balance {id} is overdue: that of {when} held for {figure(holds)} h"
        return CheckStanding(CheckState.OVERDUE, why, last)
    return CheckStanding(CheckState.STANDS, f"checked {when}, holds for {figure(holds)} h", last)


# ---- the calibration certificate ----


def by_load(text: str) -> tuple[float, float]:
    """Read one line of a calibration certificate, load and expanded uncertainty, both in mg.

    >>> by_load("20 g: 0.05 mg")
    (20000.0, 0.05)

    Raises
    ------
    BadInput
        It is no load with an uncertainty.
    """
    load, sign, u = text.partition(":")
    try:
        found = quantity(load.strip(), "mass").to("mg"), quantity(u.strip(), "mass").to("mg")
    except StoreError:
        found = (-1.0, 0.0)
    if not sign or found[0] < 0 or not 0 < found[1] <= max(found[0] / 10.0, 1e3):
        raise BadInput(f"{text!r}: write a load, a colon and its uncertainty, such as `20 g: 0.05 mg`.")
    return found


def calibration_u_mg(lines: Sequence[str], load_mg: float) -> float | None:
    """Give the expanded uncertainty of a certificate at a load [mg], straight between the loads it names.

    None outside its loads: a certificate says nothing beyond them.

    >>> calibration_u_mg(["1 g: 0.02 mg", "21 g: 0.06 mg"], 11000.0)
    0.04
    """
    points = sorted(map(by_load, lines))
    for (a, ua), (b, ub) in pairwise(points):
        if a <= load_mg <= b:
            return round(ua + (ub - ua) * (load_mg - a) / (b - a), 9) if b > a else max(ua, ub)
    return next((u for load, u in points if load == load_mg), None)
