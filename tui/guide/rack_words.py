"""What a rack of portions comes to, in words: for the screen and for the shell."""

from store.actions.planning import Explained
from store.procedure.recipes import rack
from store.units import fixed
from tui.guide import single_words


def comes_to(found: Explained) -> tuple[str, ...]:
    """Say what stands against a rack, then its portions, how often it is opened, and what else there is."""
    aims, plan, n = found.aims, found.plan, len(found.plan.parts)
    out = [*single_words.stops(found)]
    each = float(aims["solid_mg"])
    out += [
        f"{n} portions, {plan.parts[0].vessel} to {plan.parts[-1].vessel}",
        f"weigh  {fixed(each, 2, 'mg')} into each, {fixed(float(aims['all_mg']), 2, 'mg')} in all",
    ]
    if rack.dissolves(plan):
        solvent = found.basis["substances"][found.basis["solvent_lot"]["substance"]]["name"]
        out += [
            f"add    {fixed(float(aims['solvent_mg']) / 1000, 4, 'g')} of {solvent} to each",
            f"gives  {aims['expected']}",
        ]
    opened = "once" if plan.recipe == rack.ALL_AT_ONCE else f"{n} times"
    minimum = float(aims["minimum_mg"])
    above = "above" if each >= minimum else "BELOW"
    out += [
        f"open   the container {opened}",
        f"least  {minimum:.2f} mg: a portion is {above} the minimum weight of {plan.balance}",
    ]
    return (*out, *(f"· {f.what}" for f in found.findings if not f.stop))
