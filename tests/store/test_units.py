"""Typed numbers and quantities: never another number than the one a person would read."""

import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from store.errors import AmbiguousUnit, BadInput, BadNumber, BadQuantity
from store.units import UNITS, convert, figure, fixed, kind_of, number, percent, quantity, rounded, shown

SEEDED = settings(derandomize=True, deadline=None, max_examples=400)


@pytest.mark.parametrize(
    ("text", "value"),
    [("24.5", "24.5"), ("24,5", "24.5"), ("-0.10", "-0.10"), ("+3", "3"), (".5", "0.5"), (" 7 ", "7"),
     ("1e-5", "0.00001"), ("1E-5", "0.00001"), ("\u22125", "-5"), ("0007", "7"), ("12.50", "12.50")],
)  # fmt: skip
def test_a_plain_number_is_read_with_every_digit(text: str, value: str) -> None:
    assert number(text) == Decimal(value)
    assert f"{number(text):f}" == value


@pytest.mark.parametrize(
    "text",
    ["", " ", "1.000,5", "1,000.5", "1 000", "1'000", "1_000", "5.", "5,", ".", "1e", "1e1e1", "nan", "inf",
     "-inf", "infinity", "1²", "10⁻³", "½", "١٢", "１２", "1O", "l0", "0x10", "--5", "5-", "1e400", "1e-400",
     "9" * 41, "1\x00", "1\u200b5", "1/2", "5%"],
)  # fmt: skip
def test_anything_else_is_refused_in_one_sentence(text: str) -> None:
    with pytest.raises(BadNumber) as refused:
        number(text)
    assert str(refused.value).isprintable()


def test_numbers_are_taken_up_to_the_limits_and_refused_past_them() -> None:
    assert number("1e15") == Decimal("1e15")
    assert number("1e-30") == Decimal("1e-30")
    for text in ("1e16", "1e-31"):
        with pytest.raises(BadNumber):
            number(text)


@SEEDED
@given(st.text(max_size=12))
def test_whatever_text_is_typed_it_is_refused_or_is_its_own_digits(text: str) -> None:
    try:
        value = number(text)
    except BadNumber:
        return
    plain = text.strip(" \u00a0\t\r\n").replace("\u2212", "-").replace(",", ".")
    assert re.fullmatch(r"[+-]?[0-9]*\.?[0-9]+([eE][+-]?[0-9]+)?", plain, re.ASCII)
    assert value == Decimal(plain)


@SEEDED
@given(
    whole=st.integers(0, 99999),
    digits=st.text("0123456789", max_size=6),
    sign=st.sampled_from(["", "-", "+"]),
    point=st.sampled_from([".", ","]),
    blank=st.sampled_from(["", " ", "  "]),
    unit=st.sampled_from(UNITS["mass"]),
)
def test_a_typed_mass_is_exactly_that_mass(
    whole: int, digits: str, sign: str, point: str, blank: str, unit: str
) -> None:
    digits_text = f"{sign}{whole}" + (point + digits if digits else "")
    got = quantity(digits_text + blank + unit, "mass")
    assert got.number == Decimal(f"{sign}{whole}.{digits or 0}")
    assert got.unit == unit


@SEEDED
@given(st.text("0123456789.,-+eE mgkuµLl/%M", max_size=14))
def test_no_near_miss_is_read_as_another_quantity(text: str) -> None:
    try:
        got = quantity(text)
    except BadInput:
        return
    head = re.match(r"[0-9.,+\-eE\u2212]*[0-9]", text.strip())
    assert head
    assert got.number == Decimal(head.group().replace(",", "."))


def test_a_decimal_comma_is_24_5_and_never_245() -> None:
    assert quantity("24,5 mg", "mass").to("g") == 0.0245
    assert str(quantity("24,50mg", "mass")) == "24.50 mg"


@pytest.mark.parametrize("text", ["10 µg", "10 \u03bcg", "10 ug", "10ug"])
def test_both_micro_signs_are_micro(text: str) -> None:
    assert quantity(text, "mass").to("mg") == 0.01


@pytest.mark.parametrize(
    ("text", "hint"),
    [("10 Mg", "milligrams write mg"), ("5 M", "mol/L"), ("5 mM", "mmol/L"), ("1 MG", "not a unit"),
     ("1 gram", "not a unit"), ("10 mg extra", "not a unit"), ("10", "no unit"), ("mg", "write a number"),
     ("1² mg", "not a unit"), ("10 mL", "is a volume, not a mass"), ("1 kg/m3", "is a density")],
)  # fmt: skip
def test_a_wrong_unit_is_refused_with_what_to_write(text: str, hint: str) -> None:
    with pytest.raises(BadQuantity, match=hint):
        quantity(text, "mass")


@pytest.mark.parametrize("unit", ["%", "ppm", "ppb", "ppt", "‰", "% w/v", "%(v/v)", "percent"])
def test_units_that_mean_several_things_are_refused_with_the_choice(unit: str) -> None:
    with pytest.raises(AmbiguousUnit, match="write"):
        quantity(f"3 {unit}", "mass_fraction")


@pytest.mark.parametrize(
    ("text", "unit"),
    [("1 mg/ml", "mg/mL"), ("1 mol/l", "mol/L"), ("5 %w/w", "% w/w"), ("5 % (w/w)", "% w/w"),
     ("1 kg/m³", "kg/m3"), ("1 g/cm^3", "g/cm3"), ("20 °C", "degC"), ("1 µl", "uL")],
)  # fmt: skip
def test_spellings_that_nobody_reads_in_two_ways_are_taken(text: str, unit: str) -> None:
    assert quantity(text).unit == unit


def test_every_factor_of_the_list_agrees_with_pint() -> None:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    for kind, units in UNITS.items():
        for unit in units:
            if unit == "% w/w":
                continue  # no unit to pint
            name = unit.replace("3", "**3") if kind == "density" else unit
            to = units[0].replace("3", "**3") if kind == "density" else units[0]
            other = registry.Quantity(2.5, name).to(to).magnitude
            assert convert(Decimal("2.5"), unit, units[0]) == pytest.approx(other, rel=1e-12), unit


def test_no_unit_stands_in_two_kinds() -> None:
    every = [unit for units in UNITS.values() for unit in units]
    assert len(every) == len(set(every))
    assert all(unit in UNITS[kind_of(unit)] for unit in every)


def test_conversion_is_exact_where_a_decimal_factor_is() -> None:
    assert quantity("0.1 g", "mass").to("mg") == 100.0
    assert quantity("1.07 g/mL", "density").to("kg/m3") == 1070.0


def test_a_conversion_to_another_kind_is_refused() -> None:
    with pytest.raises(BadQuantity, match="not a unit of mass"):
        quantity("1 g", "mass").to("mL")


# JCGM 100:2008, 7.2.6: at most two digits of u, the value to the same place.
@pytest.mark.parametrize(
    ("value", "u", "text"),
    [(1.000312, 0.005816, ("1.0003", "0.0058")), (12345.0, 996.0, ("12300", "1000")),
     (12345.0, 994.0, ("12340", "990")), (0.0, 0.5, ("0.00", "0.50")), (-2.345, 0.01, ("-2.345", "0.010")),
     (9.9995, 0.0996, ("10.00", "0.10"))],
)  # fmt: skip
def test_a_result_is_rounded_to_two_digits_of_its_uncertainty(
    value: float, u: float, text: tuple[str, str]
) -> None:
    assert rounded(value, u) == text


def test_results_without_an_uncertainty_are_shown_all_the_same() -> None:
    assert rounded(1.23456789, 0.0) == ("1.23457", "0")
    assert shown(1.0, 0.01, "mg/g") == "1.000 ± 0.010 mg/g"
    assert percent(float("inf")) == "unknown"
    assert percent(0.0123) == "1.2 %"
    assert figure(float("nan")) == "not a number"
    assert fixed(-0.0001, 3) == "0.000"


@SEEDED
@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e3))
def test_rounding_never_moves_a_value_by_more_than_half_its_step(value: float, u: float) -> None:
    a, b = rounded(value, u)
    step = Decimal(1).scaleb(Decimal(b).adjusted() - 1)
    assert abs(Decimal(a) - Decimal(repr(value))) <= step / 2
    assert Decimal(b) == pytest.approx(Decimal(repr(u)), rel=Decimal("0.06"))
