"""`tarebook label`: the label of a prep, as text or as a page of label stock."""

from pathlib import Path

import click

from store.errors import BadInput, FileRefused
from tui.cli.desk import open_record


@click.command()
@click.argument("prep")
@click.option("--size", default="70x37mm", show_default=True, help="Width x height of the label stock.")
@click.option("--format", "form", type=click.Choice(("text", "html")), default="text", show_default=True)
@click.option("--to", type=click.Path(dir_okay=False, path_type=Path), help="Write a new file instead.")
@click.pass_context
def label(ctx: click.Context, prep: str, size: str, form: str, to: Path | None) -> None:
    """Print the label of PREP; while it is open, the pre-label."""
    from store.model.words import PrepStatus
    from tui.guide.labels import data_of
    from tui.paper.label import label_html, label_text
    from tui.paper.stock import size_of

    with open_record(ctx) as record:
        state = record.prep_state(prep)
        if state.status == PrepStatus.ABANDONED:
            raise BadInput(f"{prep} was given up: there is nothing to label.")
        ready = bool(state.in_vessel("solid")) and bool(state.in_vessel("solvent"))
        data = data_of(record, state, "final" if ready else "pre-label")
    text = label_text(data) if form == "text" else label_html(data, size_of(size))
    if to is None:
        click.echo(text, nl=False)
        return
    try:
        with to.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise FileRefused(f"{to} is there already: name a new file.") from None
    except OSError as error:
        raise FileRefused(f"{to} cannot be written: {error.strerror}.") from error
