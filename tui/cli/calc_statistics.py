"""Sums over values: minimum weight, uniformity, chart."""

import math
from dataclasses import asdict

import click

from store.errors import BadInput
from store.units import Quantity, convert
from tui.cli.output import emit, format_option
from tui.cli.typed import MASS, NUMBER, values_of

NUMBERS = {"ignore_unknown_options": True}
"""A negative value is no option."""


@click.command("minimum-weight", context_settings=NUMBERS)
@click.argument("values", nargs=-1)
@click.option(
    "--readability", type=MASS, required=True, help='One step of the last digit, such as "0.01 mg".'
)
@click.option("--sd", type=MASS, help="Standard deviation of ten or more weighings.")
@click.option(
    "--unit", type=click.Choice(["ug", "mg", "g"]), default="mg", show_default=True, help="Of VALUES."
)
@click.option("--limit", type=NUMBER, default="0.10", show_default=True, help="Relative error in percent.")
@click.option("--factor", type=NUMBER, default="2", show_default=True, help="Coverage factor.")
@click.option("--column", help="Column of a CSV file.")
@format_option
def minimum_weight(
    values: tuple[str, ...],
    readability: Quantity,
    sd: Quantity | None,
    unit: str,
    limit: float,
    factor: float,
    column: str | None,
    output: str,
) -> None:
    """Compute the smallest net sample from --sd, from ten or more VALUES, or from --readability.

    VALUES are weighings of one small load: numbers, a CSV file, or - for standard input.
    """
    from store.calc import weighing

    weighings = [convert(v, unit, "mg") for v in values_of(values, column)]
    if weighings and sd is not None:
        raise BadInput("Give --sd or the weighings, not both.")
    sd_mg = sd.to("mg") if sd is not None else weighing.repeatability_mg(weighings) if weighings else 0.0
    d_mg = readability.to("mg")
    value = weighing.minimum_weight_mg(sd_mg=sd_mg, readability_mg=d_mg, limit_percent=limit, factor=factor)
    # A standard deviation of n values has itself a relative uncertainty of 1/sqrt(2(n − 1)).
    n = len(weighings)
    floored = sd_mg < weighing.FLOOR_STEPS * d_mg
    emit(
        {
            "value": value,
            "unit": "mg",
            "standard_uncertainty": value / math.sqrt(2 * (n - 1)) if n and not floored else None,
            "sd_mg": sd_mg,
            "counted_sd_mg": weighing.effective_sd_mg(sd_mg=sd_mg, readability_mg=d_mg),
            "weighings": n or None,
            "source": weighing.SOURCE,
        },
        output,
    )


@click.command(context_settings=NUMBERS)
@click.argument("values", nargs=-1, required=True)
@click.option("--target", type=NUMBER, default="100", show_default=True, help="Target T in % of the label.")
@click.option("--assay", type=NUMBER, help="Mean assay in % of the label; VALUES are then net masses in mg.")
@click.option("--column", help="Column of a CSV file.")
@format_option
def uniformity(
    values: tuple[str, ...], target: float, assay: float | None, column: str | None, output: str
) -> None:
    """Compute the acceptance value of 10 (stage 1) or 30 (stage 2) contents in percent of the label.

    VALUES are numbers, a CSV file, or - for standard input. With --assay they are net masses, and the
    contents follow by weight variation.
    """
    from store.calc import uniformity as sums

    contents = values_of(values, column)
    if assay is not None:
        contents = sums.by_weight(contents, mean_assay_percent=assay)
    a = sums.acceptance(contents, target_percent=target)
    emit(
        {
            "value": a.acceptance_value,
            "unit": "% of label",
            "standard_uncertainty": None,
            "acceptance_value": a.acceptance_value,
            "mean": a.mean,
            "s": a.s,
            "rsd_percent": sums.rsd_percent(contents),
            "reference": a.reference,
            "k": a.k,
            "limit": sums.L1,
            "stage": a.stage,
            "outside": a.outside,
            "passes": a.passes,
            "source": sums.SOURCE,
        },
        output,
    )


@click.command(context_settings=NUMBERS)
@click.argument("values", nargs=-1, required=True)
@click.option("--column", help="Column of a CSV file.")
@format_option
def chart(values: tuple[str, ...], column: str | None, output: str) -> None:
    """Compute the limits of an individuals chart, and the signals by Nelson's rules.

    VALUES in the order of time: numbers, a CSV file, or - for standard input.
    """
    from store.calc import chart as sums

    c = sums.individuals(values_of(values, column))
    emit(
        {
            "value": c.mean,
            "unit": "",
            "standard_uncertainty": None,
            "mean": c.mean,
            "sigma": c.sigma,
            "ucl": c.ucl,
            "lcl": c.lcl,
            "signals": [asdict(s) for s in c.signals],
            "source": sums.SOURCE,
        },
        output,
    )
