"""Molar masses from formulae, with the uncertainty that the atomic weights have."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NoReturn

from store.calc.elements import ATOMIC_WEIGHTS, NO_WEIGHT, SOURCE
from store.errors import BadFormula
from store.units import figure

__all__ = ["SOURCE", "Formula", "count_in", "formula", "salt_factor"]

_LONGEST = 200
_MOST_ATOMS = 100_000
_DOTS = "\u00b7\u2022\u2219\u22c5*"
_SUBSCRIPTS = {ord("\u2080") + i: str(i) for i in range(10)}
_SYMBOL = re.compile(r"[A-Z][a-z]?")
_COUNT = re.compile(r"[0-9]+")
_MULTIPLE = re.compile(r"([0-9]+(?:[.,][0-9]+)?)(?=[A-Z(\[{])")
_CLOSES = {"(": ")", "[": "]", "{": "}"}


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula as understood.

    Attributes
    ----------
    text
        The formula as typed, blanks at its ends cut.
    atoms
        Element symbol and its number of atoms; a half hydrate gives halves.
    crystal_water
        Molecules of water written as a part of their own, `.5H2O`.
    """

    text: str
    atoms: tuple[tuple[str, float], ...]
    crystal_water: float

    @property
    def molar_mass_g_mol(self) -> float:
        """Sum of the atomic weights [g/mol]."""
        return round(sum(n * ATOMIC_WEIGHTS[symbol][0] for symbol, n in self.atoms), 9)

    @property
    def u_molar_mass_g_mol(self) -> float:
        """Standard uncertainty [g/mol]: atoms of one element are fully correlated, elements independent.

        The ± limits of the atomic weights are taken as rectangles, u = a/√3, as in QUAM:2012 A2.
        """
        return math.sqrt(sum((n * ATOMIC_WEIGHTS[symbol][1]) ** 2 for symbol, n in self.atoms) / 3.0)

    @property
    def hill(self) -> str:
        """All atoms in the order of Hill: carbon, hydrogen, then by the alphabet."""
        counts = dict(self.atoms)
        first = [s for s in ("C", "H", "D") if s in counts] if "C" in counts else []
        order = first + sorted(s for s in counts if s not in first)
        return " ".join(s + (figure(counts[s]) if counts[s] != 1 else "") for s in order)


def formula(text: str) -> Formula:
    """Read a formula: elements, groups in brackets, parts after a dot such as `.5H2O` or `·2.5H2O`.

    Numbers behind an element are whole; only the number that leads a part after a dot may be broken.

    >>> f = formula("CdCl2.2.5H2O")
    >>> f.hill, round(f.molar_mass_g_mol, 2)
    ('Cd Cl2 H5 O2.5', 228.35)
    >>> round(formula("Na2S2O3·5H2O").molar_mass_g_mol, 3)
    248.172

    Raises
    ------
    BadFormula
        With a caret under the place.
    """
    typed = text.strip()
    if not typed:
        raise BadFormula("No formula was typed: write one such as K2Cr2O7 or CuSO4.5H2O.")
    if len(typed) > _LONGEST:
        raise BadFormula(f"The formula is too long: at most {_LONGEST} signs.")
    plain = typed.translate(_SUBSCRIPTS)
    for dot in _DOTS:
        plain = plain.replace(dot, ".")
    if not plain.isascii():
        _refuse(typed, next(i for i, c in enumerate(plain) if not c.isascii()), "is no sign of a formula")
    atoms: dict[str, float] = {}
    crystal_water = 0.0
    at = 0
    first = True
    while True:
        multiple = 1.0
        leading = _MULTIPLE.match(plain, at)
        if leading:
            if first:
                _refuse(typed, at, "leads the formula: leave the number out, one formula unit is meant")
            multiple = float(leading.group(1).replace(",", "."))
            if multiple <= 0:
                _refuse(typed, at, "is no number of parts")
            at = leading.end()
        part, at = _group(typed, plain, at, "")
        if part == {"H": 2, "O": 1} and not first:
            crystal_water += multiple
        for symbol, n in part.items():
            atoms[symbol] = atoms.get(symbol, 0.0) + n * multiple
        if at == len(plain):
            break
        at += 1  # the dot
        first = False
    if sum(atoms.values()) > _MOST_ATOMS:
        raise BadFormula(f"{typed!r} has more than {_MOST_ATOMS} atoms: check its numbers.")
    return Formula(text=typed, atoms=tuple(sorted(atoms.items())), crystal_water=crystal_water)


def _group(typed: str, plain: str, at: int, closing: str) -> tuple[dict[str, float], int]:
    """Read up to the closing bracket, a dot or the end; give the atoms and where it stopped."""
    atoms: dict[str, float] = {}
    start = at
    while at < len(plain):
        sign = plain[at]
        if sign in _CLOSES:
            inner, end = _group(typed, plain, at + 1, _CLOSES[sign])
            if end >= len(plain) or plain[end] != _CLOSES[sign]:
                _refuse(typed, at, "is a bracket that is not closed")
            at = end + 1
            n, at = _number(typed, plain, at)
            for symbol, count in inner.items():
                atoms[symbol] = atoms.get(symbol, 0.0) + count * n
            continue
        if sign == closing or sign == ".":
            break
        match = _SYMBOL.match(plain, at)
        if not match:
            _refuse(typed, at, _what_is_wrong(sign))
        symbol = match.group()
        if symbol not in ATOMIC_WEIGHTS:
            if symbol in NO_WEIGHT:
                _refuse(typed, at, "has no standard atomic weight: type the molar mass instead")
            _refuse(typed, at, "is no element; capital and small letters count, as in NaCl")
        n, at = _number(typed, plain, match.end())
        atoms[symbol] = atoms.get(symbol, 0.0) + n
    if at == start:
        _refuse(typed, min(at, len(typed) - 1), "has no element before it")
    if closing and at < len(plain) and plain[at] == ".":
        _refuse(typed, at, "is a dot inside brackets: write the part behind the brackets")
    return atoms, at


def _number(typed: str, plain: str, at: int) -> tuple[int, int]:
    match = _COUNT.match(plain, at)
    if not match:
        return 1, at
    if match.group().startswith("0") or len(match.group()) > 6:
        _refuse(typed, at, "is no number of atoms")
    return int(match.group()), match.end()


def _what_is_wrong(sign: str) -> str:
    if sign in "+-":
        return "is a charge: write the formula of the neutral substance"
    if sign.isspace():
        return "is a blank: write the formula without blanks"
    if sign in ")]}":
        return "is a bracket that was not opened"
    if sign.islower():
        return "is a small letter where an element begins with a capital"
    return "cannot stand here"


def _refuse(typed: str, at: int, why: str) -> NoReturn:
    raise BadFormula(
        f"{typed!r} is no formula: {typed[at : at + 2].strip() or ' '!r} {why}.\n{typed}\n{' ' * at}^"
    )


def count_in(weighed: Formula, wanted: Formula) -> int:
    """How many of the wanted form the form weighed holds: two atropines in the sulfate, two Cr in K2Cr2O7.

    Hydrogen is not counted, since an acid and its salt differ in it, unless water is wanted. Half of the
    wanted form, as P2O5 in KH2PO4, is never guessed.

    >>> count_in(formula("K2Cr2O7"), formula("Cr")), count_in(formula("CuSO4.5H2O"), formula("H2O"))
    (2, 5)
    """
    held = dict(weighed.atoms)
    counted = [(s, n) for s, n in wanted.atoms if s not in ("H", "D")]
    if {s for s, _ in counted} <= {"O"}:
        counted = list(wanted.atoms)
    whole = min(math.floor(held.get(symbol, 0.0) / n + 1e-9) for symbol, n in counted)
    if whole < 1:
        raise BadFormula(
            f"{weighed.text} does not hold a whole {wanted.text}: check both formulae; a part of it is never "
            "guessed."
        )
    return whole


def salt_factor(*, weighed: Formula, wanted: Formula, count: float | None = None) -> tuple[float, float]:
    """Mass of the wanted form per mass weighed, n·M_wanted/M_weighed, and its standard uncertainty.

    Elements that both forms share are fully correlated, so most of the uncertainty cancels. Without a count
    as many as the form weighed holds; hydrogen may be taken up, as by an acid from its salt.

    >>> f, u = salt_factor(weighed=formula("(C17H23NO3)2.H2SO4.H2O"), wanted=formula("C17H23NO3"))
    >>> round(f, 5), u < 1e-4
    (0.83293, True)
    """
    n = count_in(weighed, wanted) if count is None else count
    a, b = wanted.molar_mass_g_mol, weighed.molar_mass_g_mol
    n_a, n_b = dict(wanted.atoms), dict(weighed.atoms)
    for symbol, atoms in n_a.items():
        if n * atoms > n_b.get(symbol, 0.0) + 1e-9 and (symbol != "H" or set(n_a) <= {"H", "O"}):
            raise BadFormula(
                f"{weighed.text} holds {figure(n_b.get(symbol, 0.0))} {symbol}, "
                f"but {figure(n)} × {wanted.text} needs {figure(n * atoms)}: check formulae and count."
            )
    value = n * a / b
    return value, _u_ratio(n_a, n_b, a, b) * value


def _u_ratio(n_a: Mapping[str, float], n_b: Mapping[str, float], a: float, b: float) -> float:
    return math.sqrt(
        sum(
            ((n_a.get(s, 0.0) / a - n_b.get(s, 0.0) / b) * ATOMIC_WEIGHTS[s][1]) ** 2 / 3.0
            for s in {*n_a, *n_b}
        )
    )
