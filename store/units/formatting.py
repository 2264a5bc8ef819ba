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


def weighed(mass_mg: float) -> str:
    """A mass as people say it: in mg below a tenth of a gram, else in g.

    >>> weighed(9.75), weighed(4902.4)
    ('9.75 mg', '4.902 g')
    """
    return fixed(mass_mg, 2, "mg") if abs(mass_mg) < 100.0 else fixed(mass_mg / 1000.0, 3, "g")


def fixed(value: float, places: int, unit: str = "") -> str:
    """A float with so many decimal places, and its unit.

    >>> fixed(9.86, 3, "g")
    '9.860 g'
    """
    text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return f"{text} {unit}" if unit else text
