"""Densities of the solvents that are shipped; a site's own value for a lot wins."""

from collections.abc import Iterable
from dataclasses import dataclass

from store.calc import water
from store.calc.guard import within
from store.errors import UnknownCode

EOS = "reference equation of state as in CoolProp 8.0, checked against CRC Handbook values from memory"
SAID = "CRC Handbook and similar tables, from memory"
TWO = "two correlations that agree (0.782 at 20 degC), against 0.7857 in a handbook, from memory"


@dataclass(frozen=True, slots=True)
class Solvent:
    """A liquid near room temperature, ρ(t) = ρ₂₀ + slope·(t − 20), from 15 to 30 degC.

    Attributes
    ----------
    name
        Name in the list.
    density_g_ml
        Density at 20 degC [g/mL].
    slope_g_ml_c
        Change with temperature [g/(mL degC)].
    u_g_ml
        Standard uncertainty of the density [g/mL]: of how far the sources disagree, taken as a rectangle, and
        of a usual grade against the pure substance.
    source
        Where density and slope come from.
    names
        Other names, small letters.
    """

    name: str
    density_g_ml: float
    slope_g_ml_c: float
    u_g_ml: float
    source: str
    names: tuple[str, ...] = ()


WATER_CAS = "7732-18-5"
"""Water of any grade is water; other numbers do not tell a pure liquid from its mixture with water."""

LOW_C, HIGH_C = 15.0, 30.0

SOLVENTS: tuple[Solvent, ...] = (
    Solvent("methanol", 0.79101, -0.000936, 0.0004, EOS, ("meoh",)),
    Solvent("ethanol", 0.78942, -0.000856, 0.0005, EOS, ("etoh", "absolute ethanol")),
    Solvent("acetonitrile", 0.7822, -0.00108, 0.0012, TWO, ("mecn", "acn")),
    Solvent("acetone", 0.79027, -0.001110, 0.0005, EOS, ("propanone",)),
    Solvent("DMSO", 1.1006, -0.00100, 0.0007, SAID, ("dmso", "dimethyl sulfoxide")),
    Solvent("toluene", 0.86689, -0.000930, 0.0005, EOS),
    Solvent("hexane", 0.65938, -0.000903, 0.0008, EOS, ("n-hexane",)),
    Solvent("2-propanol", 0.7851, -0.00084, 0.0005, SAID, ("isopropanol", "propan-2-ol", "ipa")),
    Solvent("ethyl acetate", 0.9005, -0.00121, 0.0006, SAID),
    Solvent("DMF", 0.9487, -0.00095, 0.0006, SAID, ("dmf", "n,n-dimethylformamide", "dimethylformamide")),
    Solvent("dichloromethane", 1.3260, -0.00185, 0.0012, SAID, ("dcm", "methylene chloride")),
    Solvent("chloroform", 1.4888, -0.00188, 0.0040, SAID, ("trichloromethane",)),
)
"""Checked in the tests where a reference library knows the liquid. Chloroform's uncertainty covers its usual
stabiliser, ethanol; ask the certificate."""


def density(name: str, temperature_c: float) -> tuple[float, float, str]:
    """Density of a solvent [g/mL], its standard uncertainty [g/mL] and its source.

    >>> rho, u, source = density("methanol", 25.0)
    >>> round(rho, 4), u
    (0.7863, 0.0004)
    """
    if name.strip().lower() == "water":
        u = water.u_density_kg_m3(temperature_c) / 1000.0
        return water.density_g_ml(temperature_c), u, water.SOURCE
    s = solvent(name)
    within(temperature_c, f"temperature of {s.name}", low=LOW_C, high=HIGH_C, unit="degC", source="the table")
    return s.density_g_ml + s.slope_g_ml_c * (temperature_c - 20.0), s.u_g_ml, s.source


def known_as(names: Iterable[str], cas: str = "") -> str:
    """Name in the list of a liquid that a site calls by any of its names; its own first name where none fits.

    >>> known_as(("water, purified",), "7732-18-5"), known_as(("spirit", "absolute ethanol"))
    ('water', 'ethanol')
    """
    every = [name for name in names if name.strip()]
    if cas == WATER_CAS or any(name.strip().lower() == "water" for name in every):
        return "water"
    for name in every:
        if found := _named(name):
            return found.name
    return every[0] if every else ""


def solvent(name: str) -> Solvent:
    """A solvent of the table by one of its names.

    >>> solvent("isopropanol").name
    '2-propanol'
    """
    if found := _named(name):
        return found
    known = ", ".join(("water", *(s.name for s in SOLVENTS)))
    raise UnknownCode(f"{name!r} is no solvent of the table: use one of {known}, or give its density.")


def _named(name: str) -> Solvent | None:
    wanted = name.strip().lower()
    return next((s for s in SOLVENTS if wanted == s.name.lower() or wanted in s.names), None)
