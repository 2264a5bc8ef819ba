"""What came out, in lines: of one vessel whole, of several one line each."""

from store.procedure import powder
from store.procedure.outcome import deviation_words, is_inside, result, strength
from store.procedure.state import PrepState


def result_lines(state: PrepState) -> tuple[str, ...]:
    """Give the result as lines: strength, deviation, what it rests on, the largest components."""
    if state.plan.parts and state.whole is None:
        return _every_vessel(state)
    found = result(state)
    if powder.stays(state):
        return (strength(found),)
    name = state.solute
    lines = [
        f"{strength(found)}",
        f"target {state.target}, deviation {deviation_words(state, found)}",
        f"as displayed: {name} {state.total_mg(name):.2f} mg, "
        f"solvent {state.total_mg('solvent') / 1000:.4f} g",
    ]
    if found.missing:
        lines.append("incomplete, missing: " + "; ".join(found.missing))
    if found.components:
        lines.append("the uncertainty comes from (shares of its square):")
    lines += [f"  {100 * c.share:5.1f} %  {c.name}" for c in found.components[:4]]
    return tuple(lines)


def _every_vessel(state: PrepState) -> tuple[str, ...]:
    """One line a vessel; one that is out of its tolerance says so."""
    lines = []
    for part in state.each:
        if part.key in state.rejected:
            why = state.rejections.get(part.key)
            lines.append(f"{part.plan.vessel}: REJECTED, it is waste" + (f": {why}" if why else ""))
            continue
        if not part.complete:
            lines.append(f"{part.plan.vessel}: nothing is in it, or not all")
            continue
        found = result(part)
        out = "" if is_inside(part, found) else "  OUT OF TOLERANCE"
        off = f", {deviation_words(part, found)} of {part.plan.target}" if found.value else ""
        lines.append(f"{part.plan.vessel}: {strength(found)}{off}{out}")
    return tuple(lines)
