"""Planned preps that could be merged, from the shell."""

import click

from tui.cli.desk import open_record
from tui.cli.output import emit, format_option


@click.command()
@click.option(
    "--days",
    type=click.IntRange(min=0),
    default=7,
    show_default=True,
    help="Containers must be usable so many days ahead.",
)
@format_option
@click.pass_context
def merge(ctx: click.Context, days: int, output: str) -> None:
    """Say which planned preps, none of them begun, one weighing of the powder would serve.

    Preps of one lot in one solvent: the strongest is made once, the weaker ones are diluted from it. What
    is saved are openings of the powder, and milligrams where single ones are below the minimum weight.
    """
    from store.queries import merging

    with open_record(ctx) as record:
        rows = [
            {
                "preps": list(m.preps),
                "lot": m.lot,
                "container": m.container,
                "solvent": m.solvent,
                "how": m.how,
                "solid_mg": m.solid_mg,
                "apart_mg": m.apart_mg,
                "saved_mg": 0.0 if m.why_not else m.saved_mg,
                "openings_saved": 0 if m.why_not else m.openings_saved,
                "why_not": m.why_not or None,
            }
            for m in merging.merges(record, days=days)
        ]
        emit(rows, output, columns=tuple(rows[0]) if rows else ())
