"""`tarebook search`: one box over preps, registers, notes and incidents."""

from dataclasses import asdict

import click

from tui.cli.desk import open_record
from tui.cli.output import emit, format_option


@click.command()
@click.argument("words", nargs=-1, required=True)
@click.option(
    "--limit", type=click.IntRange(min=1), default=50, show_default=True, help="Rows, newest first."
)
@format_option
@click.pass_context
def search(ctx: click.Context, words: tuple[str, ...], limit: int, output: str) -> None:
    """Find WORDS: a number, a name, a CAS number; all must stand there, the last may be a beginning."""
    from store.queries import search as asked

    with open_record(ctx) as record:
        hits = asked.find(record, " ".join(words), limit=limit)
    found = [asdict(hit) for hit in hits]
    if output == "table":
        found = [
            {**row, "text": asked.near(hit, " ".join(words))[:60]}
            for row, hit in zip(found, hits, strict=True)
        ]
    emit(found, output, columns=("kind", "id", "entry", "text"))
