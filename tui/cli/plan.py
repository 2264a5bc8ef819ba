"""`tarebook plan`: a dilution or a series planned from the shell, checked as on the screen."""

import click

from tui.cli import second as second_person
from tui.cli.desk import acting, asking, open_record
from tui.cli.output import say


@click.command()
@click.argument("kind", type=click.Choice(("dilution", "series")))
@click.option("--from", "sources", required=True, help="Container of the solution; of a series also several.")
@click.option("--to", "targets", required=True, help="'10 ug/g, 0.1 ug/g' or '1 to 5 ug/g, 5 equal'.")
@click.option("--vessels", required=True, help="A vessel for each, parted by commas; blanks come last.")
@click.option("--amount", required=True, help="Of each vessel, '20 g'; or one for each.")
@click.option("--solvent", required=True, help="Container of the solvent.")
@click.option("--balance", required=True)
@click.option("--enclosure", required=True)
@click.option("--blanks", default="0", show_default=True, help="Vessels with solvent alone, of a series.")
@click.option("--solvent-first", is_flag=True, help="Solvent, then the aliquot that it needs.")
@click.option("--keep-last", is_flag=True, help="What is left of the steps before the last goes to waste.")
@click.option("--tolerance", default="5", show_default=True, help="Half-width of the window, in percent.")
@click.option("--check", is_flag=True, help="Only say what it comes to: nothing is written, no PIN asked.")
@second_person.options
@click.option("--as", "person", default="", help="Who plans it.")
@click.option("--pin-stdin", is_flag=True, help="Read the PIN from the first line of standard input.")
@click.pass_context
def plan(
    ctx: click.Context,
    kind: str,
    sources: str,
    targets: str,
    vessels: str,
    amount: str,
    solvent: str,
    balance: str,
    enclosure: str,
    blanks: str,
    solvent_first: bool,
    keep_last: bool,
    tolerance: str,
    check: bool,
    second: str,
    reason: str,
    person: str,
    pin_stdin: bool,
) -> None:
    """Plan a dilution (each vessel from the one before) or a series (each level from a stock).

    Go on with it by `tarebook prep PREP --plain`, or on the screen. What stands against it is let through by
    --second, with that person's PIN and --reason.
    """
    from store.actions import planning
    from store.procedure import layout
    from tui.guide.several_words import comes_to
    from tui.guide.single_words import limits

    wish = layout.Wish(
        kind=kind,
        order=layout.ORDERS[solvent_first],
        sources=sources,
        targets=targets,
        amount=amount,
        vessels=vessels,
        solvent_container=solvent,
        balance=balance,
        enclosure=enclosure,
        blanks=blanks,
        keep=layout.KEEP_LAST if keep_last else layout.KEEP_ALL,
        tolerance_percent=tolerance,
    )
    with open_record(ctx, write=not check) as record:
        who = asking(record, person) if check else acting(record, person, pin_stdin=pin_stdin)
        found = planning.explain(who, layout.plan(wish))
        for line in (*comes_to(found), *limits(found)):
            say(line)
        if not check:
            say(second_person.write(who, found.plan, second=second, reason=reason, pin_stdin=pin_stdin))
