"""CAS numbers and their check digit."""

import re

from store.errors import BadCas
from store.units import plain

SOURCE = "CAS, check digit verification of CAS Registry Numbers"

_FORM = re.compile(r"([1-9][0-9]{1,6})-([0-9]{2})-([0-9])")


def check_digit(digits: str) -> int:
    """Check digit of a CAS number without it: the sum of i·Nᵢ, counted from the right, modulo 10.

    >>> check_digit("107-07")
    3
    """
    plain_digits = digits.replace("-", "")
    if not re.fullmatch(r"[1-9][0-9]{3,8}", plain_digits):
        raise BadCas(f"{plain(digits)} is no CAS number without its check digit: write it such as 107-07.")
    return sum(i * int(d) for i, d in enumerate(reversed(plain_digits), start=1)) % 10


def cas(text: str) -> str:
    """The CAS number, if its form and its check digit are right.

    >>> cas("107-07-3")
    '107-07-3'
    """
    typed = text.strip()
    match = _FORM.fullmatch(typed)
    if not match:
        raise BadCas(
            f"{plain(text)} is no CAS number: write 2 to 7 digits, 2 digits, 1 digit, such as 107-07-3."
        )
    right = check_digit(f"{match.group(1)}-{match.group(2)}")
    if right != int(match.group(3)):
        raise BadCas(f"{plain(text)}: the check digit does not fit; check each digit of the number.")
    return typed
