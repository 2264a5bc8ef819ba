"""A second person from the shell: who lets a plan through, the PIN, and why."""

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from store.errors import BadInput, NeedsSecondPerson
from store.model.prep import Plan

if TYPE_CHECKING:
    from store.actions.acting import Acting, LetThrough

_Command = TypeVar("_Command", bound=Callable[..., Any])
_Result = TypeVar("_Result")


def options(command: _Command) -> _Command:
    """Add the options of a second person to a command that plans."""
    for option in (
        click.option("--reason", default="", help="Why it may go on, with --second."),
        click.option(
            "--second",
            metavar="ID",
            default="",
            help="Who lets through what stands against it; the PIN is asked for, or the second line of "
            "standard input.",
        ),
    ):
        command = option(command)
    return command


def through(
    acting: "Acting",
    verb: "Callable[[LetThrough | None], _Result]",
    *,
    second: str,
    reason: str,
    pin_stdin: bool,
) -> _Result:
    """Do something; where something stands against it, let it through by `second`.

    Raises
    ------
    BadInput
        Something stands against it, and nobody or no reason was named.
    StoreError
        It is refused, by whoever.
    """
    try:
        return verb(None)
    except NeedsSecondPerson as refusal:
        if not second:
            raise BadInput(
                f"{refusal} From here: add --second ID and --reason, or do it on the screen."
            ) from refusal
        if not reason.strip():
            raise BadInput("Say why it may go on: add --reason.") from refusal
        return verb(decided(acting, second, refusal.what, reason=reason, pin_stdin=pin_stdin))


def write(acting: "Acting", plan: Plan, *, second: str, reason: str, pin_stdin: bool) -> str:
    """Write a plan and give its number; refused as `through` says."""
    from store.actions import planning

    return through(
        acting,
        lambda decision: planning.write(acting, plan, let_through=decision),
        second=second,
        reason=reason,
        pin_stdin=pin_stdin,
    )


def decided(
    acting: "Acting", second: str, what: tuple[str, ...], *, reason: str, pin_stdin: bool
) -> "LetThrough":
    """Say what is let through, and ask the second person for the PIN."""
    from store.actions.acting import second_person
    from store.queries import decimals

    click.echo(f"{second} lets this through:", err=True)
    for one in what:
        click.echo(decimals.shown(f"   {one}"), err=True)
    pin = (
        sys.stdin.readline().strip()
        if pin_stdin
        else click.prompt(f"PIN of {second}", hide_input=True, err=True)
    )
    return second_person(acting, second=second, pin=pin, reason=reason, what=what)
