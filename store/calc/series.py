"""A series of levels by mass, with the covariance matrix that a calibration fit needs.

Every level is a function of one common list of inputs, so what two levels share (a stock, a balance, the air,
one and the same reading) makes them correlated by being the same input.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from store.calc.given import BalanceData
from store.calc.guard import not_negative, positive
from store.calc.levels import Level, Reading, Stock
from store.calc.parts import Inputs
from store.calc.uncertainty import Budget, Input, propagate, rectangular
from store.errors import OutOfRange

__all__ = ["Level", "Reading", "Series", "Stock", "joint", "of_level", "of_series", "scaled"]

SOURCE = "JCGM 102:2011, 6.2: U_y = C·U_x·Cᵀ, the sensitivities C by central differences"


@dataclass(frozen=True, slots=True)
class Series:
    """Values of the levels and their covariance matrix, in the order of the levels."""

    names: tuple[str, ...]
    values: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    @property
    def u(self) -> tuple[float, ...]:
        """Standard uncertainty of each level."""
        return tuple(math.sqrt(max(0.0, row[n])) for n, row in enumerate(self.covariance))

    @property
    def correlation(self) -> tuple[tuple[float, ...], ...]:
        """Correlation matrix; a level without an uncertainty is correlated with none."""
        u = self.u
        return tuple(
            tuple(
                1.0 if i == j else max(-1.0, min(1.0, c / (u[i] * u[j]))) if u[i] and u[j] else 0.0
                for j, c in enumerate(row)
            )
            for i, row in enumerate(self.covariance)
        )


Models = Callable[[Sequence[float]], Sequence[float]]


def joint(models: Models, inputs: Sequence[Input]) -> tuple[tuple[float, ...], tuple[tuple[float, ...], ...]]:
    """Values of several results of the same independent inputs, and their covariance matrix.

    u(yᵢ, yⱼ) = Σₖ (∂yᵢ/∂xₖ)·(∂yⱼ/∂xₖ)·u²(xₖ)

    >>> a, b = Input("a", 2.0, 0.1), Input("b", 3.0, 0.2)
    >>> values, matrix = joint(lambda x: (x[0] + x[1], x[0] - x[1]), [a, b])
    >>> values, [[round(c, 6) for c in row] for row in matrix]
    ((5.0, -1.0), [[0.05, -0.03], [-0.03, 0.05]])

    References
    ----------
    JCGM 102:2011, 6.2; JCGM 100:2008, 5.2.2 and H.2.3.
    """
    at = [i.value for i in inputs]
    values = tuple(models(at))
    parts = []
    for n, given in enumerate(inputs):
        u = not_negative(given.u, f"uncertainty of {given.name}")
        if u:
            parts.append(_moved(models, at, n, 0.01 * u))
    many = range(len(values))
    return values, tuple(tuple(math.fsum(p[i] * p[j] for p in parts) for j in many) for i in many)


def _moved(models: Models, at: list[float], n: int, h: float) -> list[float]:
    """By how much each result changes with one standard uncertainty of an input, 100·h."""
    x = at[n]
    at[n] = x + h
    up = models(at)
    at[n] = x - h
    down = models(at)
    at[n] = x
    return [50.0 * (a - b) for a, b in zip(up, down, strict=True)]


def of_series(
    *,
    stocks: Sequence[Stock],
    levels: Sequence[Level],
    balances: Sequence[BalanceData],
    diluent_density_kg_m3: float = 998.0,
    u_diluent_density_kg_m3: float = 0.0,
    air_kg_m3: float = 1.2,
    u_air_kg_m3: float = 0.03,
) -> Series:
    """Levels w = w_source · m/(m + S − loss), with true masses, and their covariance matrix.

    Parameters
    ----------
    stocks, levels
        A level may come from a stock or from a level before it (a serial series).
    balances
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
    ...               balances=[b], u_air_kg_m3=0.0)
    >>> [round(v, 6) for v in s.values], round(s.correlation[0][1], 3)
    ([0.01, 0.1], 1.0)

    Notes
    -----
    A blank has the value 0 and no uncertainty here: what the solvent itself holds is not known from masses.

    References
    ----------
    JCGM 102:2011, 6.2.
    """
    x, models = _built(
        stocks=stocks,
        levels=levels,
        balances=balances,
        rho=(diluent_density_kg_m3, u_diluent_density_kg_m3),
        air=(air_kg_m3, u_air_kg_m3),
    )
    values, covariance = joint(models, x.inputs)
    return Series(tuple(level.name for level in levels), values, covariance)


def of_level(
    *,
    stocks: Sequence[Stock],
    levels: Sequence[Level],
    balances: Sequence[BalanceData],
    diluent_density_kg_m3: float = 998.0,
    u_diluent_density_kg_m3: float = 0.0,
    air_kg_m3: float = 1.2,
    u_air_kg_m3: float = 0.03,
) -> Budget:
    """Value of the last of the levels with its budget, in the unit of the stocks; the rest as `of_series`.

    >>> b = BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.01)
    >>> one = Level(name="1", source="S", aliquot=(Reading("a", 0), Reading("b", 200)),
    ...             diluent=(Reading("c", 0), Reading("d", 19800)))
    >>> found = of_level(stocks=[Stock(name="S", value=1.0, u=0.002)], levels=[one], balances=[b])
    >>> round(found.value, 6), found.components[0].name
    (0.01, 'stock S')
    """
    wanted, needed = levels[-1].name, [levels[-1]]
    for level in reversed(levels[:-1]):
        if any(n.source == level.name for n in needed):
            needed.insert(0, level)
    used = {n.source for n in needed}
    x, models = _built(
        stocks=[s for s in stocks if s.name in used],
        levels=needed,
        balances=balances,
        rho=(diluent_density_kg_m3, u_diluent_density_kg_m3),
        air=(air_kg_m3, u_air_kg_m3),
    )
    assert needed[-1].name == wanted
    return propagate(lambda v: models(v)[-1], x.inputs)


def _built(
    *,
    stocks: Sequence[Stock],
    levels: Sequence[Level],
    balances: Sequence[BalanceData],
    rho: tuple[float, float],
    air: tuple[float, float],
) -> tuple[Inputs, Models]:
    """Give the inputs that all levels rest on, and the levels as a function of them."""
    if not balances:
        raise OutOfRange("A series was weighed on a balance: give it.")
    x, at = Inputs(), {b.name: b for b in balances}
    at_air = x.add("air density", positive(air[0], "air density", "kg/m3"), air[1], "kg/m3")
    at_rho = x.add("density of the solvent", positive(rho[0], "density", "kg/m3"), rho[1], "kg/m3")
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
        gain = (1.0 + v[self.scale]) * (1.0 - (air if self.adjusted is None else self.adjusted) / 8000.0)
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


def scaled(series: Series, *, factor: float, u_rel: float = 0.0) -> Series:
    """Give the series in another unit, y = f·w, where f (a density, a molar mass) is common to all levels.

    u(yᵢ, yⱼ) = f²·u(wᵢ, wⱼ) + yᵢ·yⱼ·u_rel²(f)

    >>> s = Series(("a", "b"), (1.0, 2.0), ((0.01, 0.0), (0.0, 0.04)))
    >>> [[round(c, 4) for c in row] for row in scaled(s, factor=2.0, u_rel=0.1).covariance]
    [[0.08, 0.08], [0.08, 0.32]]
    """
    positive(factor, "factor")
    u2 = not_negative(u_rel, "uncertainty of the factor") ** 2
    values = tuple(factor * v for v in series.values)
    matrix = tuple(
        tuple(factor**2 * c + values[i] * values[j] * u2 for j, c in enumerate(row))
        for i, row in enumerate(series.covariance)
    )
    return replace(series, values=values, covariance=matrix)
