"""What stands in a step of what meets there: a warning is acknowledged first, a reminder is a line."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from store.hazards.mixing import NOT_CHECKED, STOP, WARN
from store.model.prep import Act, Step
from store.model.words import ActKind, StepName
from store.procedure.meeting import CLEANING, VESSEL, WASTE, Said, no_rule

MET = "met"
"""Key of the act that acknowledges what was found; its first choice goes on."""
GO_ON = ("I have read it and go on so", "I stop here")
LINE = "line:"
"""In the extra of a step, with the key of an act: a line that stands below that act."""


def kept(of: Sequence[Said]) -> list[dict[str, str]]:
    """Give what was found as the basis of a plan keeps it."""
    return [{"place": s.place, "level": s.level, "text": s.text, "what": s.what} for s in of]


def into(steps: tuple[Step, ...], basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Put what was found into the steps where things meet."""
    found: Sequence[Mapping[str, str]] = basis.get("mixing", ())
    if not found:
        return steps
    second = max(
        (n for n, s in enumerate(steps) if s.name in (StepName.WEIGH_SOLID, StepName.ADD_SOLVENT)), default=-1
    )
    out = list(steps)
    for number, step in enumerate(steps):
        if number == second:
            out[number] = _with(step, [f for f in found if f["place"] == VESSEL], "open")
        elif step.name == StepName.DECONTAMINATE:
            out[number] = _with(step, [f for f in found if f["place"] == CLEANING], "liquid")
        elif step.name == StepName.WASTE:
            out[number] = _with(step, [f for f in found if f["place"] == WASTE], "waste")
    return tuple(out)


def _with(step: Step, found: Sequence[Mapping[str, str]], before: str) -> Step:
    """Ask for an acknowledgement before an act where anything warns; the rest are lines below it."""
    grave = [f["text"] for f in found if f["level"] in (WARN, STOP)]
    lines = [f["text"] for f in found if f["level"] not in (WARN, STOP, NOT_CHECKED)]
    silent = [f["what"] for f in found if f["level"] == NOT_CHECKED]
    lines += [no_rule(silent)] if silent else []
    acts, extra = list(step.acts), dict(step.extra)
    at = next((n for n, a in enumerate(acts) if a.key == before), None)
    if at is None:
        return step
    if lines:
        extra[f"{LINE}{before}"] = " ".join(_sentence(line) for line in lines)
    if grave:
        text = " ".join(_sentence(line) for line in grave)
        acts.insert(at, Act(key=MET, kind=ActKind.ANSWER, text=text, what="mixing", choices=GO_ON))
    return replace(step, acts=tuple(acts), extra=extra)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
