"""Register rows by which a competent person decides: a procedure, the class of a solution, a waste stream."""

from dataclasses import dataclass

from store.errors import BadInput, StoreError
from store.model.columns import Row, col
from store.units import number

PLACES = ("vessel", "waste", "cleaning")
"""Where things meet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure(Row):
    """An approved way of doing what a mixing rule stops: by whom, until when, up to what strength."""

    id: str = col("number of the procedure", "id")
    text: str = col("what it allows and how, in a sentence or two")
    rules: tuple[str, ...] = col("mixing rules it is for, such as `azide-acid`", "list", default=())
    up_to: tuple[str, ...] = col(
        "greatest strength in percent by mass, such as `NAN3: 0.1`; of the solute in the finished solution",
        "list",
        default=(),
    )
    substances: tuple[str, ...] = col("substances it is for; empty for all", "list", default=())
    places: tuple[str, ...] = col("vessel, waste, cleaning; empty for all three", "list", default=())
    people: tuple[str, ...] = col("people it is for; empty for all", "list", default=())
    approved_by: str = col("approved by", "ref:person")
    since: str = col("in force since", "date")
    until: str = col("in force until", "date")

    @property
    def ceilings(self) -> tuple[tuple[str, float], ...]:
        """Each substance with its greatest strength in percent by mass."""
        return tuple(strength_of(text) for text in self.up_to)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture(Row):
    """A solution as a competent person classifies it, below a strength: by whom, why, since when."""

    id: str = col("number of the classification", "id")
    substance: str = col("what is dissolved", "ref:substance")
    solvent: str = col("what it is dissolved in", "ref:substance")
    below: str = col("used below this strength in percent by mass", "percent")
    classification: tuple[str, ...] = col(
        "classification of the whole solution, such as `Carc. 1B H350`; `not classified`", "statements"
    )
    edition: str = col("edition of the classification", default="")
    skin_notation: bool = col("passes through the skin", "yesno", default=False)
    hazardous_drug: bool = col("on the site's hazardous drug list", "yesno", default=False)
    peroxide_former: bool = col("forms peroxides", "yesno", default=False)
    reason: str = col("why, and from which data")
    classified_by: str = col("classified by", "ref:person")
    since: str = col("in force since", "date")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream(Row):
    """A waste stream or a cleaning liquid of the site's own, and the worst that may be in it."""

    id: str = col("number of the stream or liquid", "id")
    name: str = col("its name, as substances write their waste stream and enclosures their cleaning liquids")
    kind: str = col("a waste stream, or a liquid to clean with", "choice", choices=("waste", "cleaning"))
    holds: tuple[str, ...] = col(
        "the worst that may be in it, in percent by mass, such as `water: 90`, `nitric acid: 5`; names or "
        "tags of the mixing rules, or substances of the register",
        "list",
    )
    approved_by: str = col("who answers for it", "ref:person")
    since: str = col("holds since", "date")

    @property
    def components(self) -> tuple[tuple[str, float], ...]:
        """Each component with its percent by mass."""
        return tuple(strength_of(text) for text in self.holds)


def strength_of(text: str) -> tuple[str, float]:
    """Read a substance and its greatest strength in percent by mass.

    >>> strength_of("NAN3: 0.1")
    ('NAN3', 0.1)

    Raises
    ------
    BadInput
        It is not written so.
    """
    substance, sign, percent = text.partition(":")
    try:
        value = float(number(percent.strip().removesuffix("%").strip()))
    except StoreError:
        value = 0.0
    if not (sign and substance.strip()) or not 0 < value <= 100:
        raise BadInput(f"{text!r}: write a substance, a colon and percent by mass, such as `NAN3: 0.1`.")
    return substance.strip(), value
