"""From a solid and a solvent to a concentration, and back: what to weigh, what to add, what came out.

All masses are true masses; `buoyancy` turns them into readings. Of an impure solid everything stands in the
denominator of a mass fraction, which is the whole solution. The denominator of a molality is the solvent
alone: impurities are no solvent, but crystal water and moisture of the solid are, where the solvent is water.
"""

from dataclasses import dataclass

from store.calc.guard import ABSURD_G, fraction, not_negative, positive
from store.errors import OutOfRange
from store.units import UNITS, convert, figure, kind_of

SOURCE = "IUPAC Green Book (mass fraction, molality, mass and amount concentration)"
KINDS = ("mass_fraction", "molality", "mass_concentration", "amount_concentration")
BY_VOLUME = ("mass_concentration", "amount_concentration")
BY_AMOUNT = ("molality", "amount_concentration")
BASE_UNIT = {
    "mass_fraction": "g/g",
    "molality": "mol/kg",
    "mass_concentration": "g/L",
    "amount_concentration": "mol/L",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """A concentration in the base unit of its kind: g/g, mol/kg, g/L or mol/L.

    Attributes
    ----------
    value, kind
        The concentration and its kind, a key of `units.UNITS`.
    molar_mass_g_mol
        Of the analyte; needed by molality and amount concentration.
    density_g_ml
        Of the solution; needed by the two concentrations by volume.
    """

    value: float
    kind: str
    molar_mass_g_mol: float | None = None
    density_g_ml: float | None = None

    @property
    def _named(self) -> str:
        words = self.kind.replace("_", " ")
        return f"An {words}" if words[0] in "aeiou" else f"A {words}"

    @property
    def molar_mass(self) -> float:
        """Molar mass of the analyte [g/mol], or a refusal that asks for it."""
        if self.molar_mass_g_mol is None:
            raise OutOfRange(f"{self._named} needs a molar mass: give it, or a formula.")
        return positive(self.molar_mass_g_mol, "molar mass", "g/mol", most=1e7)

    @property
    def density(self) -> float:
        """Density of the solution [g/mL], or a refusal that asks for it."""
        if self.density_g_ml is None:
            raise OutOfRange(f"{self._named} needs the density of the solution: give it.")
        return positive(self.density_g_ml, "density of the solution", "g/mL", most=25.0)


def target(
    value: float, unit: str, *, molar_mass_g_mol: float | None = None, density_g_ml: float | None = None
) -> Target:
    """A wanted concentration from its number and listed unit.

    >>> target(1.0, "mg/g").value
    0.001
    """
    kind = kind_of(unit)
    if kind not in KINDS:
        units = ", ".join(u for k in KINDS for u in UNITS[k][:3])
        raise OutOfRange(f"{unit} is no unit of concentration: use one of {units}.")
    base = convert(positive(value, "concentration", unit), unit, BASE_UNIT[kind])
    if kind == "mass_fraction" and base > 1:
        raise OutOfRange(f"{figure(value)} {unit} is more than the whole solution: it is at most 1 g/g.")
    return Target(value=base, kind=kind, molar_mass_g_mol=molar_mass_g_mol, density_g_ml=density_g_ml)


def mass_fraction(goal: Target) -> float:
    """Mass fraction of analyte [g/g] that a concentration amounts to, the rest being solvent.

    w = b·M/(1000 + b·M); w = γ/(1000·ρ); w = c·M/(1000·ρ)

    >>> round(mass_fraction(target(1.8321, "mol/L", molar_mass_g_mol=58.44, density_g_ml=1.0707)), 5)
    0.1
    """
    if goal.kind == "mass_fraction":
        w = goal.value
    elif goal.kind == "molality":
        grams = goal.value * goal.molar_mass
        w = grams / (1000.0 + grams)
    elif goal.kind == "mass_concentration":
        w = goal.value / (1000.0 * goal.density)
    else:
        w = goal.value * goal.molar_mass / (1000.0 * goal.density)
    if w > 1:
        raise OutOfRange(
            "The concentration is more than the whole solution: check it, its unit and the density."
        )
    return w


def per_volume(goal: Target, unit: str) -> float:
    """A concentration by volume in a unit of the other kind by volume; no density plays a part.

    γ = c·M; c = γ/M

    >>> round(per_volume(target(5.0, "mmol/L", molar_mass_g_mol=294.18), "mg/mL"), 4)
    1.4709
    """
    kind = kind_of(unit)
    if goal.kind not in BY_VOLUME or kind not in BY_VOLUME:
        raise OutOfRange(f"{unit} is no concentration by volume, or {goal.kind.replace('_', ' ')} is none.")
    by_mass = goal.value * goal.molar_mass if goal.kind in BY_AMOUNT else goal.value
    return convert(by_mass / goal.molar_mass if kind in BY_AMOUNT else by_mass, BASE_UNIT[kind], unit)


def from_mass_fraction(
    w: float, unit: str, *, molar_mass_g_mol: float | None = None, density_g_ml: float | None = None
) -> float:
    """Concentration in a listed unit from a mass fraction of analyte, the rest being solvent.

    b = 1000·w/(M·(1 − w)); γ = 1000·w·ρ; c = 1000·w·ρ/M

    >>> round(from_mass_fraction(0.1, "mol/kg", molar_mass_g_mol=58.44), 4)
    1.9013
    """
    kind = kind_of(unit)
    fraction(w, "mass fraction")
    t = Target(value=w, kind=kind, molar_mass_g_mol=molar_mass_g_mol, density_g_ml=density_g_ml)
    if kind == "mass_fraction":
        base = w
    elif kind == "molality":
        if w >= 1:
            raise OutOfRange("There is no solvent left: a molality needs a mass fraction below 1.")
        base = 1000.0 * w / (t.molar_mass * (1.0 - w))
    elif kind == "mass_concentration":
        base = 1000.0 * w * t.density
    elif kind == "amount_concentration":
        base = 1000.0 * w * t.density / t.molar_mass
    else:
        raise OutOfRange(f"{unit} is no unit of concentration.")
    return convert(base, BASE_UNIT[kind], unit)


def achieved(
    *, solid_g: float, content: float, solvent_g: float, goal: Target, solid_solvent_share: float = 0.0
) -> float:
    """Concentration that came out, in the base unit of the target's kind.

    Parameters
    ----------
    solid_g, solvent_g
        True masses [g] in the vessel.
    content
        Mass of analyte per mass of solid as weighed, P [g/g].
    goal
        Tells the kind, molar mass and density; its value is not used.
    solid_solvent_share
        Mass fraction of the solid that counts as solvent in a molality: crystal water and moisture, in water.

    Examples
    --------
    10.00 mg of assay 98.5 % in 9.990 g of solvent:

    >>> t = target(1.0, "mg/g")
    >>> round(achieved(solid_g=0.010, content=0.985, solvent_g=9.990, goal=t), 9)
    0.000985
    """
    positive(solid_g, "mass of solid", "g", most=ABSURD_G)
    not_negative(solvent_g, "mass of solvent", "g")
    analyte = solid_g * positive(content, "content", most=1.005)
    if goal.kind == "molality":
        solvent = solvent_g + solid_g * not_negative(solid_solvent_share, "share of solvent in the solid")
        return analyte / goal.molar_mass / (positive(solvent, "mass of solvent", "g") / 1000.0)
    w = analyte / (solid_g + solvent_g)
    if goal.kind == "mass_fraction":
        return w
    gamma = 1000.0 * w * goal.density
    return gamma if goal.kind == "mass_concentration" else gamma / goal.molar_mass


def solvent_to_add_g(
    *, solid_g: float, content: float, goal: Target, solid_solvent_share: float = 0.0, there_g: float = 0.0
) -> float:
    """True mass of solvent [g] still to add so that the solid which fell makes the target.

    m = m_analyte/w − m_solid − m_there. Negative: there is too much solvent already.

    >>> t = target(1.0, "mg/g")
    >>> round(solvent_to_add_g(solid_g=0.01234, content=0.97, goal=t), 5)
    11.95746
    """
    positive(solid_g, "mass of solid", "g", most=ABSURD_G)
    positive(content, "content", most=1.005)
    not_negative(there_g, "mass of solvent in the vessel", "g")
    analyte = solid_g * content
    if goal.kind == "molality":
        wanted = 1000.0 * analyte / goal.molar_mass / goal.value - solid_g * solid_solvent_share
    else:
        wanted = analyte / mass_fraction(goal) - solid_g
    if wanted <= 0:
        raise OutOfRange("This solid is not strong enough for the target, even without solvent: check both.")
    return wanted - there_g


def solid_to_weigh_g(
    *,
    goal: Target,
    content: float,
    solution_g: float | None = None,
    solution_ml: float | None = None,
    solvent_g: float | None = None,
    solid_solvent_share: float = 0.0,
) -> float:
    """True mass of solid [g] for a target and one amount: of solution by mass or volume, or of solvent.

    >>> t = target(10.0, "mmol/L", molar_mass_g_mol=121.14, density_g_ml=1.0)
    >>> round(solid_to_weigh_g(goal=t, content=1.0, solution_ml=25.0), 6)
    0.030285
    """
    if sum(amount is not None for amount in (solution_g, solution_ml, solvent_g)) != 1:
        raise OutOfRange("Give one amount: of solution by mass, of solution by volume, or of solvent.")
    positive(content, "content", most=1.005)
    if solution_ml is not None:
        solution_g = positive(solution_ml, "volume of solution", "mL", most=ABSURD_G) * goal.density
    if goal.kind == "molality":
        per_gram = goal.value * goal.molar_mass / 1000.0  # analyte per mass of solvent
        if solvent_g is not None:
            return (
                per_gram
                * positive(solvent_g, "solvent", "g", most=ABSURD_G)
                / (
                    positive(
                        content - per_gram * solid_solvent_share, "strength of the solid for this target"
                    )
                )
            )
        # analyte = per_gram·(solution − solid + solid·share)
        below = content + per_gram * (1.0 - solid_solvent_share)
        return per_gram * positive(solution_g or 0.0, "amount of solution", "g", most=ABSURD_G) / below
    w = mass_fraction(goal)
    if solvent_g is not None:
        rest = positive(content - w, "strength of the solid for this target")
        return w * positive(solvent_g, "solvent", "g", most=ABSURD_G) / rest
    solid = w * positive(solution_g or 0.0, "amount of solution", "g", most=ABSURD_G) / content
    if w > content:
        raise OutOfRange("This solid is not strong enough for the target, even without solvent: check both.")
    return solid
