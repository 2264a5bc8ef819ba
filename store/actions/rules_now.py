"""What local rules demand before something is opened or handled, held against what the record knows."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from store.actions import cautions
from store.actions.acting import Acting
from store.errors import Refused
from store.model.prep import Act, Plan, Step
from store.model.registers import LocalRule
from store.model.words import ActKind
from store.procedure import told
from store.procedure.checks import Finding
from store.procedure.state import PrepState
from store.queries import enclosed, registers, today
from store.record.record import Record
from store.units import clock, figure, number, quantity

DEMAND, RULE = "demand", "rule"
"""Groups of findings: a demand is met by the second person, no site excepts it; a limit is let through."""
BRING_IN = "transfer in"
GUARDED = (ActKind.OPEN, ActKind.HANDLE)
NOT_DONE = "not done: I stop here"


def of_step(record: Record, state: PrepState) -> tuple[LocalRule, ...]:
    """Give the local rules of the open step, as they are in force now."""
    step = state.current
    if step is None:
        return ()
    return registers.rules_for(
        record, step=step.name, substances=step.substances, families=cautions.families_of(state)
    )


def untold(record: Record, state: PrepState) -> tuple[Act, ...]:
    """Give what the checklists of the rules still ask before the open act, each as an act of its own."""
    if state.act is None or state.act.kind not in GUARDED:
        return ()
    out = []
    for rule in of_step(record, state):
        for n, text in enumerate(rule.checklist):
            asked, key = told.item(text), f"{told.KEY}{rule.id}:{rule.since}:{n}"
            if (state.step, key) in state.done:
                continue
            words = f"Local rule {rule.id} (since {rule.since}) asks: {asked.what}"
            if asked.unit:
                out.append(
                    Act(key=key, kind=ActKind.TELL, text=f"{words}.", what=asked.what, unit=asked.unit)
                )
            else:
                choices = asked.choices or ("done", NOT_DONE)
                out.append(
                    Act(key=key, kind=ActKind.ANSWER, text=f"{words}?", what=asked.what, choices=choices)
                )
    return tuple(out)


def answer_of(act: Act, text: str) -> str:
    """Give the answer as the record keeps it, with what was asked.

    Raises
    ------
    BadInput
        It is no number.
    Refused
        It was not done: the act waits.
    """
    if act.kind == ActKind.TELL:
        number(text)
        return f"{act.what}: {text.strip()} {act.unit}"
    if text == NOT_DONE:
        raise Refused(f"A local rule asks for it: {act.what}. Do it first, or give the prep up (-).")
    return f"{act.what}: {text}"


def against(acting: Acting, state: PrepState) -> tuple[Finding, ...]:
    """Give what the rules hold against the open act, which opens or handles something.

    Raises
    ------
    Refused
        The checklist of a rule was not told.
    """
    record, step = acting.record, state.current
    if left := untold(record, state):
        raise Refused(f"{left[0].text} Tell it first.")
    if step is None:
        return ()
    found: list[Finding] = []
    for rule in of_step(record, state):
        if rule.second_person:
            again = f", again after entry {state.ack_floor}" if state.ack_floor else ""
            what = (
                f"local rule {rule.id} (since {rule.since}) asks for a second person at step {state.step + 1}"
            )
            found.append(Finding(f"{what}{again}: {rule.text}", group=DEMAND))
        if rule.mass_limit and state.act is not None and state.act.what == BRING_IN:
            found += mass(
                record, rule, enclosure=state.plan.enclosure, brought=state.plan.containers,
                substances=step.substances,
            )  # fmt: skip
        if rule.open_minutes and state.act is not None and state.act.kind == ActKind.OPEN:
            used_s = open_s(record, rule, acting.person)
            if used_s >= 60.0 * float(number(rule.open_minutes)):
                found.append(Finding(
                    f"local rule {rule.id}: {acting.person} had it open {clock(used_s)} min today, "
                    f"the limit is {rule.open_minutes} min", group=RULE,
                ))  # fmt: skip
    return tuple(found)


def of_plan(
    record: Record, plan: Plan, basis: Mapping[str, Any], steps: Sequence[Step]
) -> tuple[Finding, ...]:
    """Give what local rules will demand in a plan, and the masses that already stand against it."""
    found: dict[Finding, None] = {}
    for step in steps:
        families = tuple(dict.fromkeys(f for s in step.substances for f in basis["hazards"][s]["families"]))
        gas = ("INERT_GAS",) if basis["enclosure"].get("gas", "air") != "air" else ()
        rules = registers.rules_for(
            record, step=step.name, substances=step.substances, families=(*families, *gas)
        )
        for rule in rules:
            if rule.demands:
                what = f"local rule {rule.id} demands {'; '.join(rule.demands)}"
                found[Finding(what, stop=False, group=RULE)] = None
            if rule.mass_limit and any(a.what == BRING_IN for a in step.acts):
                found |= dict.fromkeys(mass(
                    record, rule, enclosure=plan.enclosure, brought=plan.containers,
                    substances=step.substances,
                ))  # fmt: skip
    return tuple(found)


def mass(
    record: Record, rule: LocalRule, *, enclosure: str, brought: Sequence[str], substances: Sequence[str]
) -> Iterator[Finding]:
    """Give each substance of a rule of which there would be more in an enclosure than it allows.

    Counted is the whole content of each container that a prep brought in and did not bring out, by the
    record; a solution counts whole. What the record does not know stands against it too.
    """
    limit_mg = quantity(rule.mass_limit, "mass").to("mg")
    for substance in rule.substances or tuple(substances):
        there = enclosed.containers(record, enclosure, substance=substance, brought=tuple(brought))
        if not there:
            continue
        unknown = [id for id, mg in there.items() if mg is None]
        total_mg = sum(mg or 0.0 for mg in there.values())
        if unknown:
            yield Finding(
                f"local rule {rule.id} allows {rule.mass_limit} of {substance} in {enclosure}: the record "
                f"does not know what container {', '.join(unknown)} holds", group=RULE,
            )  # fmt: skip
        elif total_mg > limit_mg * (1 + 1e-9):
            yield Finding(
                f"local rule {rule.id} allows {rule.mass_limit} of {substance} in {enclosure}: it would be "
                f"{figure(total_mg / 1000, 4)} g ({', '.join(there)})", group=RULE,
            )  # fmt: skip


def open_s(record: Record, rule: LocalRule, person: str) -> float:
    """Give how long a person had open today what a rule is for [s]."""
    return today.open_s_of(record, person, substances=rule.substances, families=rule.families)


def left_s(record: Record, state: PrepState, person: str) -> float | None:
    """Give the least time [s] that rules of the open step leave a person today; None: none limits."""
    left = [
        60.0 * float(number(rule.open_minutes)) - open_s(record, rule, person)
        for rule in of_step(record, state)
        if rule.open_minutes
    ]
    return min(left, default=None)
