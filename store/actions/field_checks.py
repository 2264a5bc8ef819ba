"""One field of a register row: its text is read by the kind that its column declares, or refused."""

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field
from datetime import date
from decimal import Decimal
from typing import Any

from store.actions.known import Known
from store.actions.list_entries import ENTRIES, choice, ref
from store.errors import BadField, BadInput, StoreError
from store.model.registers import LIST_KINDS, check_id
from store.units import UNITS, number, plain, quantity

Cell = str | tuple[str, ...]

LONGEST = 2000
CONCENTRATIONS = ("mass_fraction", "molality", "mass_concentration", "amount_concentration")

_ISO = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_MAY_BE_ZERO = ("linearity", "linearity_small", "repeatability")

LIMITS: Mapping[str, tuple[str, str, bool]] = {
    "repeatability_n": ("10", "1000", True),
    "check_hours": ("0.5", "8784", False),
    "in_use_days": ("1", "3650", True),
    "shift_minutes": ("1", "720", True),
    "open_minutes": ("1", "720", True),
    "below": ("0.000001", "100", False),
    "warm_minutes": ("1", "1440", True),
    "warm_up_minutes": ("1", "2880", True),
    "thaws": ("0", "1000", True),
    "thaws_most": ("1", "1000", True),
    "thickness_mm": ("0.01", "5", False),
    "pressure_low": ("-5000", "5000", False),
    "pressure_high": ("-5000", "5000", False),
}
"""Least and greatest number that fits a column, and whether it is a whole one. Ten weighings: USP <41>."""


def value(column: Field[Any], cell: Cell, known: Known) -> Any:
    """Give the value of a field, of a row that is new or changed.

    Raises
    ------
    BadField
        With what to write instead.
    """
    name, kind = column.name, str(column.metadata["kind"])
    try:
        if kind in LIST_KINDS:
            return _list(column, cell, known)
        text = cell if isinstance(cell, str) else "; ".join(cell)
        text = fit(text.strip())
        if not text:
            return _when_empty(column)
        if kind.startswith("ref:"):
            return ref(kind.removeprefix("ref:"), text, known)
        if kind == "choice":
            return choice(text, column.metadata["choices"])
        if kind in ("number", "percent"):
            return _number(name, kind, text)
        if kind in UNITS or kind == "concentration":
            return _quantity(name, kind, text)
        return _KINDS[kind](text)
    except BadField as error:
        raise BadField(name, _first_line(error.what)) from None
    except StoreError as error:
        raise BadField(name, _first_line(str(error))) from None


def _first_line(text: str) -> str:
    """A formula error carries a caret under the place; among the faults of a file there is one line each."""
    return text.split("\n", 1)[0]


def fit(text: str) -> str:
    """Give text that can be shown anywhere, or say which sign cannot.

    Raises
    ------
    BadInput
        A control sign, one that is not seen or turns the line around, or more than 2000 signs.
    """
    if len(text) > LONGEST:
        raise BadInput(f"{len(text)} signs are too many: write at most {LONGEST}.")
    if not text.isprintable():
        for place, sign in enumerate(text, 1):
            if unicodedata.category(sign)[0] == "C" or sign in "\u2028\u2029":
                raise BadInput(f"sign {place} (U+{ord(sign):04X}) cannot be shown: take it out.")
    return text


def _number(name: str, kind: str, text: str) -> str:
    if kind == "percent" and name == "assay":
        return text  # read together with its uncertainty
    typed = number(text)
    usual = ("0", "100", False) if kind == "percent" else ("-1e9", "1e9", False)
    low, high, whole = LIMITS.get(name, usual)
    within(typed, low, high, whole=whole)
    return text


def within(typed: Decimal, low: str, high: str, *, whole: bool = False) -> None:
    """Refuse a number outside its limits.

    Raises
    ------
    BadInput
        Naming the limits.
    """
    if whole and typed != typed.to_integral_value():
        raise BadInput(f"{typed} is not a whole number: write one from {low} to {high}.")
    if not Decimal(low) <= typed <= Decimal(high):
        raise BadInput(f"{typed} does not fit: write a number from {low} to {high}.")


def _quantity(name: str, kind: str, text: str) -> str:
    typed = quantity(text, *(CONCENTRATIONS if kind == "concentration" else (kind,)))
    if typed.number < 0 or (not typed.number and name not in _MAY_BE_ZERO):
        raise BadInput(f"{plain(text)}: it must be more than zero.")
    return text


def _yesno(text: str) -> bool:
    if text.casefold() not in ("yes", "no"):
        raise BadInput(f"{plain(text)}: write yes or no.")
    return text.casefold() == "yes"


def day(text: str) -> str:
    """Give a day in ISO form.

    Raises
    ------
    BadInput
        It is none, or not of this time.
    """
    try:
        found = date.fromisoformat(text) if _ISO.fullmatch(text) else None
    except ValueError:
        found = None
    if found is None or not 1900 <= found.year < 2200:
        raise BadInput(f"{plain(text)} is not a day: write it as 2026-03-02.")
    return text


def _cas(text: str) -> str:
    from store.calc.cas import cas

    return cas(text)


def _formula(text: str) -> str:
    from store.calc.molar import formula

    return formula(text).text


def _as_it_is(text: str) -> str:
    return text


_KINDS: Mapping[str, Callable[[str], Any]] = {
    "text": _as_it_is,
    "id": check_id,
    "yesno": _yesno,
    "date": day,
    "cas": _cas,
    "formula": _formula,
}


def _when_empty(column: Field[Any]) -> Any:
    if column.default is MISSING:
        raise BadInput(f"this is missing: write the {column.metadata['what']}.")
    return column.default


# ---- lists ----


def _list(column: Field[Any], cell: Cell, known: Known) -> tuple[str, ...]:
    parts = cell.split(";") if isinstance(cell, str) else cell
    entries = tuple(text for part in parts if (text := fit(part.strip())))
    if not entries:
        return tuple(_when_empty(column))
    for entry in entries:
        if ";" in entry:
            raise BadInput(f"{plain(entry)}: a semicolon parts entries and cannot stand in one.")
        if entries.count(entry) > 1:
            raise BadInput(f"{plain(entry)} stands twice: write it once.")
    if column.metadata["kind"] == "roles":
        return tuple(choice(entry, column.metadata["choices"]) for entry in entries)
    reader = ENTRIES.get(column.name)
    if reader is None:
        return entries
    return tuple(dict.fromkeys(found for entry in entries for found in reader(entry, known)))
