"""A scanned label: at the comparison it answers for the plan's container, and says what any other one is."""

from typing import TYPE_CHECKING

from store.actions import steps
from store.errors import NotFound
from store.model.words import LotStatus
from store.procedure.recipes import COMPARE
from store.queries import registers
from store.units import plain

if TYPE_CHECKING:
    from tui.guide.guide import Guide


def scans(guide: "Guide") -> bool:
    """Whether a scanned label answers the open act."""
    act = guide.state.act
    return act is not None and act.key.partition(":")[0] == COMPARE and not guide.asks and not guide.on_page


def scanned(guide: "Guide", text: str) -> None:
    """Take the label of the plan's container, and refuse another one with what it is."""
    plan, label = guide.state.plan, text.strip()
    step, act = guide.state.current, guide.state.act
    wanted = step.extra.get(f"container:{act.key}", "") if step is not None and act is not None else ""
    wanted = wanted or plan.container
    if label == wanted:
        seen, answer = guide.state.last_entry, f"scanned {label}"
        guide.try_with_second(
            lambda second: steps.confirm(
                guide.acting, guide.prep, seen=seen, answer=answer, let_through=second
            )
        )
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
