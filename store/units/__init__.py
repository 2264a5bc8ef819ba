"""Text to quantity to text: the one place where typed numbers and units are read and results formatted."""

from store.units.formatting import figure, fixed, percent, rounded, shown, weighed
from store.units.parsing import UNITS, Quantity, convert, kind_of, number, plain, quantity, unit_of

__all__ = [
    "UNITS",
    "Quantity",
    "convert",
    "figure",
    "fixed",
    "kind_of",
    "number",
    "percent",
    "plain",
    "quantity",
    "rounded",
    "shown",
    "unit_of",
    "weighed",
]
