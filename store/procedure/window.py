"""What is aimed at and what counts as inside; what acceptance would give; the minimum weight."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from typing import Any

from store.calc.weighing import minimum_weight_mg
from store.model.registers import Balance
from store.model.settings import value
from store.procedure import inputs
from store.readings import as_displayed
from store.units import number

ROUNDING = 1e-9
"""Relative; what a difference of floats may add at an edge."""


@dataclass(frozen=True, slots=True)
class Window:
    """The mass aimed at and the half-width of what counts as inside, in mg as displayed.

    `step_mg` is one step of the display's last digit: no mass is said finer than the balance shows it.
    """

    aim_mg: float
    half_mg: float
    note: str = ""
    step_mg: float = 0.01

    def holds(self, total_mg: float) -> bool:
        """Say whether a total is inside; both ends belong to it."""
        return abs(total_mg - self.aim_mg) <= self.half_mg * (1 + ROUNDING)

    def aim_words(self, unit: str) -> str:
        """Give the aim in the unit of the display."""
        return f"aim {self.shown(self.aim_mg, unit)}" + (f" ({self.note})" if self.note else "")

    def span_words(self, unit: str) -> str:
        """Give the window in the unit of the display."""
        low, high = (self.shown(self.aim_mg + side * self.half_mg, unit) for side in (-1, 1))
        return f"inside from {low.rsplit(' ', 1)[0]} to {high}"

    def to_go_words(self, total_mg: float, unit: str) -> str:
        """Say how far it is, and whether it is inside."""
        left = self.aim_mg - total_mg
        where = "inside" if self.holds(total_mg) else ("too little" if left > 0 else "too much")
        return f"{self.shown(left, unit)}, {where}"

    def words(self, total_mg: float, unit: str = "mg") -> str:
        """Say where a total lies; outside, by how much in steps of the display, a begun one counted whole.

        >>> Window(12.0, 0.6, step_mg=0.01).words(11.39326)
        '0.01 mg under the window'
        """
        off = total_mg - self.aim_mg
        if self.holds(total_mg):
            return "inside the window"
        steps = ceil((abs(off) - self.half_mg) / self.step_mg - 1e-6)
        return f"{self.shown(steps * self.step_mg, unit)} {'over' if off > 0 else 'under'} the window"

    def shown(self, mass_mg: float, unit: str) -> str:
        """A mass in the unit of the display, with the digits that it shows."""
        return as_displayed(mass_mg, unit, step_mg=self.step_mg)


_LEFT, _ROOM = 26, 58
"""Columns of what is to be added, and of both, beside `if accepted now` at 80 columns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IfTaken:
    """What accepting the reading now would give; empty texts where nothing can be said yet."""

    strength: str = ""
    solvent_mg: str = ""
    fill: str = ""
    minimum: str = ""
    note: str = ""

    def lines(self) -> tuple[str, ...]:
        """Give it as lines for a screen."""
        if not self.solvent_mg:
            return tuple(text for text in (self.strength, self.fill, self.note) if text)
        first = f"solvent to add {float(self.solvent_mg) / 1000:.3f} g"
        # A long unit must not push the coverage factor out of the screen.
        left = min(_LEFT, max(len(first) + 1, _ROOM - len(self.strength)))
        rows = ((first, self.strength), (self.fill, self.minimum), (self.note, ""))
        return tuple(f"{a:<{left}}{b}".rstrip() for a, b in rows if a or b)

    def to_body(self) -> dict[str, Any]:
        """Give it as it stands in a journal body."""
        return {k: v for k in self.__slots__ if (v := getattr(self, k))}


def minimum_mg(basis: Mapping[str, Any]) -> float:
    """Give the smallest net sample of this balance in this place, in mg. USP <41>."""
    data = inputs.balance_data(Balance.from_body(basis["balance"]))
    return minimum_weight_mg(
        readability_mg=data.readability_mg,
        sd_mg=data.sd_mg or 0.0,
        limit_percent=float(number(value(basis["settings"], "minimum_weight_limit"))),
        factor=float(number(value(basis["settings"], "minimum_weight_factor"))),
    )
