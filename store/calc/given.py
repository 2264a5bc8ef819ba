"""What the concentration of a solution rests on: frozen, units in the names, plain data by `asdict`."""

import math
from dataclasses import dataclass, field

from store.calc.guard import not_negative, positive
from store.calc.purity import Content, Factor
from store.calc.uncertainty import Component, one_sided
from store.calc.weighing import FLOOR_STEPS


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceData:
    """What is known of a balance in its place.

    Attributes
    ----------
    name
        Two weighings on balances of one name share sensitivity.
    readability_mg
        One step d of the last digit [mg].
    sd_mg
        Standard deviation s of a net from ten or more weighings [mg]; with the rounding in it. None: missing.
    sd_n
        Number of those weighings.
    linearity_mg
        ± limit over the range [mg].
    linearity_small_mg, linearity_small_range_mg
        ± limit for nets up to the small range [mg].
    sensitivity_rel
        ± relative limit of the sensitivity between adjustments.
    adjustment_air_kg_m3, u_adjustment_air_kg_m3
        Air density at the adjustment and its standard uncertainty; None: as at the weighing.
    """

    name: str
    readability_mg: float
    sd_mg: float | None = None
    sd_n: int = 10
    linearity_mg: float = 0.0
    linearity_small_mg: float | None = None
    linearity_small_range_mg: float = 0.0
    sensitivity_rel: float = 0.0
    adjustment_air_kg_m3: float | None = None
    u_adjustment_air_kg_m3: float = 0.0

    def repeatability_mg(self) -> tuple[float, float]:
        """Standard deviation of a net, s or 0.41 d if that is more [mg], and its degrees of freedom."""
        floor = FLOOR_STEPS * positive(self.readability_mg, "readability", "mg")
        if self.sd_mg is None or not_negative(self.sd_mg, "standard deviation", "mg") < floor:
            return floor, math.inf
        return self.sd_mg, float(max(self.sd_n - 1, 1))

    def linearity_for_mg(self, net_mg: float) -> float:
        """± limit of linearity that holds for a net [mg]."""
        if self.linearity_small_mg is not None and net_mg <= self.linearity_small_range_mg:
            return not_negative(self.linearity_small_mg, "linearity", "mg")
        return not_negative(self.linearity_mg, "linearity", "mg")


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """Solvent lost by evaporation: its mass [mg] and standard uncertainty."""

    value_mg: float = 0.0
    u_mg: float = 0.0

    @classmethod
    def up_to(cls, bound_mg: float) -> "Loss":
        """A loss that is only bounded: it lies anywhere from none to the bound (GUM 4.3.8).

        >>> Loss.up_to(6.0).value_mg
        3.0
        """
        value, u = one_sided(bound_mg)
        return cls(value_mg=value, u_mg=u)


@dataclass(frozen=True, slots=True, kw_only=True)
class SolutionInputs:
    """Everything that the concentration of a solution rests on.

    Attributes
    ----------
    unit
        Unit of the result; it decides the kind of concentration.
    solid_start_mg, solid_end_mg, solvent_start_mg, solvent_end_mg
        Readings as displayed [mg]; a start of 0 where the balance was zeroed.
    shared_reading
        The reading that ended the first weighing began the second, without zeroing between.
    solvent_first
        The solvent was weighed before the solid.
    solvent_balance
        None: the same balance as for the solid.
    solid_density_kg_m3, solution_density_g_ml
        None: assumed, with an uncertainty that says so and a remark.
    loss_before, loss_after
        Solvent lost between its weighing and the last weighing (only where the solvent was first), and after
        the last weighing.
    """

    unit: str
    solid_start_mg: float
    solid_end_mg: float
    solvent_start_mg: float
    solvent_end_mg: float
    balance: BalanceData
    content: Content
    air_kg_m3: float = 1.2
    u_air_kg_m3: float = 0.03
    solvent_density_kg_m3: float
    u_solvent_density_kg_m3: float = 0.0
    solid_density_kg_m3: float | None = None
    u_solid_density_kg_m3: float = 0.0
    solvent_balance: BalanceData | None = None
    shared_reading: bool = False
    solvent_first: bool = False
    solvent_is_water: bool = False
    molar_mass_g_mol: float | None = None
    """Of the analyte where there is no formula."""
    u_molar_mass_g_mol: float | None = None
    solution_density_g_ml: float | None = None
    u_solution_density_g_ml: float | None = None
    temperature_c: float | None = None
    loss_before: Loss = field(default_factory=Loss)
    loss_after: Loss = field(default_factory=Loss)


@dataclass(frozen=True, slots=True, kw_only=True)
class CameOut:
    """What came out of one vessel, however it was made; `value`, `u` and `U` in `unit`.

    Attributes
    ----------
    complete, missing
        Whether nothing that the uncertainty needs is missing, and what is.
    remarks
        What was assumed, for the page of the result.
    w
        Mass fraction of analyte [g/g].
    """

    value: float
    unit: str
    u: float
    u_rel: float
    k: float
    dof: float
    U: float
    complete: bool
    missing: tuple[str, ...]
    remarks: tuple[str, ...]
    components: tuple[Component, ...]
    w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SolutionResult(CameOut):
    """What came out of a solid and a solvent.

    Attributes
    ----------
    solid_mass_g, solvent_mass_g
        True masses [g], the solvent's after losses.
    """

    content: float
    solid_mass_g: float
    solvent_mass_g: float
    solution_density_g_ml: float | None
    temperature_c: float | None
    factors: tuple[Factor, ...] = ()
    """From mass of solid to mass of analyte, by name; their product is `content`."""
    molar_mass_g_mol: float | None = None
    """Of the analyte, where the result is an amount."""
    solvent_share: float = 0.0
    """Mass fraction of the solid that counts as solvent in a molality."""
