"""`tarebook calc label-elements` and `tarebook calc mixing`."""

from math import inf
from typing import TYPE_CHECKING, Any

import click

from store.errors import BadInput
from tui.cli.output import emit, format_option

if TYPE_CHECKING:
    from store.hazards.mixing import Item

RULES = "Regulation (EC) No 1272/2008 (CLP), Articles 17 to 30 and Annex I, 1.2 to 1.4"
NOTE = "Follow the safety data sheet and your site's rules; they come before this."


@click.command("label-elements")
@click.argument("classes", nargs=-1, required=True, metavar="CLASSIFICATION...")
@format_option
def label_elements(classes: tuple[str, ...], output: str) -> None:
    """Give signal word, pictograms and statements of a label, and what was left out and why.

    CLASSIFICATION is class, category and statement, such as "Carc. 1B H350".
    """
    from store.hazards.classification import check_set
    from store.hazards.label import elements
    from store.hazards.snapshot import read_classes
    from store.hazards.statements import EDITION, statement

    read, _ = read_classes(classes, EDITION)
    shown = elements(read)
    for finding in check_set(read):
        click.echo(f"Check: {finding}", err=True)
    data: dict[str, Any] = {
        "signal_word": shown.signal_word,
        "pictograms": list(shown.pictograms),
        "statements": list(shown.statements),
        "omitted": [{"code": one.code, "why": one.why} for one in shown.omitted],
        "source": RULES,
    }
    if output == "table":
        data["statements"] = [{"statement": code, "text": statement(code).text} for code in shown.statements]
        data["may_be_omitted"] = [{"code": one.code, "why": one.why} for one in shown.optional]
        data = {key: value for key, value in data.items() if value or key == "signal_word"}
        data |= {"edition": EDITION, "note": NOTE}
    emit(data, output)


@click.command()
@click.argument("things", nargs=-1, required=True, metavar="NAME:FRACTION:MASS[:IN]...")
@click.option(
    "--where", type=click.Choice(["vessel", "waste", "cleaning"]), default="vessel", show_default=True
)
@format_option
def mixing(things: tuple[str, ...], where: str, output: str) -> None:
    """Say what is known of things that meet, in order of addition.

    FRACTION is the mass fraction of the substance in its liquid, 1 for a pure solid or liquid; MASS is that
    of the whole liquid or solid; IN is what the substance is in. A ? stands for what is not known and counts
    as the most. For example "sodium azide:0.0005:20 g:water" "nitric acid:0.02:1 g:water".
    """
    from store.hazards.mixing import meet

    verdict = meet([item(thing) for thing in things], where)
    data: dict[str, Any] = {
        "level": verdict.level,
        "rule": verdict.rule,
        "happens": verdict.happens,
        "instead": verdict.instead,
        "under": list(verdict.under),
        "unchecked": list(verdict.unchecked),
        "source": verdict.source or None,
    }
    if output == "table":
        data = {key: value for key, value in data.items() if value}
        if not verdict.rule:
            data["meaning"] = "no rule was found; that is not the same as compatible"
        data |= {"order": verdict.order} if verdict.order else {}
        data |= {"others": list(verdict.others)} if verdict.others else {}
        data["note"] = NOTE
    emit(data, output)


def item(thing: str) -> "Item":
    """Read one `NAME:FRACTION:MASS[:IN]`.

    Raises
    ------
    BadInput
        It has not three or four parts, or a part cannot be read.
    """
    from store.hazards.mixing import Item
    from store.units import number, quantity

    parts = [part.strip() for part in thing.split(":")]
    if len(parts) not in (3, 4) or not parts[0]:
        raise BadInput(
            f"{thing!r}: write name, mass fraction, mass and what it is in, parted by colons, "
            'such as "sodium azide:0.0005:20 g:water".'
        )
    fraction = 1.0 if parts[1] in ("", "?") else float(number(parts[1]))
    mass_mg = inf if parts[2] in ("", "?") else quantity(parts[2], "mass").to("mg")
    return Item(parts[0], fraction, mass_mg, parts[3] if len(parts) == 4 else "")


commands: list[click.Command] = [label_elements, mixing]
