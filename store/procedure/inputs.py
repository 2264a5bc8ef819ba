"""From the rows that a plan rests on to the plain numbers that the sums take."""

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from store.calc import air, buoyancy, purity, solvents
from store.calc.budget import BalanceData, SolutionInputs
from store.calc.molar import formula
from store.calc.purity import Content
from store.model.prep import Plan
from store.model.registers import Balance
from store.model.settings import value
from store.units import Quantity, number, quantity

CONCENTRATIONS = ("mass_fraction", "molality", "mass_concentration", "amount_concentration")


def target(plan: Plan) -> Quantity:
    """Give the concentration wanted.

    Raises
    ------
    BadQuantity, AmbiguousUnit
        It is no concentration, or a bare % or ppm.
    """
    return quantity(plan.target, *CONCENTRATIONS)


def amount(plan: Plan) -> Quantity:
    """Give the amount of solution wanted, by mass or volume."""
    return quantity(plan.amount, "mass", "volume")


def balance_data(balance: Balance) -> BalanceData:
    """Give what the register knows of a balance; ranges and limits in mg."""

    def mg(text: str) -> float:
        return quantity(text, "mass").to("mg")

    return BalanceData(
        name=balance.id,
        readability_mg=mg(balance.readability),
        sd_mg=mg(balance.repeatability) if balance.repeatability else None,
        sd_n=int(number(balance.repeatability_n)) if balance.repeatability_n else 10,
        linearity_mg=mg(balance.linearity) if balance.linearity else 0.0,
        linearity_small_mg=mg(balance.linearity_small) if balance.linearity_small else None,
        linearity_small_range_mg=mg(balance.linearity_small_range) if balance.linearity_small_range else 0.0,
        sensitivity_rel=float(number(balance.sensitivity_percent)) / 100.0
        if balance.sensitivity_percent
        else 0.0,
    )


def content(plan: Plan, basis: Mapping[str, Any]) -> Content:
    """Give what the certificate of the plan's lot says of the solid."""
    lot = basis["lot"]
    substance = basis["substances"][lot["substance"]]

    def fraction(key: str) -> float | None:
        return float(number(lot[key].replace("%", ""))) / 100.0 if lot.get(key) else None

    def uncertainty(key: str) -> float | None:
        u_percent = purity.standard_uncertainty(lot.get(key, ""))
        return None if u_percent is None else u_percent / 100.0

    assay, u_assay = purity.assay(lot["assay"], lot.get("assay_u", "")) if lot.get("assay") else (1.0, None)
    return Content(
        assay=assay,
        u_assay=u_assay,
        basis=lot.get("basis") or "as-is",
        method=lot.get("assay_method", ""),
        water=fraction("water"),
        u_water=uncertainty("water_u"),
        loss_on_drying=fraction("loss_on_drying"),
        u_loss_on_drying=uncertainty("loss_on_drying_u"),
        dried_before_use=bool(lot.get("dried_before_use")),
        weighed_formula=lot.get("assay_formula") or substance.get("formula", ""),
        wanted_formula=plan.stated_as,
    )


def solvent_density(basis: Mapping[str, Any]) -> tuple[float, float, str]:
    """Give density of the solvent [g/mL], its standard uncertainty and its source; the site's value wins."""
    lot = basis["solvent_lot"]
    row = basis["substances"][lot["substance"]]
    own = lot.get("density") or row.get("density")
    if own:
        typed = quantity(own, "density")
        exponent = typed.number.as_tuple().exponent
        step = 10.0**exponent if isinstance(exponent, int) else 0.0
        scale = typed.to("g/mL") / float(typed.number)
        where = "lot" if lot.get("density") else "substance"
        return typed.to("g/mL"), step * scale / 3.0**0.5, f"register of the site, {where}"
    return solvents.density(row["name"], temperature_c(basis))


def temperature_c(basis: Mapping[str, Any]) -> float:
    """Give the temperature that the settings name."""
    return float(number(value(basis["settings"], "temperature_c")))


def is_water(basis: Mapping[str, Any]) -> bool:
    """Say whether the solvent is water."""
    return str(basis["substances"][basis["solvent_lot"]["substance"]]["name"]).strip().lower() == "water"


@lru_cache(maxsize=64)
def _air(gas: str, celsius: float, hpa: float, humidity: float) -> tuple[float, float]:
    rho, u_formula, _ = air.density_kg_m3(
        gas, temperature_c=celsius, pressure_hpa=hpa, humidity_percent=humidity
    )
    return rho, air.u_air_kg_m3(rho, temperature_c=celsius, pressure_hpa=hpa, u_formula=u_formula)


def air_density(basis: Mapping[str, Any]) -> tuple[float, float]:
    """Give the density of what surrounds the balance [kg/m3] and its standard uncertainty."""
    settings = basis["settings"]
    celsius, hpa, humidity = (
        float(number(value(settings, name))) for name in ("temperature_c", "pressure_hpa", "humidity_percent")
    )
    return _air(basis["enclosure"].get("gas") or "air", celsius, hpa, humidity)


def molar_mass(plan: Plan, basis: Mapping[str, Any]) -> tuple[float, float] | None:
    """Give the molar mass of what the result is stated as [g/mol] with its u; None without a formula."""
    lot = basis["lot"]
    text = (
        plan.stated_as or lot.get("assay_formula") or basis["substances"][lot["substance"]].get("formula", "")
    )
    if not text:
        return None
    form = formula(text)
    return form.molar_mass_g_mol, form.u_molar_mass_g_mol


def of_solution(
    plan: Plan, basis: Mapping[str, Any], *, solid_mg: float, solvent_mg: float
) -> SolutionInputs:
    """Give everything that the concentration rests on; nets as displayed, both zeroed before."""
    density, u_density, _ = solvent_density(basis)
    rho_air, u_air = air_density(basis)
    row = basis["substances"][basis["lot"]["substance"]]
    solid_density = quantity(row["density"], "density").to("kg/m3") if row.get("density") else None
    own = quantity(plan.solution_density, "density").to("g/mL") if plan.solution_density else None
    molar = molar_mass(plan, basis)
    return SolutionInputs(
        unit=target(plan).unit,
        solid_start_mg=0.0,
        solid_end_mg=solid_mg,
        solvent_start_mg=0.0,
        solvent_end_mg=solvent_mg,
        balance=balance_data(Balance.from_body(basis["balance"])),
        content=content(plan, basis),
        air_kg_m3=rho_air,
        u_air_kg_m3=u_air,
        solvent_density_kg_m3=density * 1000.0,
        u_solvent_density_kg_m3=u_density * 1000.0,
        solid_density_kg_m3=solid_density,
        u_solid_density_kg_m3=0.02 * solid_density if solid_density else 0.0,
        solvent_first=plan.recipe.endswith("solvent first"),
        solvent_is_water=is_water(basis),
        molar_mass_g_mol=molar[0] if molar else None,
        u_molar_mass_g_mol=molar[1] if molar else None,
        solution_density_g_ml=own,
        temperature_c=temperature_c(basis),
    )


def shown_mg(true_mg: float, basis: Mapping[str, Any], *, density_kg_m3: float) -> float:
    """Give what the display shows for a true mass, in mg."""
    rho_air, _ = air_density(basis)
    return 1000.0 * buoyancy.reading_g(true_mg / 1000.0, density_kg_m3=density_kg_m3, air_kg_m3=rho_air)
