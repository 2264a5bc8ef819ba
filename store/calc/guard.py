"""What no sum may be fed: not finite, not positive, or outside the range its formula was published for."""

import math

from store.errors import OutOfRange
from store.units import figure

ABSURD_G = 1e6
"""A tonne: no laboratory balance weighs it, so a larger mass is a slip of the hand."""


def finite(value: float, name: str) -> float:
    """Refuse NaN and infinity.

    >>> finite(1.5, "mass")
    1.5
    """
    if not math.isfinite(value):
        raise OutOfRange(f"The {name} is {figure(value)}: give a number.")
    return value


def positive(value: float, name: str, unit: str = "", *, most: float = math.inf) -> float:
    """Refuse zero, less, and more than could be meant.

    >>> positive(2.0, "mass", "g")
    2.0
    """
    finite(value, name)
    if value <= 0:
        raise OutOfRange(f"The {name} is {figure(value)} {unit}".rstrip() + ": it must be more than zero.")
    if value > most:
        raise OutOfRange(f"The {name} is {figure(value)} {unit}".rstrip() + f": at most {figure(most)}.")
    return value


def not_negative(value: float, name: str, unit: str = "") -> float:
    """Refuse less than zero.

    >>> not_negative(0.0, "uncertainty")
    0.0
    """
    finite(value, name)
    if value < 0:
        raise OutOfRange(f"The {name} is {figure(value)} {unit}".rstrip() + ": it must not be negative.")
    return value


def within(value: float, name: str, *, low: float, high: float, unit: str = "", source: str = "") -> float:
    """Refuse what lies outside a range; both ends belong to it.

    >>> within(20.0, "temperature", low=0.0, high=40.0, unit="degC")
    20.0
    """
    finite(value, name)
    if not low <= value <= high:
        of = f" of {source}" if source else ""
        span = f"{figure(low)} to {figure(high)} {unit}".rstrip()
        raise OutOfRange(f"The {name} is {figure(value)} {unit}".rstrip() + f": the range{of} is {span}.")
    return value


def fraction(value: float, name: str) -> float:
    """Refuse what is no fraction above 0 and up to 1.

    >>> fraction(0.985, "purity")
    0.985
    """
    finite(value, name)
    if not 0 < value <= 1:
        raise OutOfRange(f"The {name} is {figure(value)}: it lies above 0 and up to 1.")
    return value
