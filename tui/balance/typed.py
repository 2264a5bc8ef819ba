"""A balance whose display a person reads, or which types into the keyboard: nothing comes by itself."""

from dataclasses import dataclass

from tui.balance.protocol import Kind, Sample


@dataclass(frozen=True, slots=True)
class Typed:
    """Readings come as keys."""

    name: str
    kind: Kind = "typed"
    """`typed`, or `wedge` where the balance types digits and Enter."""

    def poll(self, at_s: float) -> Sample | None:
        """Give None: its display is not known until it is typed."""
        return None

    def lines(self) -> tuple[str, ...]:
        """Give nothing; it sends no lines."""
        return ()

    def state(self) -> str:
        """Say nothing; there is no link to lose."""
        return ""

    def close(self) -> None:
        """Do nothing; there is nothing to let go of."""
