"""A result as a sum that anybody can follow with a hand calculator: each line a formula with its numbers.

Only what was written with the result is used; nothing is looked up again.
"""

from dataclasses import dataclass
from math import sqrt

from store.errors import BadInput
from store.queries.results import ResultShown
from store.units import convert, figure, kind_of

BASE_UNIT = {
    "mass_fraction": "g/g",
    "molality": "mol/kg",
    "mass_concentration": "g/L",
    "amount_concentration": "mol/L",
}


@dataclass(frozen=True, slots=True)
class HandSum:
    """One line: what, the formula with numbers, and what it gives."""

    what: str
    formula: str
    gives: float
    unit: str


def sums(result: ResultShown) -> tuple[HandSum, ...]:
    """Give the lines from the readings to value and uncertainty; none where too little was written."""
    try:
        return (*_value(result), *_uncertainty(result))
    except (KeyError, ValueError, BadInput):
        return ()


def _value(result: ResultShown) -> list[HandSum]:
    f = {name: float(text) for name, text in result.figures.items() if _is_number(text)}
    solid, solvent, content = f["solid_mass_g"], f["solvent_mass_g"], f["content"]
    out = [*_masses(result, solid, solvent)]
    out += _content(result, content)
    w = solid * content / (solid + solvent)
    out.append(
        HandSum("mass fraction w", f"{_n(solid)} × {_n(content)} / ({_n(solid)} + {_n(solvent)})", w, "g/g")
    )
    kind = kind_of(result.unit)
    scale = convert(1.0, BASE_UNIT[kind], result.unit)
    value = float(result.value)
    if kind == "mass_fraction":
        out.append(HandSum("result", f"{_n(w)} g/g × {_n(scale)}", w * scale, result.unit))
        return out
    density = f.get("solution_density_g_ml", 0.0)
    gamma = 1000.0 * w * density
    if kind == "mass_concentration":
        text = f"1000 × {_n(w)} × {_n(density)} g/mL" + (f" × {_n(scale)}" if scale != 1 else "")
        out.append(HandSum("result", text, gamma * scale, result.unit))
        return out
    molar, whence = _molar_mass(result, f, gamma, solid * content / solvent, value / scale, kind)
    times = f" × {_n(scale)}"
    if kind == "amount_concentration":
        text = f"1000 × {_n(w)} × {_n(density)} g/mL / {_n(molar)} g/mol{whence}{times}"
        out.append(HandSum("result", text, gamma / molar * scale, result.unit))
        return out
    share = f.get("solvent_share", 0.0)
    text = f"1000 × {_n(solid)} × {_n(content)} / {_n(molar)} g/mol{whence} / {_n(solvent)}{times}"
    if share:
        text = text.replace(f"/ {_n(solvent)}", f"/ ({_n(solvent)} + {_n(solid)} × {_n(share)})")
    given = 1000.0 * solid * content / molar / (solvent + solid * share) * scale
    out.append(HandSum("result", text, given, result.unit))
    return out


def _molar_mass(
    result: ResultShown, f: dict[str, float], gamma: float, ratio: float, value: float, kind: str
) -> tuple[float, str]:
    """The molar mass as written; else the one that the written result rests on, and said so."""
    if "molar_mass_g_mol" in f:
        return f["molar_mass_g_mol"], ""
    for row in result.budget:
        if row.name == "molar mass" and row.value:
            return float(row.value), ""
    used = (gamma if kind == "amount_concentration" else 1000.0 * ratio) / value
    return used, " (as the result used it)"


def _masses(result: ResultShown, solid_g: float, solvent_g: float) -> list[HandSum]:
    """From the display to the true mass: net, buoyancy, and what evaporated."""
    if not result.inputs:
        return _masses_of_budget(result, solid_g, solvent_g)
    given = result.inputs
    before, after = (float(given.get(key, {}).get("value_mg", 0)) for key in ("loss_before", "loss_after"))
    out = []
    for what, written in (("solid", solid_g), ("solvent", solvent_g)):
        start, end = float(given[f"{what}_start_mg"]), float(given[f"{what}_end_mg"])
        air = float(given["air_kg_m3"])
        balance = given.get("solvent_balance") or given["balance"] if what == "solvent" else given["balance"]
        adjusted = float(balance.get("adjustment_air_kg_m3") or air)
        density = _density(result, what)
        net = f"({_n(end / 1000.0)} − {_n(start / 1000.0)})" if start else _n(end / 1000.0)
        text = f"{net} × (1 − {_n(adjusted)}/8000) / (1 − {_n(air)}/{_n(density)})"
        gives = (end - start) / 1000.0 * (1.0 - adjusted / 8000.0) / (1.0 - air / density)
        # What left while the solid was weighed made it look lighter by as much.
        for lost_mg in (before,) if what == "solid" else (-before, -after):
            if lost_mg:
                text += f" {'+' if lost_mg > 0 else '−'} {_n(abs(lost_mg) / 1000.0)}"
                gives += lost_mg / 1000.0
        if abs(gives - written) > 1e-6 * written:
            text, gives = "as computed, see the remarks", written
        out.append(HandSum(f"true mass of the {what}", text, gives, "g"))
    return out


def _masses_of_budget(result: ResultShown, solid_g: float, solvent_g: float) -> list[HandSum]:
    """The same where the inputs were not written: only what buoyancy alone explains."""
    rows = {row.name: float(row.value) for row in result.budget if _is_number(row.value)}
    out = []
    for what, true_g in (("solid", solid_g), ("solvent", solvent_g)):
        shown_mg = rows.get(f"repeatability of the {what}")
        air, density = rows.get("air density"), rows.get(f"density of the {what}")
        if shown_mg is not None and air and density:
            given = shown_mg / 1000.0 * (1.0 - air / 8000.0) / (1.0 - air / density)
            text = f"{_n(shown_mg / 1000.0)} × (1 − {_n(air)}/8000) / (1 − {_n(air)}/{_n(density)})"
            if abs(given - true_g) <= 1e-6 * true_g:
                out.append(HandSum(f"true mass of the {what}", text, given, "g"))
                continue
        out.append(HandSum(f"true mass of the {what}", "as computed, see the remarks", true_g, "g"))
    return out


def _density(result: ResultShown, what: str) -> float:
    """As given; where the density of the solid was assumed, as the budget carries it."""
    if given := result.inputs.get(f"{what}_density_kg_m3"):
        return float(given)
    return next(float(row.value) for row in result.budget if row.name == f"density of the {what}")


def _content(result: ResultShown, content: float) -> list[HandSum]:
    """The content as the product of its factors, each by its name."""
    if not result.factors:
        return []
    product = 1.0
    for factor in result.factors:
        product *= float(factor.value)
    if abs(product - content) > 1e-9:
        return []
    text = " × ".join(f"{_n(float(f.value))} ({f.name}: {f.why})" for f in result.factors)
    return [HandSum("content of the solid", text, product, "g/g")]


def _uncertainty(result: ResultShown) -> list[HandSum]:
    parts = [abs(float(r.contribution)) for r in result.budget if r.contribution]
    if not parts:
        return []
    u, k = sqrt(sum(p * p for p in parts)), float(result.k)
    out = [HandSum("standard uncertainty u", "root of the sum of the squared contributions", u, result.unit)]
    out.append(HandSum("expanded uncertainty U", f"{_n(k)} × {_n(u)}", k * u, result.unit))
    return out


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _n(value: float) -> str:
    """Nine digits: enough that the last digit of a result follows."""
    return figure(value, 9)
