"""The row of halvings, as a view."""

from rich.text import Text
from textual.widgets import Static

from tui.guide import halvings


class Halvings(Static):
    """One block for each halving left; the words say the same."""

    DEFAULT_CSS = "Halvings { height: 1; width: 1fr; }"

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__("", markup=False, id=id)
        self._words = ""

    def show(self, to_go: float, tolerance: float) -> None:
        """Show how far it is, both in one unit of mass."""
        words = f"halvings left  {halvings.row(to_go, tolerance)}   {halvings.words(to_go, tolerance)}"
        if words != self._words:
            self._words = words
            self.update(Text(words))
