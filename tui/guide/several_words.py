"""What a plan of several vessels comes to, in words: for the plan screen and the shell."""

from collections.abc import Iterator

from store.actions.planning import Explained
from store.procedure import parts
from store.units import fixed, percent
from tui.guide.texts import TITLES


def comes_to(found: Explained) -> tuple[str, ...]:
    """Say what stands against the plan, then each vessel, the openings and what else is to be known."""
    return (
        *(f"✗ {what}" for what in found.stops),
        *_vessels(found),
        *_openings(found),
        *(f"· {f.what}" for f in found.findings if not f.stop),
    )


def _vessels(found: Explained) -> Iterator[str]:
    for own, _, aims in parts.views(found.plan, found.basis, found.aims):
        part = own.parts[0]
        solvent = f"{fixed(float(aims['solvent_mg']) / 1000.0, 4, 'g')} of solvent"
        fill = f"{aims['fill_percent']} % full"
        if part.is_blank:
            yield f"{part.vessel}  {part.name or 'blank'}: {solvent}, {fill}"
            continue
        source = found.plan.part(part.source).vessel if part.source else part.container
        spread = percent(2.0 * float(aims["u_rel"]))
        taken = f"{float(aims['aliquot_mg']):.2f} mg of {source}"
        yield f"{part.vessel}  {part.target} ± {spread} (k = 2): {taken}, {solvent}, {fill}"


def _openings(found: Explained) -> Iterator[str]:
    opened = [s for s in found.steps if any(a.what == "container" for a in s.acts)]
    names = [TITLES[s.name].lower() for s in found.steps]
    yield f"least  {float(found.aims['minimum_mg']):.2f} mg on {found.plan.balance}"
    times = "once" if len(opened) == 1 else f"{len(opened)} times"
    yield f"opened {times} to take from, in {len(names)} steps: {', '.join(names)}"
