"""Density of the gas around the balance: moist air by two published formulae, and other box gases."""

import math
from dataclasses import dataclass

from store.calc.guard import not_negative, within
from store.errors import UnknownCode

CIPM = "CIPM-2007: Picard et al., Metrologia 45 (2008) 149-155"
OIML = "OIML R 111-1:2004, formula E.3-1"
IDEAL = "ideal gas law with CODATA 2018 R; compressibility at room conditions changes it by less than 6e-3"

_R = 8.314472  # as published in CIPM-2007 (CODATA 2006)


def cipm_2007_kg_m3(
    *, temperature_c: float, pressure_hpa: float, humidity_percent: float, co2_ppm: float = 400.0
) -> float:
    """Density of moist air by the equation CIPM-2007.

    ρ = p·Ma/(Z·R·T) · [1 − xv·(1 − Mv/Ma)]

    Parameters
    ----------
    temperature_c
        Temperature t [degC], 15 to 27. [1]_
    pressure_hpa
        Pressure p [hPa], 600 to 1100.
    humidity_percent
        Relative humidity h [%], 0 to 100.
    co2_ppm
        Amount fraction of carbon dioxide [umol/mol].

    Examples
    --------
    >>> round(cipm_2007_kg_m3(temperature_c=20, pressure_hpa=1013.25, humidity_percent=50), 6)
    1.199314

    References
    ----------
    .. [1] A. Picard et al., Metrologia 45 (2008) 149-155; range and the relative standard uncertainty of the
       equation, 2.2e-5, from memory.
    """
    t = within(temperature_c, "air temperature", low=15.0, high=27.0, unit="degC", source="CIPM-2007")
    p = 100.0 * within(pressure_hpa, "air pressure", low=600.0, high=1100.0, unit="hPa", source="CIPM-2007")
    h = within(humidity_percent, "relative humidity", low=0.0, high=100.0, unit="%") / 100.0
    x_co2 = 1e-6 * within(co2_ppm, "carbon dioxide", low=0.0, high=10000.0, unit="umol/mol")
    kelvin = t + 273.15
    m_air = (28.96546 + 12.011 * (x_co2 - 0.0004)) * 1e-3
    x_v = h * (1.00062 + 3.14e-8 * p + 5.6e-7 * t * t) * saturation_pressure_pa(t) / p
    a = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t
    b = 5.707e-6 - 2.051e-8 * t
    c = 1.9898e-4 - 2.376e-6 * t
    z = 1.0 - p / kelvin * (a + b * x_v + c * x_v**2) + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * x_v**2)
    return p * m_air / (z * _R * kelvin) * (1.0 - x_v * (1.0 - 18.01528e-3 / m_air))


def saturation_pressure_pa(temperature_c: float) -> float:
    """Saturation vapour pressure of water as used in CIPM-2007 [Pa].

    >>> round(saturation_pressure_pa(20.0), 2)
    2339.16
    """
    kelvin = temperature_c + 273.15
    return math.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)


def oiml_short_kg_m3(*, temperature_c: float, pressure_hpa: float, humidity_percent: float) -> float:
    """Density of moist air by the short form of OIML R 111-1.

    ρ = [0.34848·p − 0.009·h·exp(0.061·t)] / (273.15 + t)

    Parameters
    ----------
    temperature_c
        Temperature t [degC], 10 to 30. [1]_
    pressure_hpa
        Pressure p [hPa], 900 to 1100.
    humidity_percent
        Relative humidity h [%], 0 to 80.

    Examples
    --------
    >>> round(oiml_short_kg_m3(temperature_c=23, pressure_hpa=950, humidity_percent=40), 5)
    1.11292

    References
    ----------
    .. [1] OIML R 111-1:2004, E.3; range and relative uncertainty 2e-4 from memory.
    """
    t = within(
        temperature_c, "air temperature", low=10.0, high=30.0, unit="degC", source="OIML R 111-1 E.3-1"
    )
    p = within(pressure_hpa, "air pressure", low=900.0, high=1100.0, unit="hPa", source="OIML R 111-1 E.3-1")
    h = within(
        humidity_percent, "relative humidity", low=0.0, high=80.0, unit="%", source="OIML R 111-1 E.3-1"
    )
    return (0.34848 * p - 0.009 * h * math.exp(0.061 * t)) / (273.15 + t)


@dataclass(frozen=True, slots=True)
class Gas:
    """A box gas; the molar mass in g/mol from the conventional atomic weights of CIAAW."""

    name: str
    molar_mass_g_mol: float


GASES = {
    gas.name: gas
    for gas in (
        Gas("nitrogen", 28.014),
        Gas("argon", 39.95),
        Gas("helium", 4.0026),
        Gas("carbon dioxide", 44.009),
    )
}


def gas_kg_m3(gas: str, *, temperature_c: float, pressure_hpa: float) -> float:
    """Density of a dry box gas as an ideal gas.

    ρ = p·M/(R·T), R = 8.314462618 J/(mol K)

    Parameters
    ----------
    gas
        `nitrogen`, `argon`, `helium` or `carbon dioxide`.
    temperature_c
        Temperature [degC], 0 to 50: near room conditions, where the gas is close to ideal.
    pressure_hpa
        Pressure [hPa], 500 to 1200.

    Examples
    --------
    >>> round(gas_kg_m3("argon", temperature_c=20, pressure_hpa=1013.25), 4)
    1.6608

    References
    ----------
    CODATA 2018 molar gas constant; the deviation from a reference equation of state is 0.02 % for nitrogen,
    0.06 % for argon, 0.05 % for helium and 0.5 % for carbon dioxide at 20 degC and 1013 hPa.
    """
    if gas not in GASES:
        raise UnknownCode(f"{gas!r} is no box gas known here: use air, {', '.join(GASES)}.")
    t = within(
        temperature_c, "gas temperature", low=0.0, high=50.0, unit="degC", source="the ideal gas use here"
    )
    p = within(
        pressure_hpa, "gas pressure", low=500.0, high=1200.0, unit="hPa", source="the ideal gas use here"
    )
    return 100.0 * p * GASES[gas].molar_mass_g_mol * 1e-3 / (8.314462618 * (t + 273.15))


def density_kg_m3(
    gas: str, *, temperature_c: float, pressure_hpa: float, humidity_percent: float = 50.0
) -> tuple[float, float, str]:
    """Density around the balance [kg/m3], the standard uncertainty of the formula, and the formula's source.

    Moist air by CIPM-2007 in its range, by the OIML short form in the rest of that form's range.

    >>> round(density_kg_m3("air", temperature_c=20, pressure_hpa=1013.25, humidity_percent=50)[0], 6)
    1.199314
    """
    if gas != "air":
        rho = gas_kg_m3(gas, temperature_c=temperature_c, pressure_hpa=pressure_hpa)
        return rho, rho * (6e-3 if gas == "carbon dioxide" else 7e-4), IDEAL
    if 15.0 <= temperature_c <= 27.0 and 600.0 <= pressure_hpa <= 1100.0:
        rho = cipm_2007_kg_m3(
            temperature_c=temperature_c, pressure_hpa=pressure_hpa, humidity_percent=humidity_percent
        )
        return rho, rho * 2.2e-5, CIPM
    rho = oiml_short_kg_m3(
        temperature_c=temperature_c, pressure_hpa=pressure_hpa, humidity_percent=humidity_percent
    )
    return rho, rho * 2e-4, OIML


def u_air_kg_m3(
    density: float,
    *,
    temperature_c: float,
    pressure_hpa: float,
    u_formula: float,
    u_temperature_c: float = 0.5,
    u_pressure_hpa: float = 1.0,
    u_humidity_percent: float = 5.0,
) -> float:
    """Standard uncertainty of an air density from its three measured conditions and the formula [kg/m3].

    The relative sensitivities 1/p, 1/T and about −1e-4 per % of humidity near 20 degC are those of the
    ideal-gas part of the formulae; enough for a term that is itself a small correction.

    >>> round(u_air_kg_m3(1.2, temperature_c=20, pressure_hpa=1013, u_formula=0.0), 4)
    0.0024
    """
    not_negative(u_formula, "uncertainty of the air formula")
    relative = math.sqrt(
        (u_pressure_hpa / pressure_hpa) ** 2
        + (u_temperature_c / (temperature_c + 273.15)) ** 2
        + (8.9e-5 * u_humidity_percent) ** 2
    )
    return math.hypot(density * relative, u_formula)
