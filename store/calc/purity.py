"""What is in the solid: from a certificate's assay and its basis to a chain of factors."""

import math
import re
from dataclasses import dataclass

from store.calc.guard import fraction, not_negative
from store.calc.molar import Formula, count_in, formula, salt_factor
from store.errors import BadField, BadNumber, OutOfRange
from store.units import figure, number

SOURCE = (
    "certificate basis conventions (as is, anhydrous, dried), common practice; EURACHEM/CITAC QUAM:2012 8"
)
BASES = ("as-is", "anhydrous", "dried")
NO_MASS_FRACTION = ("metals basis", "area-%", "area %")
"""Assays that do not say how much of the mass is the substance."""

_ASSAY = re.compile(r"(>=|>|≥|=>)?\s*([0-9.,]+)\s*%?")
_U = re.compile(r"(U|u|±|\+/-)\s*([0-9.,]+)\s*%?(?:\s*\(?\s*k\s*=?\s*([0-9.,]+)\s*\)?)?")


def assay(text: str, u_text: str = "") -> tuple[float, float | None]:
    """Read an assay in percent and its uncertainty: mass fraction, standard uncertainty or None if missing.

    `>= 98` lies anywhere from 98 to 100: 99 with u = 1 %/√3. `U 0.2 k 2` is an expanded uncertainty,
    divided by k, or by 1.96 where no k is told; `± 0.3` are limits, divided by √3; `u 0.1` stands as it is.

    >>> assay("99.5", "U 0.2 k 2")
    (0.995, 0.001)
    >>> value, u = assay(">= 98")
    >>> value, round(u, 6)
    (0.99, 0.005774)

    References
    ----------
    EURACHEM/CITAC CG 4, QUAM:2012.P1, 8.1 (rectangle, k, 95 % without k).
    """
    match = _ASSAY.fullmatch(text.strip())
    if not match:
        raise BadField("assay", f"{text!r}: write a percentage such as 99.5 or >= 98.")
    percent = _number(match.group(2), "assay")
    if not 0 < percent <= 100.5:
        raise BadField("assay", f"{text!r}: a percentage lies above 0 and up to 100.")
    if match.group(1):
        if percent >= 100:
            raise BadField("assay", f"{text!r}: at least 100 % leaves no room; write the value.")
        if u_text.strip():
            raise BadField("assay_u", "an assay with >= has its limits already: leave the uncertainty empty.")
        half = (100.0 - percent) / 2.0
        return (percent + half) / 100.0, half / 100.0 / math.sqrt(3.0)
    u = standard_uncertainty(u_text)
    return percent / 100.0, None if u is None else u / 100.0


def _number(text: str, field: str) -> float:
    try:
        return float(number(text))
    except BadNumber as error:
        raise BadField(field, str(error)) from error


def standard_uncertainty(text: str) -> float | None:
    """Read a stated uncertainty, in the unit of its value; None where nothing is stated.

    >>> standard_uncertainty("± 0.3"), standard_uncertainty("") is None
    (0.17320508075688773, True)
    """
    if not text.strip():
        return None
    match = _U.fullmatch(text.strip())
    if not match:
        raise BadField("assay_u", f"{text!r}: write `U 0.2 k 2`, `± 0.3` or `u 0.1`.")
    sign, value, k = match.group(1), _number(match.group(2), "assay_u"), match.group(3)
    if sign == "U":
        factor = _number(k, "assay_u") if k else 1.96
        if not 0.5 <= factor <= 10:
            raise BadField("assay_u", f"k = {k} is no coverage factor: it is 2, or near it.")
        return value / factor
    if k:
        raise BadField("assay_u", f"{text!r}: only an expanded uncertainty U has a k.")
    return value if sign == "u" else value / math.sqrt(3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """What a lot's certificate says of the solid as it lies in the bottle; fractions, not percent.

    An uncertainty of None is a missing one: the budget says so and is never complete.
    """

    assay: float = 1.0
    u_assay: float | None = None
    basis: str = "as-is"
    method: str = ""
    """How the assay was got; a `metals basis` or `area-%` assay is no mass fraction."""
    water: float | None = None
    u_water: float | None = None
    loss_on_drying: float | None = None
    u_loss_on_drying: float | None = None
    dried_before_use: bool = False
    weighed_formula: str = ""
    """Form that the assay refers to."""
    wanted_formula: str = ""
    """Form that the result is stated as; empty: the form weighed."""
    count: float | None = None
    """Molecules of the wanted form per molecule of the form weighed; None: as many as it holds."""


@dataclass(frozen=True, slots=True)
class Factor:
    """One factor of the chain from the mass of solid to the mass of analyte."""

    name: str
    value: float
    u: float | None
    why: str


def chain(content: Content) -> tuple[Factor, ...]:
    """Factors from mass of solid to mass of analyte, in the order in which they are applied.

    as is: P · n·M_wanted/M_weighed; anhydrous: P · (1 − W) · ...; dried: P · (1 − LOD) · ... unless dried
    before use. M_weighed is of the form that the assay refers to.

    >>> c = Content(assay=0.992, u_assay=0.001, basis="anhydrous", water=0.035, u_water=0.001)
    >>> [(f.name, round(f.value, 4)) for f in chain(c)]
    [('assay', 0.992), ('water', 0.965)]
    """
    if content.basis not in BASES:
        raise BadField("basis", f"{content.basis!r}: write one of {', '.join(BASES)}.")
    if not 0 < content.assay <= 1.005:
        raise OutOfRange(f"The assay is {figure(content.assay * 100)} %: it lies above 0 and up to 100 %.")
    weighed = formula(content.weighed_formula) if content.weighed_formula else None
    wanted = formula(content.wanted_formula) if content.wanted_formula else None
    no_fraction = content.method in NO_MASS_FRACTION
    why = f"{content.method}: no mass fraction" if no_fraction else f"certificate, {content.basis} basis"
    factors = [Factor("assay", content.assay, None if no_fraction else content.u_assay, why)]
    if content.basis == "anhydrous":
        factors.append(_anhydrous(content, weighed))
    elif content.basis == "dried" and not content.dried_before_use:
        factors.append(_dried(content, weighed))
    if wanted is not None:
        if weighed is None:
            raise BadField(
                "formula", "the formula of the form weighed is needed beside that of the form wanted."
            )
        count = count_in(weighed, wanted) if content.count is None else content.count
        if wanted.atoms != weighed.atoms or count != 1:
            value, u = salt_factor(weighed=weighed, wanted=wanted, count=count)
            factors.append(
                Factor("molar masses", value, u, f"{figure(count)} × {wanted.text} per {weighed.text}")
            )
    return tuple(factors)


def _anhydrous(content: Content, weighed: Formula | None) -> Factor:
    if weighed is not None and weighed.crystal_water:
        raise OutOfRange(
            f"The assay is on the anhydrous basis: its water takes the crystal water of {weighed.text} off "
            "already: give the formula without water, or the assay as is."
        )
    if content.water is None:
        raise OutOfRange("An assay on the anhydrous basis needs the water content of the solid: give it.")
    return Factor("water", 1.0 - _share(content.water, "water content"), content.u_water, "1 − W")


def _dried(content: Content, weighed: Formula | None) -> Factor:
    if content.loss_on_drying is None:
        raise OutOfRange(
            "An assay on the dried basis needs the loss on drying, or the solid dried before use: give one."
        )
    loss = _share(content.loss_on_drying, "loss on drying")
    if weighed is not None and weighed.crystal_water and loss > water_share(weighed) / 2.0:
        raise OutOfRange(
            f"A loss on drying of {figure(loss * 100)} % has taken the crystal water of {weighed.text} off: "
            "give the formula without water, else it is corrected twice."
        )
    return Factor("loss on drying", 1.0 - loss, content.u_loss_on_drying, "1 − LOD")


def _share(value: float, name: str) -> float:
    if not_negative(value, name) >= 1:
        raise OutOfRange(f"The {name} is {figure(value * 100)} %: it lies below 100 %.")
    return value


def water_share(form: Formula) -> float:
    """Mass fraction of crystal water in a form.

    >>> round(water_share(formula("CuSO4.5H2O")), 4)
    0.3608
    """
    return form.crystal_water * formula("H2O").molar_mass_g_mol / form.molar_mass_g_mol


def as_is(content: Content) -> tuple[float, float | None]:
    """Mass of analyte per mass of solid as weighed, and its standard uncertainty; None if any is missing.

    >>> c = Content(assay=0.992, u_assay=0.001, basis="anhydrous", water=0.035, u_water=0.001)
    >>> value, u = as_is(c)
    >>> round(value, 5), round(u, 5)
    (0.95728, 0.00138)
    """
    value, relative, missing = 1.0, 0.0, False
    for factor in chain(content):
        value *= factor.value
        if factor.u is None:
            missing = True
        else:
            relative += (factor.u / factor.value) ** 2
    return value, None if missing else value * math.sqrt(relative)


def dried_from_as_is(assay_as_is: float, *, loss_on_drying: float) -> float:
    """Assay on the dried basis from one as is: P/(1 − LOD).

    >>> round(dried_from_as_is(0.978, loss_on_drying=0.012), 5)
    0.98988
    """
    return fraction(assay_as_is, "assay") / (1.0 - _share(loss_on_drying, "loss on drying"))
