"""A series of levels by mass: readings in, values with their covariance out.

Every level is a function of one common list of inputs, so what two levels share (a stock, a balance, the air,
one and the same reading) makes them correlated by being the same input.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from store.calc.buoyancy import REFERENCE_KG_M3
from store.calc.covariance import Models, Series, joint
from store.calc.given import BalanceData
from store.calc.guard import not_negative, positive
from store.calc.levels import Common, Level, Reading, Stock
from store.calc.parts import Inputs
from store.calc.uncertainty import Budget, propagate, rectangular
from store.errors import OutOfRange


def of_series(*, stocks: Sequence[Stock], levels: Sequence[Level], common: Common) -> Series:
    """Levels w = w_source · m/(m + S − loss), with true masses, and their covariance matrix.

    Parameters
    ----------
    stocks, levels
        A level may come from a stock or from a level before it (a serial series).
    common
        Levels on one balance share its sensitivity and the air; each reading has s/√2 of its own.

    Raises
    ------
    OutOfRange
        A source, a balance or a net that cannot be.

    Examples
    --------
    >>> b = BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.01)
    >>> def level(n, aliquot):
    ...     return Level(name=f"L{n}", source="S", aliquot=(Reading(f"{n}a", 0), Reading(f"{n}b", aliquot)),
    ...                  diluent=(Reading(f"{n}c", 0), Reading(f"{n}d", 20000 - aliquot)))
    >>> s = of_series(stocks=[Stock(name="S", value=1.0, u=0.002)], levels=[level(1, 200), level(2, 2000)],
    ...               common=Common(balances=[b], u_air_kg_m3=0.0))
    >>> [round(v, 6) for v in s.values], round(s.correlation[0][1], 3)
    ([0.01, 0.1], 1.0)

    Notes
    -----
    A blank has the value 0 and no uncertainty here: what the solvent itself holds is not known from masses.

    References
    ----------
    JCGM 102:2011, 6.2.
    """
    x, models = _built(stocks, levels, common)
    values, covariance = joint(models, x.inputs)
    return Series(tuple(level.name for level in levels), values, covariance)


def of_level(*, stocks: Sequence[Stock], levels: Sequence[Level], common: Common) -> Budget:
    """Value of the last of the levels with its budget, in the unit of the stocks; the rest as `of_series`.

    >>> b = BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.01)
    >>> one = Level(name="1", source="S", aliquot=(Reading("a", 0), Reading("b", 200)),
    ...             diluent=(Reading("c", 0), Reading("d", 19800)))
    >>> found = of_level(
    ...     stocks=[Stock(name="S", value=1.0, u=0.002)], levels=[one], common=Common(balances=[b]))
    >>> round(found.value, 6), found.components[0].name
    (0.01, 'stock S')
    """
    needed = [levels[-1]]
    for level in reversed(levels[:-1]):
        if any(n.source == level.name for n in needed):
            needed.insert(0, level)
    used = {n.source for n in needed}
    x, models = _built([s for s in stocks if s.name in used], needed, common)
    return propagate(lambda v: models(v)[-1], x.inputs)


def _built(stocks: Sequence[Stock], levels: Sequence[Level], common: Common) -> tuple[Inputs, Models]:
    """Give the inputs that all levels rest on, and the levels as a function of them."""
    balances = common.balances
    if not balances:
        raise OutOfRange("A series was weighed on a balance: give it.")
    x, at = Inputs(), {b.name: b for b in balances}
    at_air = x.add(
        "air density", positive(common.air_kg_m3, "air density", "kg/m3"), common.u_air_kg_m3, "kg/m3"
    )
    at_rho = x.add(
        "density of the solvent",
        positive(common.diluent_density_kg_m3, "density", "kg/m3"),
        common.u_diluent_density_kg_m3,
        "kg/m3",
    )
    scales = {
        b.name: x.add(f"sensitivity of {b.name}", 0.0, rectangular(b.sensitivity_rel)) for b in balances
    }
    sources = {
        s.name: (
            x.add(f"stock {s.name}", positive(s.value, f"stock {s.name}"), not_negative(s.u, "uncertainty")),
            x.add(f"density of {s.name}", s.density_kg_m3, s.u_density_kg_m3, "kg/m3"),
        )
        for s in stocks
    }
    rows, known = [], {s.name for s in stocks}
    for level in levels:
        balance = at.get(level.balance or balances[0].name)
        if balance is None:
            raise OutOfRange(f"Level {level.name}: balance {level.balance} is not among those given.")
        if level.name in known:
            raise OutOfRange(f"There are two of the name {level.name}: give each level a name of its own.")
        if level.source and level.source not in known:
            raise OutOfRange(
                f"Level {level.name}: its source {level.source} is no stock and no level before."
            )
        known.add(level.name)
        rows.append(_row(x, level, balance, scales[balance.name], sources))

    def models(v: Sequence[float]) -> Sequence[float]:
        made = {name: v[place] for name, (place, _) in sources.items()}
        for row in rows:
            made[row.name] = row.value(v, made.get(row.source, 0.0), air=v[at_air], solvent=v[at_rho])
        return [made[row.name] for row in rows]

    return x, models


@dataclass(frozen=True, slots=True)
class _Row:
    """One level with the places of its inputs."""

    name: str
    source: str
    nets: tuple[tuple[int, int, int], tuple[int, int, int]] | None
    """First reading, last reading, linearity: of the aliquot and of the diluent."""
    scale: int
    density: int
    loss: int
    adjusted: float | None

    def value(self, v: Sequence[float], source: float, *, air: float, solvent: float) -> float:
        if self.nets is None:
            return 0.0
        gain = (1.0 + v[self.scale]) * (
            1.0 - (air if self.adjusted is None else self.adjusted) / REFERENCE_KG_M3
        )
        (a0, a1, la), (d0, d1, ld) = self.nets
        aliquot = gain * (abs(v[a1] - v[a0]) + v[la]) / (1.0 - air / v[self.density])
        diluent = gain * (abs(v[d1] - v[d0]) + v[ld]) / (1.0 - air / solvent)
        return source * aliquot / (aliquot + diluent - v[self.loss])


def _row(
    x: Inputs, level: Level, balance: BalanceData, scale: int, sources: dict[str, tuple[int, int]]
) -> _Row:
    s_mg, dof = balance.repeatability_mg()
    if not level.source:
        return _Row(level.name, "", None, scale, 0, 0, None)
    if level.aliquot is None or level.diluent is None:
        raise OutOfRange(f"Level {level.name}: the readings of aliquot and diluent are needed.")

    def net(what: str, readings: tuple[Reading, Reading]) -> tuple[int, int, int]:
        first, last = readings
        mg = positive(abs(last.shown_mg - first.shown_mg), f"{what} of level {level.name}", "mg")
        # A reading of s/√2 makes a net of s; one name is one reading, shared by what stands on it.
        places = [
            x.add(
                f"reading {r.name}",
                r.shown_mg,
                s_mg / math.sqrt(2.0),
                "mg",
                component=f"repeatability of the {what} of {level.name}",
                dof=dof,
                pool=f"s of {balance.name}",
            )
            for r in readings
        ]
        for place, reading in zip(places, readings, strict=True):
            if x.inputs[place].value != reading.shown_mg:
                raise OutOfRange(f"Reading {reading.name} has two values: give each reading its own name.")
        u = math.sqrt(2.0) * rectangular(balance.linearity_for_mg(mg))
        linearity = x.add(f"linearity, {what} of {level.name}", 0.0, u, "mg")
        return places[0], places[1], linearity

    nets = net("aliquot", level.aliquot), net("diluent", level.diluent)
    density = (
        sources[level.source][1]
        if level.source in sources
        else x.add(f"density of {level.source}", level.density_kg_m3, 0.0, "kg/m3")
    )
    loss = x.add(f"evaporation of {level.name}", level.loss.value_mg, level.loss.u_mg, "mg")
    return _Row(level.name, level.source, nets, scale, density, loss, balance.adjustment_air_kg_m3)
