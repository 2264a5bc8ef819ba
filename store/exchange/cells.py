"""CSV cells that no spreadsheet runs."""

import math
from dataclasses import fields
from functools import cache
from typing import TYPE_CHECKING, Any

from store.queries import decimals
from store.units import figure

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

_RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def guarded(cell: object) -> object:
    """Give a cell with text that a spreadsheet would run made harmless by a leading apostrophe.

    Examples
    --------
    >>> guarded("=1+1"), guarded(" @SUM(A1)"), guarded("-5.2"), guarded(-5.2), guarded("K2Cr2O7")
    ("'=1+1", "' @SUM(A1)", '-5.2', -5.2, 'K2Cr2O7')
    """
    if not isinstance(cell, str) or not cell.lstrip(" ").startswith(_RUNS):
        return cell
    try:
        return cell if math.isfinite(float(cell)) and cell == cell.strip() else "'" + cell
    except ValueError:
        return "'" + cell


def plain(value: Any) -> Any:
    """Give what stands in one cell: a list parted by semicolons, yes or no for a flag, empty for unknown.

    Examples
    --------
    >>> plain(("H350", "H340")), plain(True), plain(None), plain(1.5)
    ('H350; H340', 'yes', '', 1.5)
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return "; ".join(map(str, value))
    return value


def as_text(value: Any) -> str:
    """Give a cell as text; control signs of outside text stand as escapes.

    Examples
    --------
    >>> as_text(12.5000001), as_text("a\\x1b[31m")
    ('12.5', 'a\\\\x1b[31m')
    """
    cell = plain(value)
    if isinstance(cell, float):
        return decimals.shown(figure(cell))
    return decimals.shown("".join(c if c.isprintable() else repr(c)[1:-1] for c in str(cell)))


def fields_of(row: "DataclassInstance") -> dict[str, Any]:
    """Give the fields of a row by name; what is in them is not copied, which a long export would wait for."""
    return {name: getattr(row, name) for name in _names(type(row))}


@cache
def _names(kind: "type[DataclassInstance]") -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))
