"""Text to quantity to text: the one place where typed numbers and units are read and results formatted."""

from store.units.formatting import (
    clock,
    factor_k,
    figure,
    fixed,
    milligrams,
    net,
    percent,
    rounded,
    shown,
    signed,
    stated,
    weighed,
)
from store.units.parsing import UNITS, Quantity, convert, kind_of, number, plain, quantity, unit_of

__all__ = [
    "UNITS",
    "Quantity",
    "clock",
    "convert",
    "factor_k",
    "figure",
    "fixed",
    "kind_of",
    "milligrams",
    "net",
    "number",
    "percent",
    "plain",
    "quantity",
    "rounded",
    "shown",
    "signed",
    "stated",
    "unit_of",
    "weighed",
]
