"""`tarebook rack`: equal portions planned from the shell, checked as on the screen."""

import click

from tui.cli import second as second_person
from tui.cli.desk import acting, asking, open_record
from tui.cli.output import say


@click.command()
@click.option("--from", "container", required=True, help="Container of the powder.")
@click.option("--vessels", required=True, help="'R-01 to R-30', a tare set, or numbers parted by commas.")
@click.option("--amount", required=True, help="Of each: '10 mg' of powder; with --to, '10 g' of solution.")
@click.option("--to", "target", default="", help="Where every portion becomes a solution: '1 mg/g'.")
@click.option("--solvent", default="", help="Container of the solvent, with --to.")
@click.option("--balance", required=True)
@click.option("--enclosure", required=True)
@click.option("--one-by-one", is_flag=True, help="The container opened and closed for each vessel.")
@click.option("--tolerance", default="5", show_default=True, help="Half-width of the window, in percent.")
@click.option("--check", is_flag=True, help="Only say what it comes to: nothing is written, no PIN asked.")
@second_person.options
@click.option("--as", "person", default="", help="Who plans it.")
@click.option("--pin-stdin", is_flag=True, help="Read the PIN from the first line of standard input.")
@click.pass_context
def rack(
    ctx: click.Context,
    container: str,
    vessels: str,
    amount: str,
    target: str,
    solvent: str,
    balance: str,
    enclosure: str,
    one_by_one: bool,
    tolerance: str,
    check: bool,
    second: str,
    reason: str,
    person: str,
    pin_stdin: bool,
) -> None:
    """Plan a rack of equal portions: of powder, or with --to and --solvent a solution in every vessel.

    Go on with it by `tarebook prep PREP --plain`, or on the screen. What stands against it is let through by
    --second, with that person's PIN and --reason.
    """
    from store.actions import planning, racks
    from store.procedure.recipes.rack import ALL_AT_ONCE, ONE_BY_ONE
    from tui.guide.rack_words import comes_to
    from tui.guide.single_words import limits

    with open_record(ctx, write=not check) as record:
        who = asking(record, person) if check else acting(record, person, pin_stdin=pin_stdin)
        made = racks.plan(
            record,
            container=container,
            amount=amount,
            vessels_text=vessels,
            balance=balance,
            enclosure=enclosure,
            target=target,
            solvent_container=solvent,
            recipe=ONE_BY_ONE if one_by_one else ALL_AT_ONCE,
            tolerance_percent=tolerance,
        )
        found = planning.explain(who, made)
        for line in (*comes_to(found), *limits(found)):
            say(line)
        if not check:
            say(second_person.write(who, made, second=second, reason=reason, pin_stdin=pin_stdin))
