"""Generic concentration limits of mixtures, as information with its source. Nothing is lowered by it."""

from collections.abc import Sequence
from dataclasses import dataclass

from store.errors import OutOfRange
from store.hazards.classification import Classification
from store.hazards.data import table


@dataclass(frozen=True, slots=True)
class Limit:
    """One generic limit beside one classification, and where a strength stands to it."""

    classification: str
    least: float
    """Mass fraction from which the limit applies [g/g]."""
    below: float
    """Mass fraction at which it ends [g/g]; 1 where it has no end."""
    becomes: str
    reached: bool
    source: str

    @property
    def text(self) -> str:
        """The limit for a person; reached or not, the substance's own hazards are shown."""
        span = f"from {self.least * 100:g} %" + (f" to {self.below * 100:g} %" if self.below < 1 else "")
        place = "reached" if self.reached else "not reached"
        return f"{self.classification}: {span} {self.becomes} ({place}; generic limit, for information)"


def generic(classifications: Sequence[Classification], *, fraction: float) -> tuple[Limit, ...]:
    """Give the generic limits that concern a substance at a strength in a mixture.

    Parameters
    ----------
    classifications
        What the pure substance is classified as.
    fraction
        Mass fraction of the substance in the mixture [g/g].

    Raises
    ------
    OutOfRange
        The mass fraction is not between 0 and 1.

    Examples
    --------
    >>> from store.hazards.classification import classifications
    >>> [limit.reached for limit in generic(classifications(["Carc. 1B H350"]), fraction=0.001)]
    [True]

    References
    ----------
    .. [1] CLP Annex I, part 3, from memory; specific limits of Annex VI come before it.
    """
    if not 0 <= fraction <= 1:
        raise OutOfRange(f"Mass fraction {fraction:g}: write a number from 0 to 1.")
    data = table("limits.toml")
    out = []
    for one in classifications:
        for row in data["limit"]:
            if one.class_code in row["classes"]:
                below = row.get("below", 1.0)
                reached = row["least"] <= fraction and (fraction < below or below == 1.0)
                out.append(Limit(str(one), row["least"], below, row["becomes"], reached, data["source"]))
    return tuple(out)
