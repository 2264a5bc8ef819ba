"""Sums of physics and chemistry: water, air, buoyancy, molar masses, contents, CAS numbers."""

import re
from typing import Any

import click

from store.errors import BadInput
from store.units import Quantity
from tui.cli.output import emit, format_option
from tui.cli.typed import DENSITY, MASS, NUMBER


@click.command("water-density")
@click.option("--celsius", type=NUMBER, required=True, help="Temperature, 0 to 40 degC.")
@format_option
def water_density(celsius: float, output: str) -> None:
    """Compute the density of air-free water at 101.325 kPa."""
    from store.calc import water

    emit(
        {
            "value": water.density_kg_m3(celsius),
            "unit": "kg/m3",
            "standard_uncertainty": water.u_density_kg_m3(celsius),
            "source": water.SOURCE,
        },
        output,
    )


@click.command("air-density")
@click.option("--celsius", type=NUMBER, required=True, help="Temperature in degC.")
@click.option("--hpa", type=NUMBER, required=True, help="Pressure in hPa.")
@click.option("--humidity", type=NUMBER, required=True, help="Relative humidity in percent.")
@click.option("--co2-ppm", type=NUMBER, default="400", show_default=True, help="Carbon dioxide, umol/mol.")
@click.option("--short", is_flag=True, help="The short form of OIML R 111-1 instead of CIPM-2007.")
@format_option
def air_density(
    celsius: float, hpa: float, humidity: float, co2_ppm: float, *, short: bool, output: str
) -> None:
    """Compute the density of moist air; the uncertainty is that of the formula alone."""
    from store.calc import air

    if short:
        rho = air.oiml_short_kg_m3(temperature_c=celsius, pressure_hpa=hpa, humidity_percent=humidity)
        u, source = 2e-4 * rho, air.OIML
    else:
        rho = air.cipm_2007_kg_m3(
            temperature_c=celsius, pressure_hpa=hpa, humidity_percent=humidity, co2_ppm=co2_ppm
        )
        u, source = 2.2e-5 * rho, air.CIPM
    emit({"value": rho, "unit": "kg/m3", "standard_uncertainty": u, "source": source}, output)


@click.command()
@click.option("--reading", type=MASS, required=True, help='What the balance shows, such as "10 g".')
@click.option("--density", type=DENSITY, required=True, help='Of what is weighed, such as "998.2 kg/m3".')
@click.option("--air", type=DENSITY, default="1.2 kg/m3", show_default=True, help="Air at the weighing.")
@click.option("--reference", type=DENSITY, default="8000 kg/m3", show_default=True, help="Reference weights.")
@format_option
def buoyancy(reading: Quantity, density: Quantity, air: Quantity, reference: Quantity, output: str) -> None:
    """Compute the true mass of what a balance shows."""
    from store.calc import buoyancy as sums
    from store.calc.guard import ABSURD_G, positive

    positive(reading.to("g"), "reading", "g", most=ABSURD_G)
    factor = sums.factor(
        density_kg_m3=density.to("kg/m3"), air_kg_m3=air.to("kg/m3"), reference_kg_m3=reference.to("kg/m3")
    )
    emit(
        {
            "value": float(reading.number) * factor,
            "unit": reading.unit,
            "standard_uncertainty": None,
            "factor": factor,
            "source": sums.SOURCE,
        },
        output,
    )


@click.command("molar-mass")
@click.argument("formula")
@format_option
def molar_mass(formula: str, output: str) -> None:
    """Compute the molar mass of FORMULA, such as Na2S2O3.5H2O, and say how it was understood."""
    from store.calc import molar

    read = molar.formula(formula)
    emit(
        {
            "value": read.molar_mass_g_mol,
            "unit": "g/mol",
            "standard_uncertainty": read.u_molar_mass_g_mol,
            "formula": read.hill,
            "source": molar.SOURCE,
        },
        output,
    )


@click.command("salt-factor")
@click.option("--weighed", required=True, help="Formula of the form that is weighed.")
@click.option("--wanted", required=True, help="Formula of the form that counts.")
@click.option("--count", type=NUMBER, help="Wanted per weighed; else as many as it holds.")
@format_option
def salt_factor(weighed: str, wanted: str, count: float | None, output: str) -> None:
    """Compute the mass of the wanted form per mass of the form weighed."""
    from store.calc import molar
    from store.calc.guard import positive

    a, b = molar.formula(weighed), molar.formula(wanted)
    n = molar.count_in(a, b) if count is None else positive(count, "count", most=1000.0)
    value, u = molar.salt_factor(weighed=a, wanted=b, count=n)
    emit(
        {
            "value": value,
            "unit": "g/g",
            "standard_uncertainty": u,
            "weighed": a.hill,
            "wanted": b.hill,
            "count": n,
            "source": f"n·M_wanted/M_weighed; {molar.SOURCE}",
        },
        output,
    )


@click.command()
@click.option("--basis", required=True, type=click.Choice(["anhydrous", "dried", "as-is"]))
@click.option("--assay", required=True, help="Assay in percent, such as 99.2 or '>= 98'.")
@click.option("--assay-u", default="", help="Its uncertainty: 'U 0.2 k 2', '± 0.3' or 'u 0.1'.")
@click.option("--water", type=NUMBER, help="Water content in percent.")
@click.option("--water-u", type=NUMBER, help="Its standard uncertainty in percent.")
@click.option("--lod", type=NUMBER, help="Loss on drying in percent.")
@click.option("--lod-u", type=NUMBER, help="Its standard uncertainty in percent.")
@format_option
def purity(
    basis: str,
    assay: str,
    assay_u: str,
    water: float | None,
    water_u: float | None,
    lod: float | None,
    lod_u: float | None,
    output: str,
) -> None:
    """Compute the content as is: mass of substance per mass of the solid as it lies in the bottle."""
    from store.calc import purity as sums
    from store.calc.guard import not_negative

    _no_double_correction(basis, water, lod)
    value, u = sums.assay(assay, assay_u)
    content = sums.Content(
        assay=value,
        u_assay=u,
        basis=basis,
        water=None if water is None else water / 100.0,
        u_water=None if water_u is None else not_negative(water_u, "uncertainty") / 100.0,
        loss_on_drying=None if lod is None else lod / 100.0,
        u_loss_on_drying=None if lod_u is None else not_negative(lod_u, "uncertainty") / 100.0,
    )
    as_is, u_as_is = sums.as_is(content)
    row: dict[str, Any] = {
        "value": as_is,
        "unit": "g/g",
        "standard_uncertainty": u_as_is,
        "chain": [{"factor": f.name, "value": f.value, "u": f.u, "why": f.why} for f in sums.chain(content)],
        "source": sums.SOURCE,
    }
    emit(row, output)


def _no_double_correction(basis: str, water: float | None, lod: float | None) -> None:
    if basis == "as-is" and (water is not None or lod is not None):
        raise BadInput("An assay as is counts water already: leave --water and --lod out, or name its basis.")
    if basis == "anhydrous" and lod is not None:
        raise BadInput("An assay on the anhydrous basis is corrected by its water: give --water, not --lod.")
    if basis == "dried" and water is not None:
        raise BadInput("An assay on the dried basis is corrected by loss on drying: give --lod, not --water.")


@click.command()
@click.argument("number")
@format_option
@click.pass_context
def cas(ctx: click.Context, number: str, output: str) -> None:
    """Check the check digit of a CAS NUMBER, or compute it where it was left out.

    Exit 0 when it fits or was computed, 1 when it does not fit.
    """
    from store.calc import cas as sums
    from store.errors import BadCas

    typed = number.strip()
    match = re.fullmatch(r"([1-9][0-9]{1,6}-[0-9]{2})(?:-([0-9]))?", typed, re.ASCII)
    if not match:
        sums.cas(typed)
        raise BadCas(f"{typed!r} is no CAS number.")
    digit = sums.check_digit(match.group(1))
    given = match.group(2)
    right = given is None or int(given) == digit
    said = (
        "the check digit was left out and is computed"
        if given is None
        else "the check digit fits"
        if right
        else f"INVALID: {typed} ends in {given}, its digits ask for the check digit {digit}; "
        "look at each digit again, any of them may be wrong"
    )
    emit(
        {
            "value": f"{match.group(1)}-{digit}" if right else None,
            "unit": "",
            "standard_uncertainty": None,
            "valid": None if given is None else right,
            "check_digit": digit,
            "says": said,
            "source": sums.SOURCE,
        },
        output,
    )
    ctx.exit(0 if right else 1)
