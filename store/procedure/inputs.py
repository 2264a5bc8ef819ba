"""From the rows that a plan rests on to the plain numbers that the sums take."""

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from store.calc import air, buoyancy, density, purity, solvents
from store.calc.budget import BalanceData, SolutionInputs
from store.calc.molar import formula
from store.calc.purity import Content
from store.calc.uncertainty import rectangular
from store.errors import UnknownCode
from store.model.prep import Plan
from store.model.registers import Balance
from store.model.settings import value
from store.procedure import stated
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

    adjusted = typed_density(balance.adjustment_air, "kg/m3") if balance.adjustment_air else None
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
        adjustment_air_kg_m3=adjusted[0] if adjusted else None,
        u_adjustment_air_kg_m3=adjusted[1] if adjusted else 0.0,
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


def typed_density(text: str, unit: str) -> tuple[float, float]:
    """Give a density as typed, and one step of its last digit as limits: no more is said of it."""
    typed = quantity(text, "density")
    exponent = typed.number.as_tuple().exponent
    step = 10.0**exponent if isinstance(exponent, int) else 0.0
    scale = typed.to(unit) / float(typed.number)
    return typed.to(unit), rectangular(step * scale)


def solvent_density(basis: Mapping[str, Any]) -> tuple[float, float, str]:
    """Give density of the solvent [g/mL], its standard uncertainty and its source; the site's value wins."""
    lot = basis["solvent_lot"]
    row = basis["substances"][lot["substance"]]
    own = lot.get("density") or row.get("density")
    if own:
        where = "lot" if lot.get("density") else "substance"
        return *typed_density(own, "g/mL"), f"register of the site, {where}"
    name = known_solvent(row)
    try:
        return solvents.density(name, temperature_c(basis))
    except UnknownCode:
        raise UnknownCode(
            f"No density of {name} is known: a keeper writes it in the register, with its lot or substance; "
            "or as another name of it one of the table, such as methanol."
        ) from None


def known_solvent(row: Mapping[str, Any]) -> str:
    """Give the name that the table of solvents has for a substance; its own where it has none."""
    return solvents.known_as((str(row["name"]), *row.get("synonyms", ())), str(row.get("cas", "")))


def temperature_c(basis: Mapping[str, Any]) -> float:
    """Give the temperature that the settings name."""
    return float(number(value(basis["settings"], "temperature_c")))


def fill_percent(filled_ml: float, basis: Mapping[str, Any]) -> str:
    """Say how full the vessel would be, in percent; near its brim to a tenth, so that 100.2 is not 100."""
    found = 100.0 * filled_ml / quantity(basis["vessel"]["capacity"], "volume").to("mL")
    return f"{found:.1f}" if 99.0 < found < 101.0 else f"{found:.0f}"


def is_water(basis: Mapping[str, Any]) -> bool:
    """Say whether the solvent is water."""
    return known_solvent(basis["substances"][basis["solvent_lot"]["substance"]]) == "water"


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


def _form(plan: Plan, basis: Mapping[str, Any]) -> tuple[str, str]:
    """Give the formula that a result is stated as, and that of the substance as it is called."""
    lot = basis.get("lot", {})
    own = str(basis.get("substances", {}).get(lot.get("substance"), {}).get("formula", ""))
    return plan.stated_as or str(lot.get("assay_formula", "")) or own, own


def stated_form(plan: Plan, basis: Mapping[str, Any]) -> str:
    """Give the formula that a result is stated as, where it is not the substance as it is called; else empty.

    The base of a salt, an element, or the salt without the water that its certificate leaves out.
    """
    text, own = _form(plan, basis)
    if not own or not text:
        return text
    return "" if text == own or formula(text).atoms == formula(own).atoms else text


def molar_mass(plan: Plan, basis: Mapping[str, Any]) -> tuple[float, float] | None:
    """Give the molar mass of what the result is stated as [g/mol] with its u; None without a formula."""
    text, _ = _form(plan, basis)
    if not text:
        return None
    form = formula(text)
    return form.molar_mass_g_mol, form.u_molar_mass_g_mol


def solution_density(plan: Plan, basis: Mapping[str, Any]) -> tuple[float, float | None] | None:
    """Give the measured density of the solution [g/mL] and its u; None where none was measured.

    From the mass of a known volume: with the buoyancy and the repeatability of this balance; a volume
    without an uncertainty leaves the budget incomplete.
    """
    if not plan.solution_density:
        return None
    found = stated.density(plan.solution_density)
    if found.density is not None:
        scale = found.density.to("g/mL") / float(found.density.number)
        return found.density.to("g/mL"), None if found.u is None else found.u * scale
    assert found.mass is not None  # a density, or a mass in a volume
    assert found.volume is not None
    data, (rho_air, _) = balance_data(Balance.from_body(basis["balance"])), air_density(basis)
    sd_mg, _ = data.repeatability_mg()
    linearity_mg = 2.0**0.5 * rectangular(data.linearity_for_mg(found.mass.to("mg")))
    scale = found.volume.to("mL") / float(found.volume.number)
    rho, u = density.of_volume_g_ml(
        reading_g=found.mass.to("g"),
        volume_ml=found.volume.to("mL"),
        u_reading_g=(sd_mg**2 + linearity_mg**2) ** 0.5 / 1000.0,
        u_volume_ml=0.0 if found.u is None else found.u * scale,
        air_kg_m3=rho_air,
        adjustment_air_kg_m3=data.adjustment_air_kg_m3,
    )
    return rho, None if found.u is None else u


def of_solution(
    plan: Plan, basis: Mapping[str, Any], *, solid_mg: float, solvent_mg: float
) -> SolutionInputs:
    """Give everything that the concentration rests on; nets as displayed, both zeroed before."""
    rho, u_rho, _ = solvent_density(basis)
    rho_air, u_air = air_density(basis)
    row = basis["substances"][basis["lot"]["substance"]]
    solid_density = quantity(row["density"], "density").to("kg/m3") if row.get("density") else None
    own = solution_density(plan, basis)
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
        solvent_density_kg_m3=rho * 1000.0,
        u_solvent_density_kg_m3=u_rho * 1000.0,
        solid_density_kg_m3=solid_density,
        u_solid_density_kg_m3=0.02 * solid_density if solid_density else 0.0,
        solvent_first=plan.recipe.endswith("solvent first"),
        solvent_is_water=is_water(basis),
        molar_mass_g_mol=molar[0] if molar else None,
        u_molar_mass_g_mol=molar[1] if molar else None,
        solution_density_g_ml=own[0] if own else None,
        u_solution_density_g_ml=own[1] if own else None,
        loss_before=stated.loss(plan.loss_before),
        loss_after=stated.loss(plan.loss_after),
        temperature_c=temperature_c(basis),
    )


def shown_mg(true_mg: float, basis: Mapping[str, Any], *, density_kg_m3: float) -> float:
    """Give what the display shows for a true mass, in mg."""
    rho_air, _ = air_density(basis)
    adjusted = basis["balance"].get("adjustment_air")
    return 1000.0 * buoyancy.reading_g(
        true_mg / 1000.0,
        density_kg_m3=density_kg_m3,
        air_kg_m3=rho_air,
        adjustment_air_kg_m3=typed_density(adjusted, "kg/m3")[0] if adjusted else None,
    )
