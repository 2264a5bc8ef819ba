"""One line of a balance becomes one reading, by general rules; what is doubtful is refused, never guessed.

A line is a sign (perhaps apart from the digits), digits, a unit, and an optional mark of stability that the
balance's settings name. Anything else on the line makes it no reading.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from store.errors import BadInput, BadNumber, BadReading
from store.units import UNITS, convert, fixed, number, plain, unit_of

DecimalSign = Literal["either", "point", "comma"]

_LONGEST = 80
_LONGEST_NUMBER = 15
_BODY = re.compile(r"([+-]?) *([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)(?: *([^0-9\s.,+-].*))?")
_STEPS = {unit: float(convert(Decimal(1), unit, "mg")) for unit in UNITS["mass"]}


@dataclass(frozen=True, slots=True)
class Reading:
    """What a display showed.

    Attributes
    ----------
    shown
        The text as displayed, with its unit: `12.50 mg` keeps its last zero.
    number
        The number in `unit`, every digit kept.
    unit
        A unit of mass.
    stable
        True or False where the balance marks it, None where it does not say.
    """

    shown: str
    number: Decimal
    unit: str
    stable: bool | None

    @property
    def mass_mg(self) -> float:
        """The reading [mg]; not corrected for buoyancy."""
        return convert(self.number, self.unit, "mg")

    @property
    def mass_g(self) -> float:
        """The reading [g]; not corrected for buoyancy."""
        return convert(self.number, self.unit, "g")

    @property
    def readability(self) -> float:
        """One step of the last digit shown [mg]; a balance may count in twos or fives of it."""
        exponent = self.number.as_tuple().exponent
        assert isinstance(exponent, int)  # the parser never makes NaN or infinity
        return float(Decimal(1).scaleb(exponent)) * _STEPS[self.unit]

    def __str__(self) -> str:
        return self.shown


def difference(mass_mg: float, shown: str) -> str:
    """Give a difference of readings, in mg, with the digits of the display that it comes from.

    >>> difference(9.5, "4185.46 mg"), difference(9979.6, "9.9796 g"), difference(-0.0, "0.00 mg")
    ('9.50 mg', '9979.6 mg', '0.00 mg')
    """
    return as_displayed(mass_mg, "mg", step_mg=typed(shown, "mg").readability)


def as_displayed(mass_mg: float, unit: str, *, step_mg: float) -> str:
    """A mass in the unit of a display, with as many decimals as its step has.

    >>> as_displayed(11628.648, "mg", step_mg=0.01), as_displayed(11628.648, "g", step_mg=0.1)
    ('11628.65 mg', '11.6286 g')
    """
    per = convert(1.0, "mg", unit)
    places = max(0, -Decimal(f"{step_mg * per:.3g}").adjusted())
    return fixed(mass_mg * per, places, unit)


def read_line(
    line: str,
    *,
    unit: str | None = None,
    stable_mark: str | None = None,
    unstable_mark: str | None = None,
    decimal_sign: DecimalSign = "either",
) -> Reading:
    """Read one line that a balance sent.

    >>> read_line("-  012.50 mg\\r\\n")
    Reading(shown='-  012.50 mg', number=Decimal('-12.50'), unit='mg', stable=None)
    >>> read_line("12,50 mg *", stable_mark="*").stable
    True

    Parameters
    ----------
    line
        The line, with or without its end.
    unit
        Unit of a balance that sends none; without it a line lacking a unit is refused.
    stable_mark, unstable_mark
        Signs or words from the balance's settings, first or last on the line. With one of them set, its
        absence means the other state; with both set, a line with neither is refused.
    decimal_sign
        `either`, or the one sign that this balance uses.

    Raises
    ------
    BadReading
        The line is not exactly one reading.
    """
    text = line.rstrip("\r\n").strip(" \t")
    if not text:
        raise BadReading("The balance sent an empty line: wait for the next, or type the reading.")
    if len(text) > _LONGEST:
        raise BadReading(f"{plain(text)} is too long for a reading: check the link, or type the reading.")
    odd = next((c for c in text if not (" " <= c <= "~" or c in "\t\u00b5\u03bc")), None)
    if odd is not None:
        raise BadReading(
            f"{plain(text)} has a sign that no reading has: check parity and speed of the link, "
            "or type the reading."
        )
    body, stable = _stability(text, stable_mark, unstable_mark)
    match = _BODY.fullmatch(body)
    if not match:
        raise BadReading(_why_not(text, body))
    sign, digits, unit_text = match.groups()
    if decimal_sign != "either" and {"point": ",", "comma": "."}[decimal_sign] in digits:
        raise BadReading(
            f"{plain(text)}: this balance is set to a decimal {decimal_sign}; check its settings."
        )
    if len(digits) > _LONGEST_NUMBER:
        raise BadReading(f"{plain(text)} has too many digits for a reading.")
    try:
        value = number(sign + digits)
    except BadNumber as error:
        raise BadReading(f"{plain(text)} is not one number.") from error
    found = _unit(text, unit_text, unit)
    kept = text if unit_text else f"{text} {found}"
    return Reading(shown=kept, number=value, unit=found, stable=stable)


def typed(text: str, unit: str) -> Reading:
    """Read digits typed by a person from a display whose unit is known; a unit typed as well stands.

    >>> typed("12,50", "mg").mass_mg
    12.5
    """
    return read_line(text.replace("\u2212", "-"), unit=unit)


def _unit(text: str, unit_text: str | None, setting: str | None) -> str:
    if unit_text is None:
        if setting is None:
            raise BadReading(
                f"{plain(text)} has no unit: set the balance to send it, name it with `nounit` in its port, "
                "or type the reading."
            )
        unit_text = setting
    if any(c.isdigit() for c in unit_text):
        raise BadReading(f"{plain(text)} holds more than one number: type the reading that counts.")
    try:
        found = unit_of(unit_text)
    except BadInput as error:
        raise BadReading(f"{plain(text)} is not a reading: {plain(unit_text)} is no unit of mass.") from error
    if found not in UNITS["mass"]:
        raise BadReading(f"{plain(text)} is not in a unit of mass: set the balance to mg or g.")
    return found


def _stability(text: str, stable_mark: str | None, unstable_mark: str | None) -> tuple[str, bool | None]:
    if stable_mark is None and unstable_mark is None:
        return text, None
    # The longer mark first, so that one which begins with the other is not misread.
    marks = sorted(
        ((m, s) for m, s in ((stable_mark, True), (unstable_mark, False)) if m), key=lambda p: -len(p[0])
    )
    body, seen = text, None
    for mark, state in marks:
        cut = _without(body, mark)
        if cut is not None:
            if seen is not None:
                raise BadReading(f"{plain(text)} bears the marks of a stable and of an unstable reading.")
            body, seen = cut, state
    if seen is None:
        if stable_mark is not None and unstable_mark is not None:
            raise BadReading(f"{plain(text)} bears neither mark of stability: check the balance's settings.")
        seen = stable_mark is None
    return body, seen


def _without(text: str, mark: str) -> str | None:
    """The text without a mark at either end, or None where it has no such mark there."""
    loose = not any(c.isalnum() for c in mark)  # `*` may touch the number, a word must stand apart
    if text.startswith(mark) and (loose or text[len(mark) : len(mark) + 1] in ("", " ", "\t")):
        return text[len(mark) :].strip(" \t")
    if text.endswith(mark) and (loose or text[: -len(mark)][-1:] in ("", " ", "\t")):
        return text[: -len(mark)].strip(" \t")
    return None


def _why_not(text: str, body: str) -> str:
    if not any(c.isdigit() for c in body) and body:
        return f"{plain(text)} is not a reading: overload or an error of the balance; see its display."
    if len(re.findall(r"[0-9][0-9.,]*", body)) > 1 or re.search(r"[.,].*[.,]", body):
        return f"{plain(text)} holds more than one number: type the reading that counts."
    return f"{plain(text)} is not a reading: sign, digits and a unit of mass were expected, nothing else."
