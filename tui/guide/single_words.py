"""What a plan of one vessel comes to, in words: for the plan screen and the shell."""

from collections.abc import Mapping, Sequence

from store.actions.planning import Explained
from store.calc.solution import BY_VOLUME
from store.procedure import inputs
from store.units import fixed
from tui.guide.texts import TITLES


def comes_to(found: Explained, *, short: bool) -> tuple[str, ...]:
    """Say what stands against the plan, then masses, fill and minimum weight, and what else is to be known.

    What stops it comes first, so that it is in sight however small the screen is.
    """
    aims, basis = found.aims, found.basis
    solvent = basis["substances"][basis["solvent_lot"]["substance"]]["name"]
    solid_mg, minimum_mg = float(aims["solid_mg"]), float(aims["minimum_mg"])
    solvent_mg = float(aims["solvent_mg"])
    above = "above" if solid_mg >= minimum_mg else "BELOW"
    in_all = fixed((solid_mg + solvent_mg) / 1000, 4, "g")
    out = [*stops(found)]
    out += [
        f"weigh  {fixed(solid_mg, 2, 'mg')} of solid, as displayed",
        f"add    {fixed(solvent_mg / 1000, 4, 'g')} of {solvent}: {in_all} in all",
        f"gives  {aims['expected']}{as_form(found)}",
        *(f"       missing for the uncertainty: {what}" for what in aims.get("missing", ())),
        f"fill   {aims['fill_percent']} % of {found.plan.vessel}",
        f"least  {minimum_mg:.2f} mg: the aim is {above} the minimum weight of {found.plan.balance}",
    ]
    if not short:
        names = [TITLES[s.name].lower() for s in found.steps]
        out += [
            f"steps  {len(names)}: {', '.join(names)}",
            *_factors(aims.get("factors", ())),
            f"density of the solvent {aims['solvent_density_g_ml']} g/mL, {aims['solvent_density_source']}",
            *_own_density(found),
        ]
    return (*out, *(f"· {f.what}" for f in found.findings if not f.stop))


def as_form(found: Explained) -> str:
    """Say which formula the strength is of, where it is not the substance as it is called."""
    form = inputs.stated_form(found.plan, found.basis)
    return f" as {form}" if form else ""


def _own_density(found: Explained) -> tuple[str, ...]:
    """The density of the solution, where a concentration or an amount by volume needs it."""
    plan, aims = found.plan, found.aims
    if inputs.target(plan).kind not in BY_VOLUME and inputs.amount(plan).kind != "volume":
        return ()
    return (
        f"density of the solution {aims['solution_density_g_ml']} g/mL, {aims['solution_density_source']}",
    )


def _factors(factors: Sequence[Mapping[str, str]]) -> tuple[str, ...]:
    """From mass of solid to mass of analyte, each factor by its name; the assay alone stands elsewhere."""
    if len(factors) < 2:
        return ()
    return ("content " + " × ".join(f"{f['value']} ({f['name']})" for f in factors),)


def stops(found: Explained) -> tuple[str, ...]:
    """Say what stands against a plan, and whether a second person may let it through."""
    against = [f"✗ {what}" for what in found.stops]
    if not against:
        return ()
    if found.basis["settings"]["second_person"] == "yes":
        return ("STOP, unless a second person lets it through:", *against, "")
    return ("STOP, this site lets nobody let it through:", *against, "")


def limits(found: Explained) -> tuple[str, ...]:
    """Say which generic concentration limits the mixture reaches, as information with its source."""
    return tuple(f"limits {line}" if n == 0 else f"       {line}" for n, line in enumerate(found.limits))
