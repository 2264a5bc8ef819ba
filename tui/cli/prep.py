"""`tarebook prep --plain`: the same guide as lines of text, for a screen reader or a teletype."""

import sys
import time
from collections.abc import Callable, Mapping
from random import SystemRandom
from typing import TYPE_CHECKING, Any

import click

from store.errors import BadInput, NotFound
from tui.cli import new_prep
from tui.cli.desk import acting, open_record
from tui.cli.output import say

if TYPE_CHECKING:
    from store.actions.acting import Acting
    from store.record.record import Record
    from tui.guide.guide import Guide
    from tui.guide.view import StepView

SETTLE_S = 20.0
"""How long a line prompt waits for the display to come to rest before it shows it as it is."""


@click.command()
@click.argument("prep", required=False, default="")
@click.option(
    "--plain", is_flag=True, required=True, help="As lines of text; the screens start with `tarebook`."
)
@click.option("--new", is_flag=True, help="Plan one first: what is not given below is asked for.")
@click.option("--later", is_flag=True, help="With --new: only plan it.")
@new_prep.options
@click.option("--as", "person", default="", help="Who does it.")
@click.option("--pin-stdin", is_flag=True, help="Read the PIN from the first line of standard input.")
@click.pass_context
def prep(
    ctx: click.Context,
    /,
    prep: str,
    plain: bool,
    new: bool,
    later: bool,
    person: str,
    pin_stdin: bool,
    **given: Any,
) -> None:
    """Go on with an open PREP as lines of text; without PREP the open ones are listed, or one is planned.

    At a terminal the bell rings and steady readings are taken by themselves as the site's settings say: a
    count-down is printed, and any key stops it. A display that comes to rest anew is printed meanwhile. Out
    of a pipe nothing is taken but what its lines say.
    """
    from store.model.words import Role
    from tui.guide.connected import guide_of

    if not new and (later or any(given.values())):
        raise BadInput("A plan is given only with --new.")
    if new and prep:
        raise BadInput(f"{prep} is planned already: leave --new out, or leave {prep} out.")
    with open_record(ctx, write=True) as record:
        if not prep and not new:
            _list_open(record)
            return
        who = acting(record, person, pin_stdin=pin_stdin)
        who.must(Role.OPERATOR)
        if new:
            prep = _planned(who, given, pin_stdin=pin_stdin)
            say(f"{prep} is planned.")
            if later:
                return
        guide = guide_of(who, prep, monotonic=time.monotonic, chance=SystemRandom())
        try:
            _walk(guide)
        except (click.Abort, KeyboardInterrupt, EOFError):
            raise BadInput(_left(guide)) from None
        finally:
            if guide.balance is not None:
                guide.balance.close()


def _planned(who: "Acting", given: Mapping[str, Any], *, pin_stdin: bool) -> str:
    try:
        return new_prep.write(who, given, pin_stdin=pin_stdin)
    except (click.Abort, KeyboardInterrupt, EOFError):
        raise BadInput("Broken off: nothing is planned.") from None


def _left(guide: "Guide") -> str:
    """Say what a walk that was broken off leaves behind."""
    warning = "SOMETHING IS OPEN: close it now. " if guide.something_open else ""
    return f"{warning}Left: every accepted reading is in the record; go on with the same command."


def _list_open(record: "Record") -> None:
    from store.queries.preps import open_preps

    rows = open_preps(record)
    if not rows:
        raise NotFound("No prep is open: plan one with tarebook.")
    for row in rows:
        say(f"{row.prep}  {row.substance} {row.target}  step {row.step + 1} of {row.steps}")
    say("Go on with one: tarebook prep PREP --plain --as ID")


def _walk(guide: "Guide") -> None:
    from tui.cli.ahead import attended, read_away
    from tui.cli.awaited import Awaited
    from tui.cli.printing import lines_of
    from tui.guide import teletype

    before: StepView | None = None
    awaited = Awaited(guide)
    while not guide.left:
        _settle(guide, awaited.sound)
        view = guide.view()
        for line in lines_of(view, before=before):
            say(line)
        awaited.look(view)
        before = view
        if guide.finished:
            return
        if read_away() or awaited.ran_ahead:
            say("!! What was typed before this question stood is not taken.")
        asked = "   ".join(f"{key} {what}" for key, what in view.keys)
        say(f"[{asked}]")
        prompt = view.prompt or ">"
        if attended() and not view.secret:
            typed = awaited.line(prompt)
            if typed is None:
                continue
        else:
            typed = _line(prompt, secret=view.secret)
        intents = teletype.whole_line(guide.expect(), typed.strip())
        if not intents:
            say("!! That means nothing here; press * for help.")
        for intent in intents:
            guide.take(intent)
            if guide.refused:
                awaited.ring("refused")


def _line(prompt: str, *, secret: bool) -> str:
    """Ask for one line; a PIN out of a pipe is read like any other, since nothing there would echo it."""
    hidden = secret and sys.stdin.isatty()
    typed: str = click.prompt(prompt, prompt_suffix=" ", default="", show_default=False, hide_input=hidden)
    return typed


def _settle(guide: "Guide", sound: Callable[[], None]) -> None:
    """Wait until a live display has come to rest, where one is asked for."""
    from tui.guide import weigh

    if guide.asks or guide.on_page or guide.state.act is None or not weigh.live(guide):
        return
    end_s = time.monotonic() + SETTLE_S
    while time.monotonic() < end_s:
        guide.poll()
        sample = guide.fresh_sample
        if sample is not None and sample.steady:
            return
        sound()
        time.sleep(0.1)
