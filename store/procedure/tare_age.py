"""Whether a tare still holds: how old it is, its closure, the pressure since. Pure: the time comes in."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from store.calc.weighing import tare_warnings
from store.model.prep import Act
from store.model.settings import value
from store.model.words import ActKind
from store.procedure import pan
from store.procedure.state import PrepState
from store.units import number

FRESH = "fresh tare "
"""Begins the key of an act that stands in no step: an empty vessel weighed again before its dose."""
CLOSURE = "closure"
"""Key of a step's extra data: how the vessel is closed when it is on the pan."""
PRESSURE = "pressure_pa"
"""Key of a reading's conditions: the pressure of the enclosure as told last."""


def pressure_told(state: PrepState) -> str:
    """Give the pressure of the enclosure that was told last in this prep; empty where none was."""
    told = ""
    for number_, step in enumerate(state.steps):
        for act in step.acts:
            if act.kind == ActKind.TELL and act.what == "pressure":
                told = state.answers.get(f"{number_}/{act.key}") or told
    return told


def conditions(state: PrepState) -> dict[str, str]:
    """Give what a tare is read under, to be compared with later."""
    told = pressure_told(state)
    return {PRESSURE: told} if told else {}


def warnings(state: PrepState, *, now: datetime) -> tuple[str, ...]:
    """Give why the tare should be taken again before more is weighed on it; none: it stands."""
    start, step = pan.base(state), state.current
    if start is None or step is None:
        return ()
    closures = (state.steps[start.step].extra.get(CLOSURE, ""), step.extra.get(CLOSURE, ""))
    settings: Mapping[str, str] = state.basis.get("settings", {})
    return tare_warnings(
        age_s=max(0.0, (now - datetime.fromisoformat(start.at)).total_seconds()),
        lifetime_s=60.0 * float(number(value(settings, "tare_minutes"))),
        same_closure=closures[0] == closures[1] or not all(closures),
        pressure_change_pa=_change_pa(start.conditions, pressure_told(state)),
        pressure_limit_pa=float(number(value(settings, "tare_pressure_pa"))),
    )


def fresh(state: PrepState) -> Act | None:
    """Give the act that weighs an empty vessel of a rack again, where its tare did not outlast the others.

    It comes before the first dose into that vessel. Whether it is asked follows from the last entry, not
    from the clock: nothing is asked of an empty vessel while powder falls into it.
    """
    act = state.act
    if act is None or act.kind != ActKind.DOSE or not state.plan.is_rack:
        return None
    key = state.part_of(state.step, act)
    part = state.part(key)
    if part.doses or not warnings(part, now=datetime.fromisoformat(state.last_at)):
        return None
    vessel = part.plan.vessel
    return Act(
        key=f"{FRESH}{key}",
        kind=ActKind.READ,
        text=f"Place {key}: its tare holds no more. Empty pan at zero, the empty vessel {vessel} on without "
        "its cap, doors closed: weigh it again.",
        what="vessel",
        part=key,
        vessel=vessel,
    )


def _change_pa(then: Mapping[str, Any], now: str) -> float:
    return float(number(now) - number(str(then[PRESSURE]))) if now and then.get(PRESSURE) else 0.0
