"""What came out of a prep that dilutes: each vessel with its budget, and the levels with their covariance."""

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from store.calc import series, solution
from store.calc.covariance import Series, scaled
from store.calc.given import CameOut
from store.calc.levels import Common, Level, Reading, Stock
from store.calc.uncertainty import WELCH_SATTERTHWAITE, Component, coverage_factor, rectangular
from store.errors import OutOfRange
from store.model.prep import Part, Plan
from store.model.registers import Balance
from store.procedure import inputs, stated
from store.procedure.diluting import (
    Vessels,
    aliquot_density,
    aliquot_mg,
    lot_density,
    solvent_mg,
    source_w,
    stock,
    true_mg,
)
from store.procedure.state import PrepState
from store.procedure.window import minimum_mg
from store.units import convert, kind_of

BLANK = "a blank: nothing of the analyte was added; what the solvent itself holds is not known from masses"


@dataclass(frozen=True, slots=True, kw_only=True)
class DilutionResult(CameOut):
    """What came out of an aliquot and a solvent; true masses in g."""

    source_w: float
    aliquot_mass_g: float
    solvent_mass_g: float
    solution_density_g_ml: float | None
    molar_mass_g_mol: float | None
    temperature_c: float | None


def aims(plan: Plan, basis: Mapping[str, Any]) -> dict[str, Any]:
    """Give what every part of a plan aims at, each from what the parts before it are to hold.

    Raises
    ------
    BadInput, OutOfRange
        A part cannot be computed; the text says why.
    """
    found: dict[str, dict[str, Any]] = {}
    for part in plan.parts:
        own = Vessels(plan, basis, found, {})
        narrowed, rows = own.rows(part.key)
        found[part.key] = {}
        if not part.is_blank:
            found[part.key]["aliquot_mg"] = f"{aliquot_mg(own, part.key):.4f}"
        found[part.key]["solvent_mg"] = f"{solvent_mg(own, part.key):.3f}"
        density, _, source = inputs.solvent_density(rows)
        filled_g = sum(float(x) for x in found[part.key].values()) / 1000.0
        found[part.key] |= {
            "minimum_mg": f"{minimum_mg(basis):.4f}",
            "solvent_density_g_ml": f"{density:.5f}",
            "solvent_density_source": source,
            "form": "" if part.is_blank else inputs.stated_form(narrowed, rows),
            "fill_percent": inputs.fill_percent(filled_g / density, rows),
        }
        result = of_part(own, part.key)
        found[part.key] |= {"value": repr(result.value), "u_rel": repr(result.u_rel), "unit": result.unit}
    last = next((p for p in reversed(plan.parts) if not p.is_blank), plan.parts[-1])
    return {**found[last.key], "parts": found}


def _level(vessels: Vessels, part: Part) -> Level:
    plan, basis = vessels.rows(part.key)
    density = 1000.0 * inputs.solvent_density(basis)[0]
    if part.is_blank:
        return Level(name=part.vessel)

    def net(content: str) -> tuple[Reading, Reading]:
        name = f"{content} of {part.vessel}"
        return Reading(f"{name}, zero", 0.0), Reading(name, vessels.net_mg(part.key, content))

    source = vessels.plan.part(part.source).vessel if part.source else str(basis["lot"]["id"])
    return Level(
        name=part.vessel,
        source=source,
        aliquot=net("aliquot"),
        diluent=net("solvent"),
        density_kg_m3=density,
        loss=stated.loss(plan.loss_after),
    )


def _stocks(vessels: Vessels) -> tuple[tuple[Stock, ...], tuple[str, ...]]:
    """Give every stock once, and what is missing of them."""
    found: dict[str, Stock] = {}
    missing = []
    for part in vessels.plan.parts:
        plan, basis = vessels.rows(part.key)
        if part.is_blank or part.source or basis["lot"]["id"] in found:
            continue
        w, u = stock(plan, basis)
        if u is None:
            missing.append(f"uncertainty of the concentration of lot {basis['lot']['id']}")
        rho, u_rho = lot_density(basis)
        found[basis["lot"]["id"]] = Stock(
            name=basis["lot"]["id"],
            value=w,
            u=u or 0.0,
            density_kg_m3=1000.0 * rho,
            u_density_kg_m3=1000.0 * u_rho,
        )
    return tuple(found.values()), tuple(missing)


def _common(vessels: Vessels) -> Common:
    """Give what all levels share, as the sums take it."""
    _, basis = vessels.rows(vessels.plan.parts[0].key)
    rho, u_rho, _ = inputs.solvent_density(basis)
    rho_air, u_air = inputs.air_density(basis)
    return Common(
        balances=[inputs.balance_data(Balance.from_body(vessels.basis["balance"]))],
        diluent_density_kg_m3=1000.0 * rho,
        u_diluent_density_kg_m3=1000.0 * u_rho,
        air_kg_m3=rho_air,
        u_air_kg_m3=u_air,
    )


@dataclass(frozen=True, slots=True)
class _Unit:
    """From a mass fraction to the unit of a target: y = factor · w near w; parts of u(factor) by name."""

    factor: float
    slope: float
    parts: tuple[tuple[str, float, float, str], ...]
    """Name, value, standard uncertainty, unit."""
    density: float | None
    molar: float | None


def _unit(plan: Plan, basis: Mapping[str, Any], unit: str, w: float) -> _Unit:
    kind = kind_of(unit)
    scale = convert(1.0, solution.BASE_UNIT[kind], unit)
    found: list[tuple[str, float, float, str]] = []
    density = molar = None
    factor = scale
    if kind in solution.BY_VOLUME:
        density, u_rho, _ = inputs.solvent_density(basis)
        found.append(
            ("density of the solution", density, math.hypot(u_rho, rectangular(density * w)), "g/mL")
        )
        factor *= 1000.0 * density
    slope = factor
    if kind in solution.BY_AMOUNT:
        known = inputs.molar_mass(plan, basis)
        if known is None:
            raise OutOfRange(f"A result in {unit} needs a molar mass: enter the formula of the substance.")
        molar = known[0]
        found.append(("molar mass", known[0], known[1], "g/mol"))
        factor /= molar
        slope = factor
        if kind == "molality":
            factor *= 1000.0 / (1.0 - w)
            slope = factor / (1.0 - w)
    return _Unit(factor, slope, tuple(found), density, molar)


def of_part(vessels: Vessels, key: str, *, aliquot: float | None = None) -> DilutionResult:
    """Give what is in a vessel, or would be, with its budget; `aliquot` in mg as displayed, if taken now."""
    part = vessels.plan.part(key)
    if aliquot is not None:
        there = {**vessels.there, (key, "aliquot"): aliquot}
        vessels = replace(vessels, there=there)
    plan, basis = vessels.rows(key)
    temperature = inputs.temperature_c(basis)
    unit = inputs.target(plan).unit
    if part.is_blank:
        grams = true_mg(vessels.net_mg(key, "solvent"), basis, inputs.solvent_density(basis)[0]) / 1000.0
        return DilutionResult(
            value=0.0, unit=unit, u=0.0, u_rel=0.0, k=2.0, dof=math.inf, U=0.0, complete=True, missing=(),
            remarks=(BLANK,), components=(), w=0.0, source_w=0.0, aliquot_mass_g=0.0, solvent_mass_g=grams,
            solution_density_g_ml=None, molar_mass_g_mol=None, temperature_c=temperature,
        )  # fmt: skip
    stocks, missing = _stocks(vessels)
    wanted = [vessels.plan.parts[n] for n in range(vessels.plan.parts.index(part) + 1)]
    levels = [_level(vessels, p) for p in wanted if p.key in _above(vessels.plan, key)]
    common = _common(vessels)
    found = series.of_level(stocks=stocks, levels=levels, common=common)
    to = _unit(plan, basis, unit, found.value)
    value = to.factor * found.value
    own = to.slope * found.u
    others = [(name, at, u, of, value * u / at) for name, at, u, of in to.parts]
    u = math.hypot(own, *(c for *_, c in others))
    dof = found.dof * (u / own) ** 4 if own and math.isfinite(found.dof) else math.inf
    k = coverage_factor(dof)
    share = (own / u) ** 2 if u else 0.0
    components = [
        replace(
            c,
            share=c.share * share,
            sensitivity=c.sensitivity * to.slope,
            contribution=c.contribution * to.slope,
        )
        for c in found.components
        if c.contribution
    ]
    components += [
        Component(name, (c / u) ** 2 if u else 0.0, u_of, at, of, value / at, c)
        for name, at, u_of, of, c in others
    ]
    remarks = [WELCH_SATTERTHWAITE] if math.isfinite(dof) else []
    if part.source or not basis["lot"].get("density"):
        remarks.append("density of what was taken: the solvent's, of a stock within 2 %")
    if common.balances[0].sd_mg is None:
        missing = (*missing, f"repeatability of balance {vessels.basis['balance']['id']} (0.41 d was used)")
    true_a = true_mg(vessels.net_mg(key, "aliquot"), basis, aliquot_density(part, basis))
    true_s = true_mg(vessels.net_mg(key, "solvent"), basis, inputs.solvent_density(basis)[0])
    return DilutionResult(
        value=value, unit=unit, u=u, u_rel=u / value, k=k, dof=dof, U=k * u, complete=not missing,
        missing=missing, remarks=tuple(remarks), components=tuple(sorted(components, key=lambda c: -c.share)),
        w=found.value, source_w=source_w(vessels, key), aliquot_mass_g=true_a / 1000.0,
        solvent_mass_g=true_s / 1000.0, solution_density_g_ml=to.density, molar_mass_g_mol=to.molar,
        temperature_c=temperature,
    )  # fmt: skip


def _above(plan: Plan, key: str) -> set[str]:
    found = {key}
    while (above := plan.part(key).source) and above not in found:
        found.add(above)
        key = above
    return found


def covariance(state: PrepState) -> tuple[Series, str]:
    """Give the values of all parts with their covariance matrix, and the unit of the values.

    All in the unit of the first part's target; a blank stands in it with zeros.

    Raises
    ------
    OutOfRange
        A part is not filled yet.
    """
    vessels = Vessels.of(state)
    if not state.complete:
        raise OutOfRange(f"{state.prep} is not filled yet: its levels stand when every vessel is.")
    stocks, _ = _stocks(vessels)
    found = series.of_series(
        stocks=stocks, levels=[_level(vessels, p) for p in vessels.plan.parts], common=_common(vessels)
    )
    plan, basis = vessels.rows(next(p.key for p in vessels.plan.parts if not p.is_blank))
    unit = inputs.target(plan).unit
    to = _unit(plan, basis, unit, max(found.values))
    u_rel = math.hypot(*(u / at for _, at, u, _ in to.parts)) if to.parts else 0.0
    return scaled(found, factor=to.factor, u_rel=u_rel), unit


def given(vessels: Vessels, key: str) -> dict[str, Any]:
    """Give what a result rests on, for its entry."""
    part = vessels.plan.part(key)
    common = _common(vessels)
    stocks, _ = _stocks(vessels)
    return {
        "source": str(vessels.rows(key)[1].get("lot", {}).get("id", "")) if not part.is_blank else "",
        "stocks": [asdict(s) for s in stocks],
        "levels": [
            asdict(_level(vessels, p)) for p in vessels.plan.parts if p.key in _above(vessels.plan, key)
        ],
        **{k: v for k, v in asdict(common).items() if k != "balances"},
        "balance": asdict(common.balances[0]),
    }
