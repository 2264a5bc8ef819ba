"""`tarebook label`: the label of a prep, as text or as a page of label stock."""

from pathlib import Path

import click

from store.errors import BadInput, FileRefused
from tui.cli.desk import open_record


@click.command()
@click.argument("prep")
@click.option("--part", default="", help="Of a prep of several vessels, this one; else all of them, as text.")
@click.option("--size", default="70x37mm", show_default=True, help="Width x height of the stock, for html.")
@click.option("--format", "form", type=click.Choice(("text", "html")), default="text", show_default=True)
@click.option("--to", type=click.Path(dir_okay=False, path_type=Path), help="Write a new file instead.")
@click.pass_context
def label(ctx: click.Context, prep: str, part: str, size: str, form: str, to: Path | None) -> None:
    """Print the label of PREP; while it is open, the pre-label.

    On stock too small for the whole label, a vessel of up to 10 mL gets a reduced one; what it leaves for the
    label of the outer package is said. Common practice for a 2 mL vial: 38x13mm to 30x20mm.
    """
    from store.model.words import PrepStatus
    from store.queries import decimals
    from tui.guide.labels import data_of
    from tui.paper import inner
    from tui.paper.label import label_text
    from tui.paper.stock import page, size_of

    with open_record(ctx) as record:
        state = record.prep_state(prep)
        if state.status == PrepStatus.ABANDONED:
            raise BadInput(f"{prep} was given up: there is nothing to label.")
        keys = [p.key for p in state.plan.parts]
        if part and part not in keys:
            raise BadInput(f"{prep} has no part {part!r}: {', '.join(keys) or 'it has one vessel'}.")
        if form == "html" and len(keys) > 1 and not part:
            raise BadInput(f"{prep} has a label for each of its vessels: add --part {keys[0]}, or another.")
        wanted = [p for p in state.each if not part or p.key == part]
        every = [data_of(record, one, "final" if one.complete else "pre-label") for one in wanted]
    if form == "text":
        text = decimals.shown("".join(map(label_text, every)))
    else:
        made = page(every[0], size_of(size))
        text = made.html
        if made.small:
            click.echo(
                f"Letters of {made.points:g} pt: print it and try to read it before it is used; larger stock "
                "reads better.",
                err=True,
            )
        if made.left:
            click.echo(f"REDUCED LABEL ({inner.RULE}).", err=True)
            click.echo(
                f"Left for the outer label: {'; '.join(made.left)}. Print that one too, as on 70x37mm, and "
                "keep the vessel inside its package.",
                err=True,
            )
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
