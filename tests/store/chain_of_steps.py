"""A chain of dilution steps beside `store.calc.series`: a second way to the same sums, for the checks."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from store.calc.buoyancy import REFERENCE_KG_M3
from store.calc.given import BalanceData, Loss
from store.calc.guard import fraction, positive
from store.calc.parts import Inputs
from store.calc.uncertainty import Budget, propagate, rectangular
from store.errors import OutOfRange


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step as weighed: displayed readings [mg] and densities [kg/m3]."""

    aliquot_start_mg: float
    aliquot_end_mg: float
    diluent_start_mg: float
    diluent_end_mg: float
    aliquot_density_kg_m3: float
    diluent_density_kg_m3: float
    u_aliquot_density_kg_m3: float = 0.0
    u_diluent_density_kg_m3: float = 0.0
    shared_reading: bool = False
    loss: Loss = field(default_factory=Loss)
    """Solvent lost after the last weighing of the step and before anything is taken from it."""


def of_dilution(
    *,
    stock_w: float,
    u_stock_w: float,
    steps: Sequence[Step],
    balance: BalanceData,
    air_kg_m3: float = 1.2,
    u_air_kg_m3: float = 0.03,
    stock_dof: float = math.inf,
) -> Budget:
    """Mass fraction [g/g] after the steps, w = w₀ · ∏ mᵢ/(mᵢ + Sᵢ − lossᵢ), with true masses.

    All steps share the stock, the air, and the sensitivity of the balance by being the same inputs.

    >>> b = BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.01)
    >>> s = Step(aliquot_start_mg=0, aliquot_end_mg=200, diluent_start_mg=0, diluent_end_mg=19800,
    ...          aliquot_density_kg_m3=998, diluent_density_kg_m3=998)
    >>> r = of_dilution(stock_w=1e-3, u_stock_w=0, steps=[s, s], balance=b)
    >>> round(r.value, 12), round(r.u_rel, 9)
    (1e-07, 7.0007e-05)
    """
    if not steps:
        raise OutOfRange("A dilution has one step or more.")
    x = Inputs()
    stock = x.add("stock", fraction(stock_w, "mass fraction of the stock"), u_stock_w, "g/g", dof=stock_dof)
    air = x.add("air density", positive(air_kg_m3, "air density", "kg/m3", most=5.0), u_air_kg_m3, "kg/m3")
    scale = x.add(
        f"sensitivity of balance {balance.name}", 0.0, rectangular(balance.sensitivity_rel), "mg/mg"
    )
    s_mg, dof = balance.repeatability_mg()
    places = [
        _places(x, n, step, balance, s_mg / math.sqrt(2.0), dof) for n, step in enumerate(steps, start=1)
    ]
    adjusted = balance.adjustment_air_kg_m3

    def model(v: Sequence[float]) -> float:
        w = v[stock]
        gain = (1.0 + v[scale]) * (1.0 - (v[air] if adjusted is None else adjusted) / REFERENCE_KG_M3)
        for a0, a1, d0, d1, la, ld, ra, rd, loss in places:
            aliquot = gain * (v[a1] - v[a0] + v[la]) / (1.0 - v[air] / v[ra])
            diluent = gain * (v[d1] - v[d0] + v[ld]) / (1.0 - v[air] / v[rd])
            w *= aliquot / (aliquot + diluent - v[loss])
        return w

    return propagate(model, x.inputs)


def _places(
    x: Inputs, n: int, step: Step, balance: BalanceData, u_mg: float, dof: float
) -> tuple[int, int, int, int, int, int, int, int, int]:
    aliquot = positive(step.aliquot_end_mg - step.aliquot_start_mg, f"aliquot of step {n}", "mg")
    diluent = positive(step.diluent_end_mg - step.diluent_start_mg, f"diluent of step {n}", "mg")
    if step.shared_reading and step.aliquot_end_mg != step.diluent_start_mg:
        raise OutOfRange(f"Step {n}: a shared reading ends the aliquot and begins the diluent.")

    def reading(name: str, value: float) -> int:
        component = f"repeatability, step {n}"
        return x.add(
            f"{name} of step {n}",
            value,
            u_mg,
            "mg",
            component=component,
            dof=dof,
            pool=f"s of {balance.name}",
        )

    def linearity(name: str, net: float) -> int:
        u = math.sqrt(2.0) * rectangular(balance.linearity_for_mg(net))
        return x.add(f"linearity, {name} of step {n}", 0.0, u, "mg", component=f"linearity, step {n}")

    middle = "shared reading" if step.shared_reading else "aliquot, last reading"
    a0 = reading("aliquot, first reading", step.aliquot_start_mg)
    a1 = reading(middle, step.aliquot_end_mg)
    d0 = a1 if step.shared_reading else reading("diluent, first reading", step.diluent_start_mg)
    d1 = reading("diluent, last reading", step.diluent_end_mg)
    la, ld = linearity("aliquot", aliquot), linearity("diluent", diluent)
    ra = x.add(
        f"density of the aliquot, step {n}",
        positive(step.aliquot_density_kg_m3, "density", "kg/m3"),
        step.u_aliquot_density_kg_m3,
        "kg/m3",
    )
    rd = x.add(
        f"density of the diluent, step {n}",
        positive(step.diluent_density_kg_m3, "density", "kg/m3"),
        step.u_diluent_density_kg_m3,
        "kg/m3",
    )
    loss = x.add(f"evaporation, step {n}", step.loss.value_mg, step.loss.u_mg, "mg")
    return a0, a1, d0, d1, la, ld, ra, rd, loss
