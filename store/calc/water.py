"""Density of air-free water."""

from store.calc.guard import within

SOURCE = "Tanaka et al., Metrologia 38 (2001) 301-309, the formula recommended by CIPM"
LOW_C, HIGH_C = 0.0, 40.0

_A1, _A2, _A3, _A4, _A5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950


def density_kg_m3(temperature_c: float) -> float:
    """Density of air-free water at 101.325 kPa.

    ρ = a5 · [1 − (t + a1)² · (t + a2) / (a3 · (t + a4))]

    Parameters
    ----------
    temperature_c
        Temperature t [degC], 0 to 40. [1]_

    Examples
    --------
    >>> round(density_kg_m3(20.0), 4)
    998.2067

    References
    ----------
    .. [1] M. Tanaka et al., Metrologia 38 (2001) 301-309.
    """
    t = within(temperature_c, "water temperature", low=LOW_C, high=HIGH_C, unit="degC", source="Tanaka 2001")
    return _A5 * (1.0 - (t + _A1) ** 2 * (t + _A2) / (_A3 * (t + _A4)))


def density_g_ml(temperature_c: float) -> float:
    """Density of air-free water at 101.325 kPa [g/mL].

    >>> round(density_g_ml(25.0), 6)
    0.997047
    """
    return density_kg_m3(temperature_c) / 1000.0


def u_density_kg_m3(temperature_c: float, *, u_temperature_c: float = 0.0) -> float:
    """Standard uncertainty of the density [kg/m3]: of the formula, and of the temperature by its slope.

    The expanded uncertainty (k = 2) of the formula runs from 0.83 to 0.84 mg/L between 0 and 40 degC
    (Tanaka 2001, from memory); air dissolved in the water may take off another 3 mg/L at most, entered
    as a rectangle.

    >>> round(u_density_kg_m3(20.0), 4)
    0.0018
    """
    slope = expansion_per_c(temperature_c) * density_kg_m3(temperature_c)
    return float((0.00042**2 + (0.003 / 3**0.5) ** 2 + (slope * u_temperature_c) ** 2) ** 0.5)


def expansion_per_c(temperature_c: float) -> float:
    """Cubic expansion coefficient −(dρ/dt)/ρ [1/degC], from the formula's own derivative.

    >>> round(expansion_per_c(25.0), 6)
    0.000257
    """
    t = within(temperature_c, "water temperature", low=LOW_C, high=HIGH_C, unit="degC", source="Tanaka 2001")
    f = (t + _A1) ** 2 * (t + _A2) / (t + _A4)
    slope = f * (2.0 / (t + _A1) + 1.0 / (t + _A2) - 1.0 / (t + _A4)) if t != -_A1 else 0.0
    return _A5 * slope / _A3 / density_kg_m3(t)
