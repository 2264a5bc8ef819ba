"""`tarebook rehearsals`: how long it was open and how well the aim was hit, to judge it as training."""

from dataclasses import asdict, fields
from typing import Any

import click

from store.units import clock, fixed
from tui.cli.desk import open_record
from tui.cli.output import Row, emit, format_option


@click.command()
@click.option("--person", default="", help="Who weighed.")
@click.option("--substance", default="", help="What was weighed: id, name or CAS.")
@click.option("--sums", is_flag=True, help="Add up by person: median time open, mean and scatter.")
@format_option
@click.pass_context
def rehearsals(ctx: click.Context, person: str, substance: str, sums: bool, output: str) -> None:
    """List rehearsals: the time open, how far from the aim, in how many portions. None counts as exposure."""
    from store.queries import named
    from store.queries import rehearsals as of

    with open_record(ctx) as record:
        found = of.done(
            record, person=named.person(record, person), substance=named.substance(record, substance)
        )
    names = [f.name for f in fields(of.Practice if sums else of.Rehearsal)]
    rows = of.practice(found) if sums else found
    columns = ["open" if n == "open_s" and output == "table" else n for n in names]
    emit([_row(asdict(r), output) for r in rows], output, columns=columns)


def _row(row: Row, output: str) -> Row:
    if output != "table":
        return row
    out: dict[str, Any] = {}
    for name, value in row.items():
        if name == "open_s":
            out["open"] = clock(value)
        else:
            out[name] = fixed(value, 2) if isinstance(value, float) else "" if value is None else value
    return out
