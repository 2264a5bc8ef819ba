"""Air buoyancy: from what the balance shows to true mass, and back."""

from store.calc.guard import finite, positive
from store.errors import OutOfRange

REFERENCE_KG_M3 = 8000.0
"""Density that a balance is adjusted to: OIML D 28, conventional value of the result of weighing in air."""
CONVENTIONAL_AIR_KG_M3 = 1.2
SOURCE = "OIML R 111-1:2004 and D 28:2004 (air buoyancy, conventional mass)"


def factor(
    *,
    density_kg_m3: float,
    air_kg_m3: float,
    adjustment_air_kg_m3: float | None = None,
    reference_kg_m3: float = REFERENCE_KG_M3,
) -> float:
    """Factor from a reading to a true mass.

    K = (1 − ρa,adj/ρref) / (1 − ρa/ρ)

    Parameters
    ----------
    density_kg_m3
        Density ρ of what is weighed [kg/m3]. [1]_
    air_kg_m3
        Density ρa of the air, or of the box gas, at the weighing [kg/m3].
    adjustment_air_kg_m3
        Air density ρa,adj when the balance was adjusted [kg/m3]; `air_kg_m3` where it is left out. It
        matters for a balance adjusted in air and used in another gas.
    reference_kg_m3
        Density ρref of the weights of the adjustment [kg/m3].

    Examples
    --------
    >>> round(factor(density_kg_m3=998.2, air_kg_m3=1.2), 6)
    1.001053

    References
    ----------
    .. [1] OIML D 28:2004; OIML R 111-1:2004, 10.
    """
    positive(density_kg_m3, "density", "kg/m3", most=30000.0)
    positive(reference_kg_m3, "reference density", "kg/m3", most=30000.0)
    for air in (air_kg_m3, adjustment_air_kg_m3):
        if air is not None and not 0 <= finite(air, "air density") <= 5.0:
            raise OutOfRange(f"The air density is {air} kg/m3: it lies between 0 and 5 kg/m3.")
    if density_kg_m3 <= 10.0 * air_kg_m3:
        raise OutOfRange(f"The density is {density_kg_m3} kg/m3: give that of a solid or a liquid, in kg/m3.")
    at = air_kg_m3 if adjustment_air_kg_m3 is None else adjustment_air_kg_m3
    return (1.0 - at / reference_kg_m3) / (1.0 - air_kg_m3 / density_kg_m3)


def true_mass_g(
    reading_g: float,
    *,
    density_kg_m3: float,
    air_kg_m3: float,
    adjustment_air_kg_m3: float | None = None,
    reference_kg_m3: float = REFERENCE_KG_M3,
) -> float:
    """True mass [g] of what the balance shows as `reading_g` net.

    >>> round(true_mass_g(26.0, density_kg_m3=1588, air_kg_m3=1.2), 4)
    26.0158
    """
    return finite(reading_g, "reading") * factor(
        density_kg_m3=density_kg_m3,
        air_kg_m3=air_kg_m3,
        adjustment_air_kg_m3=adjustment_air_kg_m3,
        reference_kg_m3=reference_kg_m3,
    )


def reading_g(
    mass_g: float,
    *,
    density_kg_m3: float,
    air_kg_m3: float,
    adjustment_air_kg_m3: float | None = None,
    reference_kg_m3: float = REFERENCE_KG_M3,
) -> float:
    """What the balance will show [g net] for a true mass: the inverse of `true_mass_g`.

    >>> round(reading_g(26.01576, density_kg_m3=1588, air_kg_m3=1.2), 3)
    26.0
    """
    return finite(mass_g, "mass") / factor(
        density_kg_m3=density_kg_m3,
        air_kg_m3=air_kg_m3,
        adjustment_air_kg_m3=adjustment_air_kg_m3,
        reference_kg_m3=reference_kg_m3,
    )


def mass_from_conventional_g(conventional_g: float, *, density_kg_m3: float) -> float:
    """True mass of a weight from its conventional mass: m = mc·(1 − 1.2/8000)/(1 − 1.2/ρ).

    >>> round(mass_from_conventional_g(100.0, density_kg_m3=2700), 6)
    100.029458
    """
    return true_mass_g(conventional_g, density_kg_m3=density_kg_m3, air_kg_m3=CONVENTIONAL_AIR_KG_M3)


def z_factor_ul_mg(
    *, water_kg_m3: float, air_kg_m3: float, reference_kg_m3: float = REFERENCE_KG_M3
) -> float:
    """Volume of water per displayed mass, Z = (1 − ρa/ρref)/(ρw − ρa) [uL/mg] (ISO 8655-6).

    >>> round(z_factor_ul_mg(water_kg_m3=997.047, air_kg_m3=0.9418), 4)
    1.0038
    """
    positive(water_kg_m3 - air_kg_m3, "water density less the air density", "kg/m3")
    return 1000.0 * (1.0 - air_kg_m3 / reference_kg_m3) / (water_kg_m3 - air_kg_m3)
