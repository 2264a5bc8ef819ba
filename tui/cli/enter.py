"""`tarebook enter`: what belongs to no prep, typed at a shell; `--as` and a PIN for every entry."""

from typing import Any

import click

from tui.cli.desk import acting, open_record
from tui.cli.enter_lots import COMMANDS
from tui.cli.output import OneSentence, say

NUMBERS = {"ignore_unknown_options": True}
_AS = click.option("--as", "by", metavar="ID", default="", help="Who writes it.")
_PIN = click.option("--pin-stdin", is_flag=True, help="Read the PIN from standard input.")


@click.group(cls=OneSentence)
def enter() -> None:
    """Write what belongs to no prep: a handling, a measurement, an incident's details, a lot's checks."""


def _written(entry: Any) -> None:
    from store.queries import log

    say(f"entry {entry.entry}: {log.says(entry.event)}")


def _ids(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(",") if part.strip())


@enter.command()
@click.argument("what")
@click.option("--on", "day", default="", help="Day on which it happened; today where left out.")
@click.option("--enclosure", default="", help="Where.")
@click.option("--gloves", default="", help="Gloves as worn.")
@click.option("--substances", default="", help="What could be met, parted by commas.")
@click.option("--present", default="", help="Everybody there, who did it first, parted by commas.")
@click.option("--minutes", default="", help="How long something was open, estimated.")
@click.option("--unusual", is_flag=True, help="Something was; say what with --note.")
@click.option("--note", default="", help="In words.")
@_AS
@_PIN
@click.pass_context
def handling(
    ctx: click.Context, /, substances: str, present: str, by: str, pin_stdin: bool, **given: Any
) -> None:
    """Write a handling without a prep: glove change, filter change, wipe-down, visit, or other words."""
    from store.actions import handlings
    from store.queries import named

    with open_record(ctx, write=True) as record:
        who = acting(record, by, pin_stdin=pin_stdin)
        held = [named.substance(record, s) for s in _ids(substances)]
        _written(handlings.handle_apart(who, substances=held, present=_ids(present), **given))


@enter.command()
@click.argument("what", metavar="air|personal air|wipe")
@click.argument("substance")
@click.argument("value")
@click.option("--on", "day", default="", help="Day of sampling; today where left out.")
@click.option("--place", default="", help="Where it was taken.")
@click.option("--enclosure", default="", help="In or at which enclosure.")
@click.option("--person", "who", default="", help="Whose breathing zone.")
@click.option("--minutes", default="", help="How long was sampled.")
@click.option("--limit", default="", help="Limit it was held against, with its unit.")
@click.option("--limit-source", default="", help="Where the limit comes from.")
@click.option("--method", default="", help="How it was measured.")
@click.option("--laboratory", default="", help="Who measured it.")
@click.option("--report", default="", help="Number of the report.")
@click.option("--note", default="", help="In words.")
@_AS
@_PIN
@click.pass_context
def monitoring(ctx: click.Context, /, substance: str, by: str, pin_stdin: bool, **given: Any) -> None:
    """Write the result of an air or wipe sample as the laboratory reported it: "0.12 ug/m3", "< 2 ng/cm2"."""
    from store.actions import handlings
    from store.queries import named

    with open_record(ctx, write=True) as record:
        who = acting(record, by, pin_stdin=pin_stdin)
        _written(handlings.monitor(who, substance=named.substance(record, substance), **given))


@enter.command()
@click.argument("incident", type=int)
@click.option("--route", help="breathed in, skin, eye, swallowed, through a cut or needle, none.")
@click.option("--body-part", help="Which part of the body.")
@click.option("--amount", help="How much.")
@click.option("--first-aid", help="What was done at once.")
@click.option("--referred", help="To a physician: yes or no; no diagnosis.")
@click.option("--cause", help="Why it happened.")
@click.option("--follow-up", help="What was changed.")
@click.option("--enclosure", help="Where it happened.")
@click.option("--substances", help="Of what, parted by commas.")
@click.option("--present", help="Everybody there, parted by commas.")
@click.option("--close", "close", default="", help="A safety officer closes it, with this reason.")
@_AS
@_PIN
@click.pass_context
def incident(
    ctx: click.Context, /, incident: int, close: str, by: str, pin_stdin: bool, **given: Any
) -> None:
    """Write the details of INCIDENT (the number of its entry), or close it; what is left out stays."""
    from store.actions import incidents
    from store.queries import incidents as asked

    with open_record(ctx, write=True) as record:
        who = acting(record, by, pin_stdin=pin_stdin)
        found = asked.page(record, incident)
        changed = {k: v for k, v in given.items() if v is not None}
        if changed or not close:
            stands = {k: getattr(found, k) for k in given}
            lists: dict[str, Any] = {k: _ids(changed[k]) for k in ("substances", "present") if k in changed}
            details = incidents.Details(**{**stands, **changed, **lists})
            _written(incidents.detail(who, incident, details, seen=found.last))
        if close:
            last = asked.page(record, incident).last
            _written(incidents.close(who, incident, seen=last, reason=close))


for _command in COMMANDS:
    enter.add_command(_command)
