"""The parts of a solution's budget: each adds its inputs and computes itself from their values."""

import math
from collections.abc import Callable, Sequence

from store.calc import buoyancy, purity
from store.calc.elements import ATOMIC_WEIGHTS
from store.calc.given import BalanceData, SolutionInputs
from store.calc.guard import ABSURD_G, finite, not_negative, positive
from store.calc.molar import Formula, count_in, formula
from store.calc.solution import BY_AMOUNT, BY_VOLUME
from store.calc.uncertainty import Input, rectangular
from store.errors import OutOfRange
from store.units import figure, kind_of

Values = Sequence[float]
Part = Callable[[Values], float]

ASSUMED_SOLID_KG_M3, ASSUMED_SOLID_HALF_KG_M3 = 2000.0, 1000.0


class Inputs:
    """The inputs collected so far, with what is missing and what was assumed."""

    def __init__(self) -> None:
        self.inputs: list[Input] = []
        self.missing: list[str] = []
        self.remarks: list[str] = []
        self._places: dict[str, int] = {}

    def add(
        self,
        name: str,
        value: float,
        u: float | None,
        unit: str = "",
        *,
        component: str = "",
        dof: float = math.inf,
        pool: str = "",
    ) -> int:
        """Add an input, once for a name, and give its place; an uncertainty of None is missing."""
        if name in self._places:
            return self._places[name]
        if u is None:
            self.missing.append(f"uncertainty of {name}")
        self.inputs.append(
            Input(name, finite(value, name), u or 0.0, unit, dof=dof, component=component, pool=pool)
        )
        self._places[name] = len(self.inputs) - 1
        return self._places[name]

    def values(self) -> list[float]:
        """The values of all inputs, in their order."""
        return [i.value for i in self.inputs]

    def known(self, name: str, u: float, unit: str, said: str = "") -> Part:
        """An error of zero with its uncertainty; where none is known, a remark instead of a line."""
        if u == 0:
            remark = f"no limit known for {said or name}"
            if remark not in self.remarks:
                self.remarks.append(remark)
            return lambda _: 0.0
        at = self.add(name, 0.0, u, unit)
        return lambda v: v[at]

    def loss(self, name: str, value_mg: float, u_mg: float) -> Part:
        """A loss of solvent; no line of the budget where there is none."""
        if not_negative(value_mg, name, "mg") == 0 and not_negative(u_mg, name, "mg") == 0:
            return lambda _: 0.0
        at = self.add(name, value_mg, u_mg, "mg")
        return lambda v: v[at]


class Weighing:
    """One net weighing, from two readings to a true mass."""

    def __init__(self, given: SolutionInputs, x: Inputs, what: str) -> None:
        is_solid = what == "solid"
        balance: BalanceData = given.balance if is_solid else given.solvent_balance or given.balance
        start_mg = given.solid_start_mg if is_solid else given.solvent_start_mg
        end_mg = given.solid_end_mg if is_solid else given.solvent_end_mg
        self.net_mg = positive(end_mg - start_mg, f"net of the {what}", "mg", most=ABSURD_G * 1000.0)
        s_mg, dof = balance.repeatability_mg()
        if balance.sd_mg is None:
            x.missing.append(f"repeatability of balance {balance.name} (0.41 d was used)")
        u_reading = s_mg / math.sqrt(2.0)  # s is that of a net, the difference of two readings
        names = [f"{what}, first reading", f"{what}, last reading"]
        shared = given.shared_reading
        if shared:
            second_starts = (what == "solid") == given.solvent_first
            names[0 if second_starts else 1] = "shared reading"
            middle = (
                (given.solvent_end_mg, given.solid_start_mg)
                if given.solvent_first
                else (given.solid_end_mg, given.solvent_start_mg)
            )
            if middle[0] != middle[1] or (given.solvent_balance or given.balance).name != given.balance.name:
                raise OutOfRange(
                    "A shared reading ends one weighing and begins the next on the same balance."
                )
        self._start, self._end = (
            x.add(
                name,
                reading,
                u_reading,
                "mg",
                component="repeatability of the shared reading"
                if name == "shared reading"
                else f"repeatability of the {what}",
                dof=dof,
                pool=f"s of {balance.name}",
            )
            for name, reading in zip(names, (start_mg, end_mg), strict=True)
        )
        # Two readings, each with its own error of linearity inside the limit (QUAM A2).
        limit_mg = balance.linearity_for_mg(self.net_mg)
        self._linearity = x.known(
            f"linearity, {what}",
            math.sqrt(2.0) * rectangular(limit_mg),
            "mg",
            f"linearity of balance {balance.name}",
        )
        self._sensitivity = x.known(
            f"sensitivity of balance {balance.name}", rectangular(balance.sensitivity_rel), "mg/mg"
        )
        if given.air_kg_m3 == 0:
            raise OutOfRange("The air density is 0 kg/m3: give that of the gas around the balance.")
        self._air = x.add(
            "air density", positive(given.air_kg_m3, "air density", most=5.0), given.u_air_kg_m3, "kg/m3"
        )
        self._adjusted: int | None = None
        if balance.adjustment_air_kg_m3 is not None:
            self._adjusted = x.add(
                f"air density at the adjustment of {balance.name}",
                not_negative(balance.adjustment_air_kg_m3, "air density at the adjustment", "kg/m3"),
                balance.u_adjustment_air_kg_m3,
                "kg/m3",
            )
        self._density = self._density_of(given, x, what)

    def _density_of(self, given: SolutionInputs, x: Inputs, what: str) -> int:
        value: float | None
        if what == "solid":
            value, u = given.solid_density_kg_m3, given.u_solid_density_kg_m3
            if value is None:
                value, u = ASSUMED_SOLID_KG_M3, rectangular(ASSUMED_SOLID_HALF_KG_M3)
                x.remarks.append("density of the solid assumed: 2000 kg/m3, limits ± 1000 kg/m3")
        else:
            value, u = given.solvent_density_kg_m3, given.u_solvent_density_kg_m3
        if not 100.0 <= finite(value, f"density of the {what}") <= 25000.0:
            raise OutOfRange(f"The density of the {what} is {figure(value)} kg/m3: from 100 to 25000 kg/m3.")
        return x.add(f"density of the {what}", value, u, "kg/m3")

    def true_mg(self, v: Values) -> float:
        """True mass [mg]; the formula of `buoyancy.factor`."""
        net = (v[self._end] - v[self._start] + self._linearity(v)) * (1.0 + self._sensitivity(v))
        air = v[self._air]
        adjusted = air if self._adjusted is None else v[self._adjusted]
        return net * (1.0 - adjusted / buoyancy.REFERENCE_KG_M3) / (1.0 - air / v[self._density])


class Strength:
    """Content of the solid and molar mass of the analyte, from the factors of its certificate."""

    def __init__(self, given: SolutionInputs, x: Inputs) -> None:
        c = given.content
        self._factors: list[int] = []
        for factor in purity.chain(c):
            if factor.name != "molar masses":
                self._factors.append(x.add(factor.name, factor.value, factor.u))
        self._weighed = formula(c.weighed_formula) if c.weighed_formula else None
        self._wanted = formula(c.wanted_formula) if c.wanted_formula else self._weighed
        self._count = 1.0
        if self._wanted is not None and self._weighed is not None:
            held = count_in(self._weighed, self._wanted) if c.count is None else c.count
            self._count = positive(held, "count", most=1000.0)
        self._ratio = (
            self._wanted is not None
            and self._weighed is not None
            and (self._wanted.atoms != self._weighed.atoms or self._count != 1)
        )
        self._given_molar: int | None = None
        self._elements: dict[str, int] = {}
        self._by_amount = kind_of(given.unit) in BY_AMOUNT
        if given.molar_mass_g_mol is not None and self._wanted is None:
            self._given_molar = x.add(
                "molar mass",
                positive(given.molar_mass_g_mol, "molar mass", "g/mol", most=1e7),
                given.u_molar_mass_g_mol,
                "g/mol",
            )
        elif self._wanted is None and self._by_amount:
            raise OutOfRange(f"A result in {given.unit} needs a formula or a molar mass: give one.")
        if self._ratio or (self._by_amount and self._given_molar is None):
            for form in (self._wanted, self._weighed):
                for symbol, _ in form.atoms if form is not None else ():
                    weight, limit = ATOMIC_WEIGHTS[symbol]
                    self._elements[symbol] = x.add(
                        f"atomic weight of {symbol}",
                        weight,
                        rectangular(limit),
                        "g/mol",
                        component="molar masses",
                    )
        self._is_water = given.solvent_is_water
        self._moist = c.basis != "as-is" and len(self._factors) > 1

    def _mass(self, form: Formula, v: Values) -> float:
        return sum(n * v[self._elements[symbol]] for symbol, n in form.atoms)

    def content(self, v: Values) -> float:
        """Mass of analyte per mass of solid."""
        out = 1.0
        for at in self._factors:
            out *= v[at]
        if self._ratio and self._wanted is not None and self._weighed is not None:
            out *= self._count * self._mass(self._wanted, v) / self._mass(self._weighed, v)
        return out

    def molar_mass(self, v: Values) -> float:
        """Molar mass of the analyte [g/mol]."""
        if self._given_molar is not None:
            return v[self._given_molar]
        assert self._wanted is not None
        return self._mass(self._wanted, v)

    def solvent_share(self, v: Values) -> float:
        """Mass fraction of the solid that counts as solvent: its crystal water or moisture, in water only."""
        if not self._is_water:
            return 0.0
        if self._moist:
            return 1.0 - v[self._factors[1]]
        if self._weighed is not None and self._weighed.crystal_water:
            return v[self._factors[0]] * purity.water_share(self._weighed)
        return 0.0


def solution_density(given: SolutionInputs, x: Inputs, kind: str, w_solid: float) -> Part:
    """Density of the solution [g/mL]: as given, or the solvent's with limits of the solid's mass fraction."""
    if kind not in BY_VOLUME:
        return lambda _: math.nan
    if given.solution_density_g_ml is not None:
        value = positive(given.solution_density_g_ml, "density of the solution", "g/mL", most=25.0)
        at = x.add("density of the solution", value, given.u_solution_density_g_ml, "g/mL")
        return lambda v: v[at]
    value = given.solvent_density_kg_m3 / 1000.0
    u = math.hypot(rectangular(value * w_solid), given.u_solvent_density_kg_m3 / 1000.0)
    at = x.add("density of the solution", value, u, "g/mL")
    x.remarks.append(
        "density of the solution taken as the solvent's, with limits of the solid's mass fraction"
    )
    return lambda v: v[at]
