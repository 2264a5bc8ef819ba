"""Whether preparing a substance is in control: achieved over target, prep after prep."""

from collections.abc import Sequence
from typing import ClassVar

from store.queries import control
from tui.commands import BACK, HELP, PAGE, Command
from tui.screens.desk import Desk
from tui.screens.frame import wrapped
from tui.screens.reading import Reading
from tui.screens.tabled import tabled
from tui.widgets import chart as signs

ROWS = 11
"""Rows of the plot."""


class ChartScreen(Reading[None]):
    """An individuals chart of one substance, its limits from the moving range."""

    CSS_PATH = ["frame.tcss", "prep_page.tcss"]
    NAME = "Chart"
    KEYS: ClassVar[tuple[Command, ...]] = (PAGE, BACK, HELP)
    HELP_LINES = (
        "Achieved over target; 1 is what was wanted. Limits are the mean and three times the moving range "
        "over 1.128, so they come from the points themselves and are no tolerance. X completes one of "
        "Nelson's rules, named below.",
    )

    def __init__(self, desk: Desk, substance: str, *, target: str = "") -> None:
        super().__init__(desk)
        self.found = control.of(desk.record, substance, target=target)

    def show_head(self) -> None:
        """Show what is charted."""
        what = f", target {self.found.target}" if self.found.target else ""
        self.NAME = f"Achieved over target: {self.found.substance}{what}"
        super().show_head()

    def text(self, width: int) -> Sequence[str]:
        """Give the plot, the rules that were broken, and the points."""
        points, chart = self.found.points, self.found.chart
        if chart is None:
            few = f"preps with a result: {len(points)}. A chart needs {control.FEWEST}."
            return (few, *_rows(self.found, width))
        return (
            *signs.drawn([p.ratio for p in points], chart, width=width, height=ROWS),
            "",
            *wrapped(signs.rules(chart, [p.prep for p in points]), width, indent="  "),
            "",
            *_rows(self.found, width),
        )


def _rows(found: control.Control, width: int) -> Sequence[str]:
    rows = [
        (p.prep, p.day, f"{p.ratio:.5f}", p.target, p.by, p.balance, "STALE" if p.stale else p.status)
        for p in reversed(found.points)
    ]
    return tabled(("prep", "planned", "ratio", "target", "by", "balance", ""), rows, width)
