"""Generic concentration limits of mixtures, as information with its source. Nothing is lowered by it."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from store.errors import OutOfRange
from store.hazards.data import table
from store.units import figure

_WRITTEN = re.compile(r"(?P<code>[^*]*?)\*? (?:EUH|H)\d{3}")
_M_FACTOR = re.compile(r" M=(\d+)$")


@dataclass(frozen=True, slots=True)
class Limit:
    """One generic limit beside one classification, and where a strength stands to it."""

    classification: str
    class_code: str
    least: float
    """Mass fraction from which the limit applies [g/g]."""
    below: float
    """Mass fraction at which it ends, since a stricter one begins [g/g]; 1 where it has no end."""
    becomes: str
    reached: bool
    passed: bool
    """The strength lies in a stricter limit of the same class."""
    source: str

    @property
    def span(self) -> str:
        """From which strength it applies, and what the mixture is then."""
        span = f"from {_percent(self.least)} %" + (f" to {_percent(self.below)} %" if self.below < 1 else "")
        return f"{span} {self.becomes}".replace(" the same", "")

    @property
    def text(self) -> str:
        """The limit for a person; reached or not, the substance's own hazards are shown."""
        place = "reached" if self.reached else "passed" if self.passed else "not reached"
        return f"{self.classification}: {self.span} ({place}; generic limit, for information)"


def generic(classes: Iterable[object], *, fraction: float) -> tuple[Limit, ...]:
    """Give the generic limits that concern a substance at a strength in a mixture.

    Parameters
    ----------
    classes
        What the pure substance is classified as: classifications, or their text as a snapshot carries it.
    fraction
        Mass fraction of the substance in the mixture [g/g].

    Raises
    ------
    OutOfRange
        The mass fraction is not between 0 and 1.

    Examples
    --------
    >>> [limit.reached for limit in generic(["Carc. 1B H350"], fraction=0.001)]
    [True]
    >>> [limit.least for limit in generic(["Aquatic Acute 1 H400 M=10"], fraction=0.0)]
    [0.025]

    References
    ----------
    .. [1] CLP Annex I, parts 3 and 4, from memory; specific limits of Annex VI come before it.
    """
    if not 0 <= fraction <= 1:
        raise OutOfRange(f"Mass fraction {fraction:g}: write a number from 0 to 1.")
    data = table("limits.toml")
    out = []
    for one in map(str, classes):
        written = _WRITTEN.match(one)
        code = written["code"].strip() if written else ""
        factor = _M_FACTOR.search(one)
        for row in data["limit"]:
            if code in row["classes"]:
                m = float(factor[1]) if factor and row.get("by_m_factor") else 1.0
                least = row["least"] / m
                below = row["below"] / m if "below" in row else 1.0
                on, passed = fraction >= least, "below" in row and fraction >= below
                out.append(
                    Limit(one, code, least, below, row["becomes"], on and not passed, passed, data["source"])
                )
    return tuple(out)


def summary(name: str, of: Sequence[Limit], *, fraction: float) -> Iterator[str]:
    """Say in two sentences which generic limits a substance reaches at a strength, and which it does not.

    Parameters
    ----------
    name
        Of the substance.
    of
        Its limits, from `generic`.
    fraction
        Mass fraction of the substance in the mixture [g/g].

    Examples
    --------
    >>> found = generic(["Carc. 1B H350", "Skin Corr. 1B H314"], fraction=0.002)
    >>> for line in summary("potassium dichromate", found, fraction=0.002):
    ...     print(line)
    potassium dichromate at 0.2 % by mass reaches Carc. 1B from 0.1 %
    below the limit of Skin Corr. 1B from 1 % to 5 % irritant
    """
    met = [f"{one.class_code} {one.span}" for one in of if one.reached]
    codes = {one.class_code for one in of if one.reached}
    lowest: dict[str, Limit] = {}
    for one in of:
        if one.class_code not in codes and one.least < getattr(lowest.get(one.class_code), "least", 2.0):
            lowest[one.class_code] = one
    reaches = f"reaches {_joined(met)}" if met else "reaches none of its limits"
    yield f"{name} at {_percent(fraction)} % by mass {reaches}"
    if lowest:
        yield f"below the limit of {_joined(f'{one.class_code} {one.span}' for one in lowest.values())}"


def _joined(parts: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(parts))


def _percent(fraction: float) -> str:
    return figure(100.0 * fraction, 3)
