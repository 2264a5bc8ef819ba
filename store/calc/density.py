"""Density of a solution from the mass of a known volume."""

import math

from store.calc.buoyancy import REFERENCE_KG_M3
from store.calc.guard import not_negative, positive
from store.errors import OutOfRange
from store.units import figure

SOURCE = "mass of a known volume with air buoyancy: OIML R 111-1:2004, 10; the sum that ISO 4787 turns round"


def of_volume_g_ml(
    *,
    reading_g: float,
    volume_ml: float,
    u_reading_g: float = 0.0,
    u_volume_ml: float = 0.0,
    air_kg_m3: float = 1.2,
    adjustment_air_kg_m3: float | None = None,
) -> tuple[float, float]:
    """Density of a liquid from what its volume weighs, and its standard uncertainty [g/mL].

    ρ = R/V · (1 − ρa,adj/8000) + ρa;   u²(ρ) = (u(R)/V)² + (R·u(V)/V²)²

    Parameters
    ----------
    reading_g
        Net R as displayed [g].
    volume_ml
        Volume V of the pycnometer or flask at the temperature of the weighing [mL]. [1]_
    u_reading_g, u_volume_ml
        Their standard uncertainties.
    air_kg_m3, adjustment_air_kg_m3
        Density of the air at the weighing and at the adjustment of the balance [kg/m3].

    Examples
    --------
    >>> rho, u = of_volume_g_ml(reading_g=10.1230, volume_ml=10.0, u_volume_ml=0.01)
    >>> round(rho, 5), round(u, 5)
    (1.01335, 0.00101)

    References
    ----------
    .. [1] OIML R 111-1:2004, 10; ISO 4787 (the same sum, turned round for the volume).
    """
    r, v = positive(reading_g, "mass of the volume", "g"), positive(volume_ml, "volume", "mL")
    adjusted = air_kg_m3 if adjustment_air_kg_m3 is None else adjustment_air_kg_m3
    value = r / v * (1.0 - adjusted / REFERENCE_KG_M3) + air_kg_m3 / 1000.0
    if not 0.4 <= value <= 5.0:
        raise OutOfRange(
            f"{figure(r)} g in {figure(v)} mL is {figure(value)} g/mL: from 0.4 to 5 g/mL; check both."
        )
    u_r = not_negative(u_reading_g, "uncertainty of the mass", "g") / v
    u_v = not_negative(u_volume_ml, "uncertainty of the volume", "mL") * r / v**2
    return value, math.hypot(u_r, u_v)
