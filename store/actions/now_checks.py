"""What stands against going on, by the registers as they stand now: a plan may be days old."""

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from store.actions import streams_now
from store.actions.acting import Acting, LetThrough
from store.errors import NeedsSecondPerson, NotFound, Refused
from store.hazards.mixing import STOP, WARN
from store.model.registers import Procedure
from store.model.settings import SETTINGS
from store.procedure import checks, meeting, warned
from store.procedure.checks import Finding
from store.procedure.state import PrepState
from store.queries import gloves, registers, rests_on
from store.record.record import Record


def stop(acting: Acting, state: PrepState, found: Sequence[Finding], let_through: LetThrough | None) -> None:
    """Refuse what stands against an act, unless it was let through, now or before in this prep.

    Raises
    ------
    NeedsSecondPerson
        With everything that is to be let through.
    Refused
        The site lets nobody let it through.
    """
    before = {what for decision in state.let_through for what in decision["what"]}
    left = [f for f in found if f.stop and f.what not in before]
    never = SETTINGS["never_let_through"].words_of(registers.settings(acting.record)["never_let_through"])
    if final := [f.what for f in left if f.group in never]:
        raise Refused(f"{'; '.join(final)}: this site lets nobody let it through.")
    if left and let_through is None:
        raise NeedsSecondPerson(tuple(f.what for f in left), demanded=all(f.group == "demand" for f in left))


def person(acting: Acting, state: PrepState) -> tuple[Finding, ...]:
    """Give what stands against this person at the open step."""
    today = acting.record.due_now().date()
    who = registers.person(acting.record, acting.person)
    # A rehearsal is how a step is trained for: it does not ask for the training in it.
    step = state.current.name if state.current is not None and not state.plan.rehearsal else ""
    return tuple(checks.of_person(who, state.basis, today, step=step))


def material(acting: Acting, state: PrepState) -> tuple[Finding, ...]:
    """Give what stands against lots, containers and enclosure of the plan, as they are now."""
    record, basis = acting.record, state.basis
    gone: dict[str, Finding] = {}
    against: dict[str, list[str]] = {}
    now = _as_now(record, basis, gone, against)
    if "parts" in basis:  # each vessel rests on rows of its own
        now["parts"] = {key: _as_now(record, rows, gone, against) for key, rows in basis["parts"].items()}
    return (*gone.values(), *checks.of_material(state.plan, now, record.due_now().date()))


def _as_now(
    record: Record, rows: Mapping[str, Any], gone: dict[str, Finding], against: dict[str, list[str]]
) -> dict[str, Any]:
    """Give rows with what the registers say now; each row is asked about once for all vessels of a plan."""
    now = dict(rows)
    for key, register in (("lot", "lot"), ("solvent_lot", "lot"), ("container", "container"),
                          ("solvent_container", "container"), ("enclosure", "enclosure")):  # fmt: skip
        found = registers.found(record, register, str(rows.get(key, {}).get("id", "")))
        if found is None:
            continue  # made in this very prep, or a story without registers: the plan's own rows count
        if found.retired:
            gone[f"{register} {found.id}"] = Finding(f"{register} {found.id} was retired", group="lot")
        now[key] = {**rows[key], **found.row}
        if register == "container":
            if found.id not in against:
                against[found.id] = list(rests_on.of(record, found.id))
            now[key]["rests_on"] = against[found.id]
    return now


def met(acting: Acting, state: PrepState, liquid: str = "") -> tuple[Finding, ...]:
    """Give what the open step brings together that must not meet, by the registers as they are now.

    A warning that was not found at the plan, and so was not acknowledged, stops as well.
    """
    record, basis = acting.record, as_now(acting, state)
    meetings = meeting.cleaned(state, basis, liquid) if liquid else meeting.at_step(state, basis)
    procedures = [Procedure.from_body(r.row) for r in registers.rows(record, "procedure")]
    today = record.due_now().date()
    read = f"{state.step}/{warned.MET}" in state.answers
    found = (meeting.said(m, procedures, person=acting.person, today=today) for m in meetings)
    return tuple(
        Finding(s.text, group="mixing") for s in found if s.level == STOP or (s.level == WARN and not read)
    )


def as_now(acting: Acting, state: PrepState) -> dict[str, Any]:
    """Give the basis of a plan with its lots and substances as the registers have them now."""
    now, record = dict(state.basis), acting.record

    def of(register: str, row: Mapping[str, Any]) -> dict[str, Any]:
        try:
            return {**row, **registers.body(record, register, str(row["id"]))}
        except NotFound:
            return dict(row)  # made in this very prep, or a story without registers: the plan's rows count

    now["substances"] = {id: of("substance", row) for id, row in now["substances"].items()}
    now["lot"], now["solvent_lot"] = of("lot", now["lot"]), of("lot", now["solvent_lot"])
    now["streams"] = streams_now.used(record, now)
    if "parts" in now:
        now["parts"] = {
            key: {**rows, **{k: of("lot", rows[k]) for k in ("lot", "solvent_lot") if k in rows}}
            for key, rows in now["parts"].items()
        }
    return now


def worn(acting: Acting, state: PrepState) -> tuple[Finding, ...]:
    """Give the gloves that a liquid of the open step may be through already."""
    return tuple(
        Finding(f"gloves {c.glove}: {c.solvent} is through after {c.minutes:g} min: change them, press +",
                group="person")
        for c in gloves.clocks(acting.record, state)
        if c.left_s <= 0
    )  # fmt: skip


def warming(acting: Acting, state: PrepState) -> tuple[Finding, ...]:
    """Give the wait of the open act, if it is not over."""
    left = wait_left_s(state, acting.record.now())
    if left <= 0:
        return ()
    return (Finding(f"{math.ceil(left / 60)} min are still to wait until room temperature", group="lot"),)


def wait_left_s(state: PrepState, now: datetime) -> float:
    """Give the seconds that the open act still has to wait; 0 where it waits for nothing."""
    step, act = state.current, state.act
    if step is None or act is None or f"wait:{act.key}" not in step.extra:
        return 0.0
    began = state.answered_at.get(f"{state.step}/{step.extra[f'from:{act.key}']}")
    if not began:
        return 0.0
    waited_s = (now - datetime.fromisoformat(began)).total_seconds()
    return max(0.0, 60.0 * float(step.extra[f"wait:{act.key}"]) - waited_s)
