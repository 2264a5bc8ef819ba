"""`tarebook balance health`, `weighings`, `check`, `checks`, `adjusted`: whether a balance can be trusted."""

from dataclasses import asdict
from typing import Any

import click

from store.errors import BadInput
from store.units import figure, signed
from tui.cli import desk
from tui.cli.output import emit, format_option, say
from tui.cli.typed import shown_of

NUMBERS = {"ignore_unknown_options": True}
"""A negative value is no option."""
_AS = click.option("--as", "person", metavar="ID", default="", help="Who does it.")
_PIN = click.option("--pin-stdin", is_flag=True, help="Read the PIN from standard input.")


@click.command()
@click.argument("id")
@format_option
@click.pass_context
def health(ctx: click.Context, id: str, output: str) -> None:
    """Show whether balance ID may weigh, its minimum weight, its checks and what was done to it."""
    from store.queries import balances, registers

    with desk.open_record(ctx) as record:
        found, zone = balances.health(record, id), registers.zone(record)
    if output == "table":
        from tui.cli.output import printable
        from tui.paper.balance_page import lines

        say(f"balance {id}")
        for line in lines(found, zone=zone):
            say(printable(line))
        return
    data: dict[str, Any] = {
        "balance": id,
        "state": str(found.standing.state),
        "why": found.standing.why,
        "sd_mg": found.sd_mg,
        "sd_from": found.sd_from,
        "minimum_mg": found.minimum_mg,
        "calibration_u_mg": found.calibration_u_mg,
        "chart": asdict(found.chart) if found.chart is not None else None,
        "checks": [asdict(c) for c in found.charted],
        "measured": [asdict(m) for m in found.measured],
        "adjustments": [asdict(a) for a in found.adjustments],
    }
    emit(data, output)


@click.command(context_settings=NUMBERS)
@click.argument("id")
@click.argument("values", nargs=-1)
@click.option("--load", default="", help='What else lay on the pan, such as the empty vessel: "12.03 g".')
@click.option("--column", help="Column of a CSV file.")
@_AS
@_PIN
@format_option
@click.pass_context
def weighings(
    ctx: click.Context,
    id: str,
    values: tuple[str, ...],
    load: str,
    column: str | None,
    person: str,
    pin_stdin: bool,
    output: str,
) -> None:
    """Write ten or more weighings of one small mass on balance ID, and show what they give.

    VALUES as the display showed them, every digit, in the unit of the display; or one CSV file.
    """
    from store.actions import balances as verbs
    from store.queries import balances

    if "-" in values and pin_stdin:
        raise BadInput("Standard input gives the PIN: put the weighings into a file.")
    shown = shown_of(values, column)
    source = "typed" if len(values) != 1 else f"file {values[0]}"
    with desk.open_record(ctx, write=True) as record:
        acting = desk.acting(record, person, pin_stdin=pin_stdin)
        verbs.measure(acting, id, weighings=shown, load=load, source=source)
        found = balances.measured(record, id)[0]
    emit(
        {
            "balance": id,
            "entry": found.entry,
            "weighings": len(found.weighings),
            "sd_mg": found.sd_mg,
            "minimum_mg": found.minimum_mg,
            "enclosure": found.enclosure,
            "load": found.load,
        },
        output,
    )


@click.command(context_settings=NUMBERS)
@click.argument("id")
@click.option("--zero", required=True, help="What the empty pan shows.")
@click.option("--reading", required=True, help="What the check weight shows.")
@_AS
@_PIN
@click.pass_context
def check(ctx: click.Context, id: str, zero: str, reading: str, person: str, pin_stdin: bool) -> None:
    """Write a daily check of balance ID with its check weight.

    Exit 0 when it is within its limit, 1 when it is not; both stand in the record.
    """
    from store.actions import balances as verbs
    from store.queries import balances

    with desk.open_record(ctx, write=True) as record:
        acting = desk.acting(record, person, pin_stdin=pin_stdin)
        passes = verbs.check(acting, id, zero=zero, shown=reading)
        last = balances.checks(record, id, limit=1)[0]
    word = "within its limit" if passes else "OUT OF ITS LIMIT: the balance does not weigh until it passes"
    limit = "" if last.limit_mg is None else f" of ± {figure(last.limit_mg, 4)} mg"
    say(f"{last.shown}, off by {signed(last.error_mg, 4)} mg{limit}: {word}")
    ctx.exit(0 if passes else 1)


@click.command()
@click.argument("id")
@click.option("--limit", type=click.IntRange(1, 10_000), default=60, show_default=True, help="So many.")
@format_option
@click.pass_context
def checks(ctx: click.Context, id: str, limit: int, output: str) -> None:
    """List the checks of balance ID, newest first, in preps and outside."""
    from store.queries import balances, registers
    from store.queries.periods import local

    with desk.open_record(ctx) as record:
        registers.row(record, "balance", id)
        found = balances.checks(record, id, limit=limit)
    rows = [asdict(c) for c in found]
    if output == "table":
        rows = [{**r, "at": f"{local(r['at']):%Y-%m-%d %H:%M}"} for r in rows]
        if not rows:
            say(f"Balance {id} was never checked.")
            return
    emit(rows, output, columns=("entry", "at", "person", "prep", "shown", "error_mg", "limit_mg", "within"))


@click.command()
@click.argument("id")
@click.option("--how", required=True, help='Such as "internal weight" or "external weight".')
@click.option("--air", default="", help='Gas around its weight then, where it differs: "1.199 kg/m3".')
@click.option("--note", default="", help="Why, or by whom.")
@_AS
@_PIN
@click.pass_context
def adjusted(
    ctx: click.Context, id: str, how: str, air: str, note: str, person: str, pin_stdin: bool
) -> None:
    """Write that balance ID was adjusted; a check before it stands no more."""
    from store.actions import balances as verbs

    with desk.open_record(ctx, write=True) as record:
        acting = desk.acting(record, person, pin_stdin=pin_stdin)
        entry = verbs.adjusted(acting, id, how=how, air=air, note=note)
    say(f"Written as entry {entry.entry}. Check the balance with its weight before it weighs.")
