"""What a series of levels rests on: readings, stocks, and each level as weighed."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from store.calc.given import BalanceData, Loss


@dataclass(frozen=True, slots=True)
class Reading:
    """What a display showed [mg]; two readings of one name are one and the same."""

    name: str
    shown_mg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """What levels are made from: its value w and standard uncertainty, in the unit of the series.

    The unit is per mass of solution (mg/g, µg/kg); the density [kg/m3] is for buoyancy.
    """

    name: str
    value: float
    u: float
    density_kg_m3: float = 998.0
    u_density_kg_m3: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One level as weighed; without a source it is a blank."""

    name: str
    source: str = ""
    """Name of a stock, or of a level before this one."""
    aliquot: tuple[Reading, Reading] | None = None
    """Readings before and after the aliquot; the second may be the lower, where it is weighed out by
    difference."""
    diluent: tuple[Reading, Reading] | None = None
    balance: str = ""
    """Empty: the first balance given."""
    density_kg_m3: float = 998.0
    """Of the level itself, where a later one is made from it."""
    loss: Loss = field(default_factory=Loss)
    """Solvent lost after the last weighing of the level."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Common:
    """What all levels share: the balances they were weighed on, the solvent, and the gas around the pan."""

    balances: Sequence[BalanceData]
    diluent_density_kg_m3: float = 998.0
    u_diluent_density_kg_m3: float = 0.0
    air_kg_m3: float = 1.2
    u_air_kg_m3: float = 0.03
