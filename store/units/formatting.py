"""Numbers to text: a result is rounded to its uncertainty, and in this one place."""

import math
from decimal import ROUND_HALF_EVEN, Decimal


def rounded(value: float, u: float) -> tuple[str, str]:
    """Value and standard uncertainty as text: two digits of `u`, the value to the same place.

    The manner of JCGM 100:2008, 7.2.6. Without an uncertainty the value has six digits.

    >>> rounded(1.000312, 0.005816)
    ('1.0003', '0.0058')
    >>> rounded(12345.0, 996.0)
    ('12300', '1000')
    """
    if not (math.isfinite(value) and math.isfinite(u)) or u <= 0:
        return figure(value), "0" if u == 0 else figure(u)
    exact = Decimal(repr(u))
    place = exact.adjusted() - 1
    step = exact.quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_EVEN)
    if step.adjusted() > exact.adjusted():  # 0.0996 becomes 0.10: two digits again
        place += 1
        step = exact.quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_EVEN)
    number_ = Decimal(repr(value))
    if number_ and number_.adjusted() - place > 25:
        return figure(value), format(step, "f")
    return format(number_.quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_EVEN), "f"), format(
        step, "f"
    )


def stated(value: float, U: float, unit: str, k: float | None = None) -> str:
    """A result as it is handed on: two digits of the expanded uncertainty, the value to the same place.

    JCGM 100:2008, 7.2.3 and 7.2.6: what is stated beside a value decides its last digit, and k is said.

    >>> stated(1.0047266, 0.0029082, "mg/g", 1.9612)
    '1.0047 mg/g ± 0.0029 mg/g (k = 1.96)'
    >>> stated(0.02508, 0.0012, "mol/L")
    '0.0251 mol/L ± 0.0012 mol/L'
    """
    a, b = rounded(value, U)
    return f"{a} {unit} ± {b} {unit}" + (f" ({factor_k(k)})" if k is not None else "")


def factor_k(k: float) -> str:
    """A coverage factor as it was used, three digits.

    >>> factor_k(1.9612), factor_k(2.0), factor_k(2.2622)
    ('k = 1.96', 'k = 2', 'k = 2.26')
    """
    return f"k = {figure(k, 3)}"


def shown(value: float, u: float, unit: str) -> str:
    """A result with its standard uncertainty and unit.

    >>> shown(1.000312, 0.005816, "mg/g")
    '1.0003 ± 0.0058 mg/g'
    """
    a, b = rounded(value, u)
    return f"{a} ± {b} {unit}"


def percent(u_rel: float) -> str:
    """A relative uncertainty as percent, two digits.

    >>> percent(0.005814)
    '0.58 %'
    """
    if not math.isfinite(u_rel):
        return "unknown"
    return f"{rounded(0.0, abs(u_rel) * 100)[1]} %"


def figure(value: float, digits: int = 6) -> str:
    """A float as plain text with so many significant digits, trailing zeros cut, no exponent.

    >>> figure(0.000012345678, 4), figure(250.0)
    ('0.00001235', '250')
    """
    if math.isnan(value):
        return "not a number"
    if math.isinf(value):
        return "infinite"
    text = format(Decimal(f"{value:.{digits - 1}e}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def signed(value: float, digits: int = 6) -> str:
    """The same with its sign.

    >>> signed(0.00001), signed(-0.25), signed(0.0)
    ('+0.00001', '-0.25', '+0')
    """
    return f"{'' if value < 0 else '+'}{figure(value, digits)}"


def weighed(mass_mg: float) -> str:
    """A mass as people say it: in mg below a gram, else in g.

    >>> weighed(9.75), weighed(4902.4)
    ('9.75 mg', '4.902 g')
    """
    return fixed(mass_mg, 2, "mg") if abs(mass_mg) < 1000.0 else fixed(mass_mg / 1000.0, 3, "g")


READING_PLACES = 7
"""Decimals of a mass in mg that any reading has: a tenth of a nanogram."""


def net(mass_mg: float) -> float:
    """A sum or difference of readings [mg] without the rest that binary arithmetic leaves.

    >>> 12.3 - 12.2, net(12.3 - 12.2)
    (0.10000000000000142, 0.1)
    """
    return round(mass_mg, READING_PLACES) + 0.0


def milligrams(mass_mg: float) -> str:
    """A mass from readings with every digit that they have, no exponent.

    >>> milligrams(29776.19), milligrams(0.00002), milligrams(12.3 - 12.2)
    ('29776.19', '0.00002', '0.1')
    """
    text = f"{net(mass_mg):.{READING_PLACES}f}"
    return text.rstrip("0").rstrip(".")


def clock(seconds: float, *, estimated: bool = False) -> str:
    """A time in minutes and seconds, to the nearest second; a tilde before what is estimated.

    The one way in which a screen, the shell and the log say how long something was open. Programs read the
    seconds with their decimals.

    >>> clock(42), clock(97.6), clock(59.6), clock(858, estimated=True)
    ('0:42', '1:38', '1:00', '~14:18')
    """
    whole = max(0, round(seconds))
    return f"{'~' if estimated else ''}{whole // 60}:{whole % 60:02d}"


def fixed(value: float, places: int, unit: str = "") -> str:
    """A float with so many decimal places, and its unit.

    >>> fixed(9.86, 3, "g")
    '9.860 g'
    """
    text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return f"{text} {unit}" if unit else text
