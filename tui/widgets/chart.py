"""An individuals chart in signs: rows of values, limits as lines, a mark where a rule was broken."""

from collections.abc import Sequence

from store.calc.chart import Chart

POINT, BROKEN, LIMIT, MEAN = "o", "X", "-", "="
LEAD = 11
"""Room for the value at the left."""


def drawn(values: Sequence[float], chart: Chart, *, width: int, height: int) -> tuple[str, ...]:
    """Draw the newest points that fit, each in a column; `o` is a point, `X` one that completed a rule.

    >>> from store.calc.chart import individuals
    >>> values = [1.0, 1.1, 0.9, 1.0]
    >>> for line in drawn(values, individuals(values), width=20, height=7): print(line.rstrip())
    upper 1.355 --------
    <BLANKLINE>
                 o
    mean  1.000 o==o====
                  o
    <BLANKLINE>
    lower 0.645 --------
    """
    columns = max(1, width - LEAD - 1)
    shown = list(values)[-columns:]
    first = len(values) - len(shown)
    low = min(chart.lcl, *shown)
    high = max(chart.ucl, *shown)
    span = high - low

    def row_of(value: float) -> int:
        return round((high - value) / span * (height - 1)) if span else height // 2

    grid = [[" "] * columns for _ in range(height)]
    labels = [""] * height
    for name, value, sign in (
        ("upper", chart.ucl, LIMIT),
        ("lower", chart.lcl, LIMIT),
        ("mean", chart.mean, MEAN),
    ):
        grid[row_of(value)] = [sign] * columns
        labels[row_of(value)] = f"{name:<6}{value:.3f}"
    broken = {signal.at - 1 for signal in chart.signals}
    for n, value in enumerate(shown):
        grid[row_of(value)][n] = BROKEN if first + n in broken else POINT
    return tuple(f"{label:<{LEAD}} {''.join(row)}" for label, row in zip(labels, grid, strict=True))


def rules(chart: Chart, names: Sequence[str]) -> tuple[str, ...]:
    """Name the rules that were broken, and the point that completed each.

    >>> from store.calc.chart import individuals
    >>> rules(individuals([1.0, 1.01, 1.0, 1.01]), ("a", "b", "c", "d"))
    ("none of Nelson's rules is broken",)
    """
    if not chart.signals:
        return ("none of Nelson's rules is broken",)
    return tuple(f"rule {s.rule}, {s.name}: complete at {names[s.at - 1]}" for s in chart.signals)
