"""CSV cells that no spreadsheet runs."""

import math

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
