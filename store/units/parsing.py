"""Typed text to numbers and quantities.

A strict number parser and a closed list of units stand in front of everything: `24,5 mg` is 24.5 mg or
refused, never 245, and `Mg` is no milligram. pint is only ever given units of this list, on first use.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any

from store.errors import AmbiguousUnit, BadNumber, BadQuantity, UnknownCode

_TABLE = {
    "mass": "ug 1e-6; mg 1e-3; g 1; kg 1e3",
    "volume": "uL 1e-6; mL 1e-3; L 1",
    "mass_fraction": "g/g 1; mg/g 1e-3; ug/g 1e-6; ng/g 1e-9; g/kg 1e-3; mg/kg 1e-6; ug/kg 1e-9; % w/w 1e-2",
    "molality": "mol/kg 1; mmol/kg 1e-3; umol/kg 1e-6; mmol/g 1; umol/g 1e-3",
    "mass_concentration": "g/L 1; mg/mL 1; mg/L 1e-3; ug/mL 1e-3; ug/L 1e-6; ng/mL 1e-6; ng/L 1e-9",
    "amount_concentration": "mol/L 1; mmol/L 1e-3; umol/L 1e-6; nmol/L 1e-9",
    "density": "g/mL 1; g/cm3 1; kg/L 1; kg/m3 1e-3",
    "molar_mass": "g/mol 1; kg/mol 1e3",
    "temperature": "degC 0; K 0",
    "pressure": "Pa 1e-2; hPa 1; kPa 10",
    "time": "s 1; min 60; h 3600",
    "length": "mm 1e-3; cm 1e-2; m 1",
}
"""Kind: its units with the exact factor to a common one; 0 where an offset makes a factor wrong."""

_FACTORS = {
    kind: {unit: Decimal(factor) for unit, factor in (entry.rsplit(" ", 1) for entry in row.split("; "))}
    for kind, row in _TABLE.items()
}

UNITS: dict[str, tuple[str, ...]] = {kind: tuple(units) for kind, units in _FACTORS.items()}
"""What may be typed, kind by kind. A closed list: a general units library reads `Mg` as a tonne."""

_LITRE = re.compile(r"(?<![A-Za-z])([nmu]?)l(?![A-Za-z])")
_CUBED = re.compile(r"(?<=m)(?:³|\^3)$")
_BY_MASS = re.compile(r"% ?\(?w/w\)?")

_PERCENT = "% w/w or mg/g by mass, g/L or mg/mL by volume"
_AMBIGUOUS = {
    "%": _PERCENT,
    "percent": _PERCENT,
    "% w/v": "g/L or mg/mL (1 % w/v is 10 g/L)",
    "% v/v": "a fraction by mass (% w/w or mg/g), since volumes do not add up",
    "‰": "mg/g by mass, or g/L by volume",
    "ppm": "mg/kg or ug/g by mass, mg/L or ug/mL by volume",
    "ppb": "ug/kg or ng/g by mass, ug/L or ng/mL by volume",
    "ppt": "ng/g or mg/g by mass, ng/L or g/L by volume",
}
_ANY_PERCENT = {"%w/v": "% w/v", "%(w/v)": "% w/v", "%v/v": "% v/v", "%(v/v)": "% v/v"}
_HINTS = {
    "Mg": "Mg would be a tonne; for milligrams write mg",
    "M": "for moles per litre write mol/L",
    "mM": "for millimoles per litre write mmol/L",
    "uM": "for micromoles per litre write umol/L",
    "nM": "for nanomoles per litre write nmol/L",
    "m": "for moles per kilogram of solvent write mol/kg",
    "mcg": "for micrograms write ug",
    "N": "for moles per litre write mol/L",
}

_NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_NUMBER_ONLY = re.compile(_NUMBER)
_NUMBER_THEN_UNIT = re.compile(rf"({_NUMBER})[ \u00a0]*(.*)", re.DOTALL)
_LONGEST = 40
_MOST, _LEAST = 15, -30  # powers of ten: beyond them it is a slip of the hand, not a quantity


def plain(text: str) -> str:
    """Outside text made fit for one sentence: cut at 40 signs, control and odd signs shown as escapes.

    >>> plain("12 mg\\x00")
    "'12 mg\\\\x00'"
    """
    cut = text if len(text) <= _LONGEST else text[:_LONGEST] + "..."
    return repr(cut)


def number(text: str) -> Decimal:
    """Read one plain number, with a point or a comma as the decimal sign and no thousands sign.

    >>> number("24,5"), number("-.5"), number("1e-5")
    (Decimal('24.5'), Decimal('-0.5'), Decimal('0.00001'))

    Raises
    ------
    BadNumber
        Anything else, such as `1.000,5`, `1 000`, `5.`, `1²`, `nan`, or digits of another script.
    """
    typed = text.strip(" \u00a0\t\r\n").replace("\u2212", "-")
    if len(typed) > _LONGEST:
        raise BadNumber(f"{plain(text)} is too long for a number: write it with at most {_LONGEST} digits.")
    if not _NUMBER_ONLY.fullmatch(typed):
        raise BadNumber(
            f"{plain(text)} is not a plain number: write digits with one point or comma, such as 24.5, "
            "and no sign for thousands."
        )
    value = Decimal(typed.replace(",", "."))
    if value and not _LEAST <= value.adjusted() <= _MOST:
        raise BadNumber(f"{plain(text)} is too large or too small to be meant: check the digits.")
    # A tiny number prints without an exponent too: one way to write a number.
    return Decimal(format(value, "f"))


@dataclass(frozen=True, slots=True)
class Quantity:
    """A typed number with a unit of the list, and the text it came from.

    Attributes
    ----------
    number
        The number as typed, in `unit`; every digit kept.
    unit
        The unit in the list's own spelling.
    kind
        Key of `UNITS`.
    typed
        The text as it was typed.
    """

    number: Decimal
    unit: str
    kind: str
    typed: str

    def to(self, unit: str) -> float:
        """The value in another unit of the same kind.

        >>> quantity("24,5 mg", "mass").to("g")
        0.0245
        """
        return convert(self.number, self.unit, unit)

    def __str__(self) -> str:
        return f"{self.number:f} {self.unit}"


@lru_cache(maxsize=1024)
def kind_of(unit: str) -> str:
    """Kind of a listed unit.

    >>> kind_of("mg/g")
    'mass_fraction'
    """
    for kind, units in UNITS.items():
        if unit in units:
            return kind
    raise UnknownCode(f"{plain(unit)} is no unit of the list: use one of {', '.join(_all_units())}.")


def _all_units() -> list[str]:
    return [unit for units in UNITS.values() for unit in units]


@lru_cache(maxsize=1024)
def _factor(unit: str, to: str) -> Decimal | None:
    kind = kind_of(unit)
    if to not in UNITS[kind]:
        raise BadQuantity(f"{plain(to)} is not a unit of {_said(kind)}: use {_one_of(UNITS[kind])}.")
    if not _FACTORS[kind][unit]:
        return None
    return _FACTORS[kind][unit] / _FACTORS[kind][to]


def convert(value: Decimal | float, unit: str, to: str) -> float:
    """Convert between two listed units of one kind: an exact decimal factor, or pint where there is none.

    >>> convert(Decimal("1.07"), "g/mL", "kg/m3")
    1070.0
    >>> round(convert(20.0, "degC", "K"), 6)
    293.15
    """
    factor = _factor(unit, to)
    if factor is None:
        return float(_registry().Quantity(float(value), unit).to(to).magnitude)
    if isinstance(value, Decimal):
        return float(value * factor)
    return float(value) * float(factor)


@lru_cache(maxsize=1)
def _registry() -> Any:  # pint's registry is untyped to us
    import pint  # 240 ms: only where an offset unit is converted

    return pint.UnitRegistry()


def unit_of(text: str) -> str:
    """The list's spelling of a typed unit; both micro signs and a small l for the litre are understood.

    >>> unit_of("µg/ml")
    'ug/mL'
    """
    typed = text.strip(" \u00a0\t").replace("\u00b5", "u").replace("\u03bc", "u")
    spelled = _BY_MASS.sub("% w/w", " ".join(typed.split())).replace("°C", "degC")
    spelled = _CUBED.sub("3", _LITRE.sub(r"\1L", spelled))
    ambiguous = _ANY_PERCENT.get(spelled, spelled)
    if ambiguous in _AMBIGUOUS:
        raise AmbiguousUnit(f"{ambiguous} can mean several things: write {_AMBIGUOUS[ambiguous]}.")
    if spelled not in _all_units():
        hint = _HINTS.get(spelled, "")
        raise BadQuantity(f"{plain(text)} is not a unit that can be typed here{': ' + hint if hint else ''}.")
    return spelled


def _said(kind: str) -> str:
    return kind.replace("_", " ")


def _one_of(units: tuple[str, ...]) -> str:
    return units[0] if len(units) == 1 else ", ".join(units[:-1]) + " or " + units[-1]


def quantity(text: str, *kinds: str) -> Quantity:
    """Read a number and a unit of one of the kinds asked for.

    >>> str(quantity("24,5mg", "mass"))
    '24.5 mg'

    Parameters
    ----------
    text
        What was typed, such as `24.5 mg` or `1 mg/g`.
    kinds
        Keys of `UNITS` that are accepted; none given: any.

    Raises
    ------
    BadQuantity
        Not a number with a unit of such a kind.
    AmbiguousUnit
        Bare %, ppm and the like; the text names the choice.
    """
    wanted = kinds or tuple(UNITS)
    units = tuple(unit for kind in wanted for unit in UNITS[kind])
    what = " or ".join(_said(kind) for kind in wanted) if kinds else "quantity"
    ask = f"write a number, a blank, then {_one_of(units if len(units) <= 12 else units[:12])}"
    typed = text.strip(" \u00a0\t\r\n").replace("\u2212", "-")
    if not typed:
        raise BadQuantity(f"Nothing was typed for a {what}: {ask}.")
    if len(typed) > _LONGEST:
        raise BadQuantity(f"{plain(text)} is too long for a {what}: {ask}.")
    match = _NUMBER_THEN_UNIT.fullmatch(typed)
    if not match:
        raise BadQuantity(f"{plain(text)} is not a {what}: {ask}.")
    digits, unit_text = match.group(1), match.group(2)
    if not unit_text:
        raise BadQuantity(f"{plain(text)} has no unit: {ask}.")
    if unit_text[0] in "0123456789.,+-":
        raise BadQuantity(
            f"{plain(text)} is not one number: use one point or comma, and no sign for thousands."
        )
    try:
        value = number(digits)
    except BadNumber as error:
        raise BadQuantity(str(error)) from error
    try:
        unit = unit_of(unit_text)
    except BadQuantity as error:
        raise BadQuantity(f"{str(error).rstrip('.')}; for a {what} {ask}.") from error
    kind = kind_of(unit)
    if kind not in wanted:
        raise BadQuantity(f"{plain(text)} is a {_said(kind)}, not a {what}: {ask}.")
    return Quantity(number=value, unit=unit, kind=kind, typed=text)
