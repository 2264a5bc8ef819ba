"""Balance lines: one reading, or refused."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from store.errors import BadReading
from store.readings import DecimalSign, Reading, read_line, typed


@pytest.mark.parametrize(
    ("line", "number", "unit"),
    [("12.50 mg", "12.50", "mg"), ("+  12.50 mg\r\n", "12.50", "mg"), ("-   0.01 g", "-0.01", "g"),
     ("00012.50 mg", "12.50", "mg"), ("12,50 mg", "12.50", "mg"), ("12.50mg", "12.50", "mg"),
     ("\t 1 kg ", "1", "kg"), ("250 µg", "250", "ug"), (".5 g", "0.5", "g")],
)  # fmt: skip
def test_a_line_is_read_by_general_rules(line: str, number: str, unit: str) -> None:
    reading = read_line(line)
    assert (reading.number, reading.unit, reading.stable) == (Decimal(number), unit, None)
    assert reading.shown == line.strip("\r\n\t ")


@pytest.mark.parametrize(
    "line",
    ["", "\r\n", "12.50", "mg", "+++++", "-----", "OL", "Err 5", "E 12", "HHHHH", "12.5 13.5 mg",
     "12.5 mg 13.5 mg", "12.5 mg g", "1.2.3 g", "1,234.5 mg", "1 234.5 mg", "12. mg", "1e3 mg", "nan mg",
     "12.5 Mg", "12.5 %", "12.5 mL", "12.5 ct", "S 12.5 mg", "12.5 mg S", "N 12.5 mg", "\x8112.5 mg",
     "12.5\x00 mg", "12.5 mg\x07", "1²5 mg", "١٢ mg", "--12.5 mg", "+-12.5 mg", "12.5- mg",
     "12.50 mg 12.50 mg", "9" * 16 + " mg", "12.5 mg" * 20],
)  # fmt: skip
def test_a_doubtful_line_is_refused_in_one_sentence(line: str) -> None:
    with pytest.raises(BadReading) as refused:
        read_line(line)
    assert str(refused.value).isprintable()


def test_a_missing_unit_is_refused_unless_the_settings_tell_it() -> None:
    assert read_line("12.50", unit="mg") == Reading("12.50 mg", Decimal("12.50"), "mg", None)
    with pytest.raises(BadReading, match="no unit"):
        read_line("12.50")


@pytest.mark.parametrize(
    ("line", "stable_mark", "unstable_mark", "stable"),
    [("12.5 mg", None, None, None), ("S 12.5 mg", "S", None, True), ("  12.5 mg", "S", None, False),
     ("12.5 mg ?", None, "?", False), ("12.5 mg", None, "?", True), ("?12.5 mg", None, "?", False),
     ("S S 12.5 mg", "S S", "S D", True), ("S D 12.5 mg", "S S", "S D", False),
     ("SD 12.5 mg", "S", "SD", False), ("S 12.5 mg", "S", "SD", True)],
)  # fmt: skip
def test_a_mark_of_stability_is_the_one_that_the_settings_name(
    line: str, stable_mark: str | None, unstable_mark: str | None, *, stable: bool | None
) -> None:
    reading = read_line(line, stable_mark=stable_mark, unstable_mark=unstable_mark)
    assert reading.stable is stable
    assert reading.mass_mg == 12.5


@pytest.mark.parametrize("line", ["12.5 mg", "S 12.5 mg D"])
def test_neither_or_both_marks_are_refused(line: str) -> None:
    with pytest.raises(BadReading, match="mark"):
        read_line(line, stable_mark="S", unstable_mark="D")


@pytest.mark.parametrize(("sign", "good", "bad"), [("point", "1.5 g", "1,5 g"), ("comma", "1,5 g", "1.5 g")])
def test_a_balance_set_to_one_decimal_sign_is_held_to_it(sign: DecimalSign, good: str, bad: str) -> None:
    assert read_line(good, decimal_sign=sign).mass_g == 1.5
    with pytest.raises(BadReading, match="decimal"):
        read_line(bad, decimal_sign=sign)


def test_a_reading_keeps_what_was_shown_beside_the_number() -> None:
    reading = typed("12,50", "mg")
    assert reading.shown == "12,50 mg"
    assert (reading.mass_mg, reading.mass_g) == (12.5, 0.0125)


@pytest.mark.parametrize(
    ("text", "step"), [("12.50 mg", 0.01), ("12.5 mg", 0.1), ("0.0001 g", 0.1), ("3 g", 1000)]
)
def test_the_readability_is_one_step_of_the_last_digit(text: str, step: float) -> None:
    assert typed(text, "mg").readability == pytest.approx(step)


SEEDED = settings(derandomize=True, deadline=None, max_examples=400)


@SEEDED
@given(st.text("0123456789.,+- mgkS?\x00\xb5", max_size=16))
def test_a_noisy_line_is_refused_or_holds_exactly_its_digits(line: str) -> None:
    try:
        reading = read_line(line)
    except BadReading:
        return
    digits = "".join(c for c in line if c in "0123456789.,").replace(",", ".")
    assert abs(reading.number) == Decimal(digits)
    assert (reading.number < 0) == ("-" in line and reading.number != 0)


@SEEDED
@given(st.decimals(-9999, 9999, places=3), st.sampled_from(["mg", "g"]), st.binary(max_size=6))
def test_a_damaged_byte_never_gives_another_reading(value: Decimal, unit: str, junk: bytes) -> None:
    line = f"{value} {unit}" + junk.decode("latin-1")
    try:
        reading = read_line(line)
    except BadReading:
        return
    assert (reading.number, reading.unit) == (value, unit)
