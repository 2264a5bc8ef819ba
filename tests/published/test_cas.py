"""CAS numbers: the check digit rule as published by CAS."""

from collections.abc import Callable
from typing import Any

import pytest

from store.calc import cas
from store.errors import BadCas
from tests.published.checks import Check, Sums, assert_reproduced, reproduces


def verdict(i: dict[str, Any]) -> str:
    try:
        cas.cas(i["cas"])
    except BadCas:
        return "invalid"
    return "valid"


SUMS: Sums = {
    "CAS-01": lambda i: cas.check_digit(i["cas_without_check"]),
    "CAS-03": lambda i: cas.check_digit(i["cas_without_check"]),
    "CAS-04": verdict,
}


@reproduces(SUMS)
def test_the_check_digit_is_that_of_the_rule(check: Check, value: Callable[[dict[str, Any]], Any]) -> None:
    assert_reproduced(check, value)


@pytest.mark.parametrize("number", ["7732-18-5", "64-17-5", "7778-50-9", "67-56-1"])
def test_numbers_of_common_substances_are_valid(number: str) -> None:
    # Water, ethanol, potassium dichromate, methanol: from memory.
    assert cas.cas(number) == number


@pytest.mark.parametrize(
    "text", ["", "64-17", "64175", "64-17-55", "0-00-0", "٦٤-17-5", "64–17–5", "64-17-5x"]
)
def test_what_is_no_cas_number_is_refused(text: str) -> None:
    with pytest.raises(BadCas):
        cas.cas(text)
