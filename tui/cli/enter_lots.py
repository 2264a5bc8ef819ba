"""`tarebook enter` for lots and containers: a certificate, a stocktake, a sealed gross, a comparison."""

from functools import partial
from typing import Any

import click

from tui.cli import second
from tui.cli.desk import acting, open_record
from tui.cli.output import say

_AS = click.option("--as", "by", metavar="ID", default="", help="Who writes it.")
_PIN = click.option("--pin-stdin", is_flag=True, help="Read the PIN from standard input.")


def _written(entry: Any) -> None:
    from store.queries import log

    say(f"entry {entry.entry}: {log.says(entry.event)}")


@click.command()
@click.argument("lot")
@click.argument("says", nargs=-1, metavar="FIELD=VALUE ...")
@click.option("--reason", default="", help="Why: number and date of the revised certificate.")
@_AS
@_PIN
@click.pass_context
def certificate(
    ctx: click.Context, lot: str, says: tuple[str, ...], reason: str, by: str, pin_stdin: bool
) -> None:
    """Enter what a revised certificate says of LOT: `assay=99.0 assay_u="U 0.2 k 2"`."""
    from store.actions import revise
    from store.errors import BadInput
    from store.queries import registers, revised, spread, taken

    fields = dict(part.partition("=")[::2] for part in says)
    if not fields or any("=" not in part for part in says):
        raise BadInput("Say what it says otherwise, as FIELD=VALUE, such as assay=99.0.")
    with open_record(ctx, write=True) as record:
        who = acting(record, by, pin_stdin=pin_stdin)
        seen = registers.row(record, "lot", lot).entry
        _written(revise.certificate(who, lot, fields, reason=reason, seen=seen))
        few = spread.few(record, lot)
        changed = {r.prep for r in revised.of(record, lot) if r.changed} if few else set()
        of_all = taken.said(taken.of_lot(record, lot))
    if not few:
        say(f"{of_all} Which have another value now: tarebook trace {lot} --revised --format csv")
    elif changed:
        have = "1 prep has" if len(changed) == 1 else f"{len(changed)} preps have"
        say(f"{have} another value now: tarebook trace {lot} --revised")


@click.command()
@click.argument("container")
@click.argument("left")
@click.option("--how", default="weighed", show_default=True, help="weighed or estimated.")
@click.option("--reason", default="", help="What a difference comes from.")
@_AS
@_PIN
@click.pass_context
def stock(ctx: click.Context, /, container: str, by: str, pin_stdin: bool, **given: Any) -> None:
    """Write what is left in CONTAINER: the mass of its content, such as "4.51 g"."""
    from store.actions import stock as verbs

    with open_record(ctx, write=True) as record:
        _written(verbs.take_stock(acting(record, by, pin_stdin=pin_stdin), container, **given))


@click.command()
@click.argument("container")
@click.argument("shown")
@click.option("--when", default="before use", show_default=True, help="at closing, before use, after use.")
@click.option("--balance", required=True, help="Which balance showed it.")
@click.option("--limit", "limit_percent", default="1", show_default=True, help="A leak from so many percent.")
@_AS
@_PIN
@click.pass_context
def sealed(ctx: click.Context, /, container: str, by: str, pin_stdin: bool, **given: Any) -> None:
    """Write the gross of the sealed CONTAINER as the display SHOWED it, and what it lost since."""
    from store.actions import stock as verbs
    from store.queries import storage
    from store.units import rounded

    with open_record(ctx, write=True) as record:
        _written(verbs.weigh_sealed(acting(record, by, pin_stdin=pin_stdin), container, **given))
        found = storage.of(record, container)
    last = found.weighings[-1]
    for key in ("loss_mg", "u_loss_mg", "loss_percent", "days"):
        if key in last.computed:
            say(f"{key.replace('_', ' '):<14}{last.computed[key]}")
    if last.leaks:
        say("LEAKS: liquid may have gone as well as vapour. Do not use it on a corrected value.")
    elif found.doubt:
        say(f"in it now     not known: {found.doubt}")
    elif found.value is not None and found.u:
        shown, u = rounded(found.value, found.u)
        say(f"in it now     {shown} {found.unit}, u {u}, if only solvent escaped")


@click.command()
@click.argument("lot")
@click.argument("ratio")
@click.option("--how", default="previous lot", show_default=True, help="previous lot or independent check.")
@click.option("--against", required=True, help="Number of the previous lot, or what it was held against.")
@click.option("--method", required=True, help="How it was measured.")
@click.option("--u", default="", help="Standard uncertainty of the ratio.")
@click.option("--limit", "limit_percent", default="", help="How far from 1 it may be, in percent.")
@click.option("--note", default="", help="In words.")
@_AS
@_PIN
@click.pass_context
def verification(ctx: click.Context, /, lot: str, by: str, pin_stdin: bool, **given: Any) -> None:
    """Write how LOT stood against another: RATIO is found over expected, 1 is agreement."""
    from store.actions import stock as verbs

    with open_record(ctx, write=True) as record:
        _written(verbs.verify_lot(acting(record, by, pin_stdin=pin_stdin), lot, **given))


@click.command()
@click.argument("prep")
@click.option("--places", default="", help="Which were assayed: '1 to 10', or '3, 7', or their vessels.")
@click.option(
    "--contents", default="", help="Content of each in % of the label, in that order: '99.2 101.1'."
)
@click.option("--mean", default="", help="Mean content by an assay of the lot, in % of the label.")
@click.option("--target", default="100", show_default=True, help="Target of the label in %.")
@click.option("--method", required=True, help="How it was measured.")
@click.option("--laboratory", default="", help="Who measured it.")
@click.option("--report", default="", help="Number of the report.")
@click.option("--note", default="", help="In words; why, where it replaces what stood.")
@_AS
@_PIN
@click.pass_context
def assay(
    ctx: click.Context, /, prep: str, places: str, contents: str, by: str, pin_stdin: bool, **given: Any
) -> None:
    """Write what a laboratory found in portions of the closed rack PREP; gives the acceptance value.

    Ten portions are judged at stage 1, thirty at stage 2 (USP <905>). A content '-' takes back what stood.
    """
    from store.actions import assays

    with open_record(ctx, write=True) as record:
        who = acting(record, by, pin_stdin=pin_stdin)
        state = record.prep_state(prep)
        found = assays.units(state.plan, places, contents)
        _written(assays.enter(who, prep, seen=state.last_entry, units=found, **given))
        for line in assays.said(record.prep_state(prep)):
            say(line)


@click.command()
@click.argument("prep")
@click.argument("entry", type=int)
@click.argument("shown")
@click.option("--why", required=True, help="What was misread, and how it was found.")
@second.options
@_AS
@_PIN
@click.pass_context
def misread(
    ctx: click.Context, /, prep: str, entry: int, shown: str, why: str, by: str, pin_stdin: bool, **let: str
) -> None:
    """Put right the dose of ENTRY in the closed PREP: what the display SHOWED. The result is written anew.

    The entries are those of `tarebook show PREP`. What stood before stays there; a reviewer decides again.
    """
    from store.actions import misread as verbs
    from store.procedure.outcome_words import result_lines
    from tui.guide.labels import final_label

    with open_record(ctx, write=True) as record:
        who = acting(record, by, pin_stdin=pin_stdin)
        given: dict[str, Any] = {
            "seen": record.prep_state(prep).last_entry, "entry": entry, "shown": shown, "reason": why,
            "label": partial(final_label, record),
        }  # fmt: skip
        second.through(
            who,
            lambda decision: verbs.write(who, prep, **given, let_through=decision),
            **let,
            pin_stdin=pin_stdin,
        )
        for line in result_lines(record.prep_state(prep)):
            say(line)
    say(f"Print the label again: tarebook label {prep}")


COMMANDS = (certificate, stock, sealed, verification, assay, misread)
