"""Portions into a rack: tare all and dose all in one opening, or one vessel after the other.

A pass over the rack is one step, so its cautions are read once and one opening is counted; one by one every
vessel has steps, an opening and a note of its own.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from store.model.prep import Act, Part, Plan, Step
from store.model.settings import value
from store.model.words import ActKind, StepName
from store.procedure import parts
from store.procedure.recipes.acts import OFF_THE_PAN, UNCAPPED
from store.procedure.recipes.solution import (
    add_solvent,
    after_mixing,
    check_balance,
    tare,
    transfer_in,
    weigh_solid,
)
from store.units import number

ALL_AT_ONCE = "portions, one opening"
ONE_BY_ONE = "portions, one by one"
MOST_PLACES = 60


def dissolves(plan: Plan) -> bool:
    """Whether every portion gets solvent to the target; else it stays powder."""
    return any(part.solvent_container for part in plan.parts)


def tare_step(steps: tuple[Step, ...]) -> int | None:
    """Give the place of the step that tares the whole rack; None where each vessel has its own."""
    return next((n for n, s in enumerate(steps) if s.name == StepName.TARE and not s.part), None)


def all_at_once(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Tare every vessel, then dose every vessel in one opening; then solvent to each, where it is wanted."""
    made = [_in(plan, basis), check_balance(plan, basis), _tare_all(plan, basis), _dose_all(plan, basis)]
    if dissolves(plan):
        made.append(_solvent_all(plan, basis))
    return (*made, *_after(plan, basis))


def one_by_one(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Tare and dose each vessel, the container opened and closed for it alone."""
    made = [_in(plan, basis), check_balance(plan, basis)]
    for part in plan.parts:
        own, rows, _ = parts.view(plan, basis, {}, part.key)
        for make in (tare, weigh_solid):
            step = make(own, rows)
            made.append(replace(step, part=part.key))
    if dissolves(plan):
        made.append(_solvent_all(plan, basis))
    return (*made, *_after(plan, basis))


def _in(plan: Plan, basis: Mapping[str, Any]) -> Step:
    """As for one vessel, with the whole rack; without solvent nothing of it comes in."""
    step, first, last = transfer_in(plan, basis), plan.parts[0].vessel, plan.parts[-1].vessel
    solvent = f" and solvent container {plan.solvent_container}" if dissolves(plan) else ""
    text = (
        f"Bring in container {plan.container} (closed), the rack with its {len(plan.parts)} vessels, "
        f"{first} to {last}, each with its number{solvent}."
    )
    acts = [
        replace(a, text=text) if a.key == "in" else a
        for a in step.acts
        if a.key != "prelabel" and (dissolves(plan) or not a.key.endswith("_solvent"))
    ]
    return replace(step, acts=tuple(acts), vessel="")


def _over(step: Step, doses: Sequence[Act], *, close: str, after: Act) -> Step:
    """Make a step of one vessel a pass: up to its opening once, then every vessel, then closing."""
    keys = [a.key for a in step.acts]
    before = step.acts[: keys.index("open") + 1]
    end = {a.key: a for a in step.acts}
    acts = (*before, *doses, replace(end["close"], text=close), after, end["note"])
    return replace(step, acts=acts, vessel="", extra=UNCAPPED)


def _each(part: Part, key: str, kind: ActKind, text: str, what: str) -> Act:
    return Act(key=f"{key} {part.key}", kind=kind, text=text, what=what, part=part.key, vessel=part.vessel)


def _tare_all(plan: Plan, basis: Mapping[str, Any]) -> Step:
    acts = [
        _each(
            part,
            "vessel",
            ActKind.READ,
            f"Place {part.key}: empty pan at zero, put the empty vessel {part.vessel} on without its cap, "
            "doors closed.",
            "vessel",
        )
        for part in plan.parts
    ]
    return Step(name=StepName.TARE, acts=tuple(acts), extra=UNCAPPED)


def _dose_all(plan: Plan, basis: Mapping[str, Any]) -> Step:
    name = basis["substances"][basis["lot"]["substance"]]["name"]
    doses = [
        _each(
            part,
            "dose",
            ActKind.DOSE,
            f"Place {part.key}: empty pan at zero, vessel {part.vessel} on, dose {name}; cap it after.",
            "solid",
        )
        for part in plan.parts
    ]
    back = _each(
        plan.parts[-1],
        "return",
        ActKind.READ,
        "Pan empty, doors closed.",
        "return",
    )
    close = f"Close container {plan.container}; every vessel is capped."
    acts = tuple(_with_drift(plan, basis, doses))
    return _over(weigh_solid(plan, basis), acts, close=close, after=back)


def _with_drift(plan: Plan, basis: Mapping[str, Any], doses: Sequence[Act]) -> Iterator[Act]:
    """Look at the empty pan after every few places: drift, or powder on it, is found before more rests on it.

    How often is the site's to say; to look within a long series as well as at its end is common practice.
    """
    every = int(number(value(basis.get("settings", {}), "zero_every")))
    for n, (part, dose) in enumerate(zip(plan.parts, doses, strict=True), start=1):
        yield dose
        if every and n % every == 0 and n < len(doses):
            text = f"Vessel {part.vessel} capped and off, pan empty, doors closed."
            yield _each(part, "return", ActKind.READ, text, "return")


def _solvent_all(plan: Plan, basis: Mapping[str, Any]) -> Step:
    name = basis["substances"][basis["solvent_lot"]["substance"]]["name"]
    zero = ", and zero the display" if basis["balance"].get("shows", "net") == "net" else ""
    each = []
    for part in plan.parts:
        on = f"Place {part.key}: put vessel {part.vessel} on the pan without its cap, doors closed{zero}."
        add = f"Place {part.key}: add {name} to vessel {part.vessel}; cap it after."
        each.append(_each(part, "zeroed", ActKind.READ, on, "tared"))
        each.append(_each(part, "add", ActKind.DOSE, add, "solvent"))
    back = _each(plan.parts[-1], "return", ActKind.READ, OFF_THE_PAN, "return")
    step = add_solvent(plan, basis)
    opening = f"Open solvent container {plan.solvent_container}; uncap one vessel at a time."
    step = replace(step, acts=tuple(replace(a, text=opening) if a.key == "open" else a for a in step.acts))
    return _over(step, each, close="Cap the last vessel; close the solvent container.", after=back)


_ONLY_SOLUTIONS = (StepName.DISSOLVE,)


def _after(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Dissolve where there is solvent, label, bring out, clean, waste: as one vessel, for the whole rack."""
    wet = dissolves(plan)
    substances = tuple(dict.fromkeys(basis[key]["substance"] for key in ("lot", "solvent_lot")))
    out = []
    for step in after_mixing(plan, basis):
        if step.name in _ONLY_SOLUTIONS and not wet:
            continue
        acts = step.acts
        if step.name == StepName.SEAL_LABEL:
            acts = tuple(
                _each(p, "label", ActKind.CONFIRM, f"Place {p.key}: seal vessel {p.vessel}, label it.",
                      "label")
                for p in plan.parts
            )  # fmt: skip
        elif step.name == StepName.TRANSFER_OUT:
            text = (
                f"Wipe the rack, its {len(plan.parts)} vessels and container {plan.container}, bag them, "
                "bring them out."
            )
            acts = tuple(replace(a, text=text) if a.key == "out" else a for a in acts)
        elif step.name == StepName.DISSOLVE:
            text = "Swirl every vessel, closed. Hold each against the light: how do they look?"
            acts = tuple(replace(a, text=text) if a.key == "look" else a for a in acts)
        out.append(replace(step, acts=acts, vessel="", substances=substances))
    return tuple(out)
