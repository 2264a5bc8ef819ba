"""A scanned label: at the comparison it answers for the plan's container; anywhere it is told what it is."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from store.actions import steps
from store.errors import NotFound
from store.model.words import LotStatus
from store.procedure.recipes import COMPARE
from store.queries import registers
from store.units import plain

if TYPE_CHECKING:
    from tui.guide.guide import Guide


def scans(guide: "Guide") -> bool:
    """Whether a scanned label says something here."""
    return guide.state.act is not None and not guide.asks and not guide.on_page


def is_label(guide: "Guide", text: str) -> bool:
    """Whether a line typed where a reading is asked for is a label of the registers instead."""
    label = text.strip()
    return any(c.isalpha() for c in label) and any(_row(guide, kind, label) for kind in _KINDS)


def scanned(guide: "Guide", text: str) -> None:
    """Take the label of the plan's container, and refuse another one with what it is."""
    plan, label = guide.state.plan, text.strip()
    step, act = guide.state.current, guide.state.act
    if act is None or act.key.partition(":")[0] != COMPARE:
        _beside(guide, label)
        return
    wanted = step.extra.get(f"container:{act.key}", "") if step is not None else ""
    wanted = wanted or plan.container
    if label == wanted:
        seen, answer = guide.state.last_entry, f"scanned {label}"
        guide.try_with_second(
            lambda second: steps.confirm(
                guide.acting, guide.prep, seen=seen, answer=answer, let_through=second
            )
        )
        return
    if _row(guide, "lot", label) or _row(guide, "vessel", label):
        guide.refuse(f"{_what(guide, label)}: scan the label of container {wanted}.")
        return
    try:
        what = _named(guide, label)
    except NotFound:
        guide.refuse(f"Stop: {plain(label)} is no container of the register. The plan names {wanted}.")
        return
    if label == plan.solvent_container:
        guide.refuse(f"{what}: the solvent of this plan. Scan container {wanted}.")
    else:
        guide.refuse(f"Wrong container: {what}. The plan names {wanted}. Put it back unopened.")


_KINDS = ("container", "vessel", "lot")


def _row(guide: "Guide", kind: str, id: str) -> Mapping[str, Any] | None:
    try:
        return registers.body(guide.acting.record, kind, id)
    except NotFound:
        return None


def _what(guide: "Guide", label: str) -> str:
    """Say what a label of the registers is."""
    if _row(guide, "container", label):
        return _named(guide, label)
    if vessel := _row(guide, "vessel", label):
        return f"{label} is a vessel, {vessel['name']}"
    lot = _row(guide, "lot", label) or {}
    name = registers.body(guide.acting.record, "substance", str(lot["substance"])).get("name", "")
    return f"{label} is a lot of {name}"


def _beside(guide: "Guide", label: str) -> None:
    """Say whether a label belongs to the open step; it does no act, which the step's own key does."""
    step = guide.state.current
    if step is None or not any(_row(guide, kind, label) for kind in _KINDS):
        guide.refuse(f"{plain(label)} is in no register: no container, no vessel, no lot.")
        return
    here = [id for id in (step.container, step.vessel) if id]
    lot = _row(guide, "container", step.container) if step.container else None
    if label in here:
        guide.said = f"Right: {_what(guide, label)}, as this step names it."
    elif lot is not None and lot["lot"] == label:
        guide.said = f"Right lot: {_what(guide, label)}; the container of this step is {step.container}."
    else:
        names = f"This step names {' and '.join(here)}" if here else "This step names no label"
        guide.refuse(f"Wrong label: {_what(guide, label)}. {names}. Put it back unopened.")


def _named(guide: "Guide", container: str) -> str:
    record = guide.acting.record
    row = registers.row(record, "container", container)
    lot = registers.body(record, "lot", str(row.row["lot"]))
    name = registers.body(record, "substance", str(lot["substance"])).get("name", lot["substance"])
    status = lot.get("status", LotStatus.RELEASED)
    parts = [f"{container} is {name}", f"lot {row.row['lot']}"]
    parts += [str(status)] if status != LotStatus.RELEASED else []
    parts += ["retired"] if row.retired else []
    return ", ".join(parts)
