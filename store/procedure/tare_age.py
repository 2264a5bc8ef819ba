"""Whether a tare still holds: how old it is, its closure, the pressure since. Pure: the time comes in."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from store.calc.weighing import tare_warnings
from store.model.settings import value
from store.model.words import ActKind
from store.procedure import pan
from store.procedure.state import PrepState
from store.units import number

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


def _change_pa(then: Mapping[str, Any], now: str) -> float:
    return float(number(now) - number(str(then[PRESSURE]))) if now and then.get(PRESSURE) else 0.0
