"""A new prep from the shell: its plan given as options or asked prompt by prompt, checked as on screen."""

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, TypeVar

import click

from store.errors import BadInput, NeedsSecondPerson, StoreError
from store.model.prep import Plan
from tui.cli.output import say

if TYPE_CHECKING:
    from store.actions.acting import Acting, LetThrough
    from store.record.record import Record

ASKED: Mapping[str, str] = {
    "container": "container of the substance",
    "target": "target, such as 1.000 mg/g, 5 mmol/L, 2 mmol/kg",
    "amount": "amount of solution, such as 10 g or 25 mL",
    "solvent_container": "container of the solvent",
    "vessel": "vessel",
    "balance": "balance",
    "enclosure": "enclosure",
}
"""What every plan needs, and how it is asked for."""
_REGISTERS = {"container": "container", "solvent_container": "container"} | {
    name: name for name in ("vessel", "balance", "enclosure")
}
_Command = TypeVar("_Command", bound=Callable[..., Any])
MOST_LISTED = 20
TRIES = 5
"""A field refused so often is given up: a pipe would be read to its end."""


def options(command: _Command) -> _Command:
    """Add the options of a plan to a command."""
    for option in (
        click.option("--loss-after", default="", help="Evaporates after the last weighing, up to: '6 mg'."),
        click.option("--loss-before", default="", help="The same before it, where the solvent is first."),
        click.option("--solution-density", default="", help="Measured: '1.012 g/mL u 0.001'."),
        click.option("--stated-as", default="", help="Formula, where it is not the form weighed."),
        click.option("--tolerance", "tolerance_percent", default="", help="Half-width of the window, in %."),
        click.option("--recipe", default="", help="Order of work: solid first, unless another is named."),
        click.option("--enclosure", default="", help="Where it is done."),
        click.option("--balance", default="", help="On which it is weighed."),
        click.option("--vessel", default="", help="What it is made in."),
        click.option("--solvent", "solvent_container", default="", help="Container of the solvent."),
        click.option("--amount", default="", help="Of solution: '10 g', '25 mL'."),
        click.option("--target", default="", help="'1.000 mg/g', '5 mmol/L', '2 mmol/kg'."),
        click.option("--container", default="", help="Container of the substance."),
        click.option("--rehearsal", is_flag=True, help="The same steps with a harmless powder."),
    ):
        command = option(command)
    return command


def write(acting: "Acting", given: Mapping[str, Any], *, pin_stdin: bool) -> str:
    """Ask for what the plan still needs, say what it comes to, and write it; gives the number of the prep.

    Raises
    ------
    StoreError
        The plan is refused, or nobody lets it through.
    """
    from store.actions import planning
    from tui.guide.single_words import comes_to, limits

    plan = _plan(acting.record, given)
    found = planning.explain(acting, plan)
    for line in (*comes_to(found, short=False), *limits(found)):
        say(line)
    try:
        return planning.write(acting, plan)
    except NeedsSecondPerson as refusal:
        if found.final:
            raise
        return planning.write(acting, plan, let_through=_second(acting, refusal.what, pin_stdin=pin_stdin))


def _plan(record: "Record", given: Mapping[str, Any]) -> Plan:
    from store.model.settings import value
    from store.procedure.recipes import RECIPES
    from store.queries import registers

    values = {name: str(text).strip() for name, text in given.items() if isinstance(text, str)}
    for name, label in ASKED.items():
        values[name] = _taken(record, name, label, values.get(name, ""))
    usual = value(registers.settings(record), "tolerance_percent")
    body: dict[str, Any] = {
        **values,
        "recipe": values.get("recipe") or next(iter(RECIPES)),
        "tolerance_percent": values.get("tolerance_percent") or usual,
        "rehearsal": bool(given.get("rehearsal")),
    }
    return Plan(**body)


def _taken(record: "Record", name: str, label: str, text: str) -> str:
    """Take a field as it was given, or ask for it until it can be understood."""
    if text:
        _check(record, name, text)
        return text
    for line in _choices(record, name):
        say(line)
    for _ in range(TRIES):
        typed: str = click.prompt(label, prompt_suffix=": ", default="", show_default=False).strip()
        try:
            _check(record, name, typed)
        except StoreError as refusal:
            say(f"!! {refusal}")
            continue
        return typed
    raise BadInput(f"No {label} was given: nothing is planned.")


def _check(record: "Record", name: str, text: str) -> None:
    from store.procedure.inputs import CONCENTRATIONS
    from store.queries import registers
    from store.units import quantity

    if not text:
        raise BadInput("Type something, then Enter.")
    if (register := _REGISTERS.get(name)) is not None:
        registers.in_use(record, register, text)
    elif name == "target":
        quantity(text, *CONCENTRATIONS)
    else:
        quantity(text, "mass", "volume")


def _choices(record: "Record", name: str) -> Iterator[str]:
    """Say what may be typed, where it is a row of a register."""
    from store.queries import registers

    register = _REGISTERS.get(name)
    if register is None:
        return
    rows = registers.rows(record, register, limit=MOST_LISTED + 1)
    for row in rows[:MOST_LISTED]:
        yield f"   {row.id}  {_words(record, register, row.row)}".rstrip()
    if len(rows) > MOST_LISTED:
        more = registers.counts(record)[register][0] - MOST_LISTED
        yield f"   and {more} more: tarebook export {register}"


def _words(record: "Record", register: str, row: Mapping[str, Any]) -> str:
    from store.queries import registers

    if register != "container":
        return str(row.get("name", ""))
    lot = registers.body(record, "lot", str(row["lot"]))
    return f"{registers.body(record, 'substance', str(lot['substance']))['name']}, lot {row['lot']}"


def _second(acting: "Acting", what: tuple[str, ...], *, pin_stdin: bool) -> "LetThrough":
    """Ask who lets the plan through, for the PIN, and for the reason."""
    from store.actions.acting import second_person

    say("A second person must let this through:")
    for one in what:
        say(f"   {one}")
    second: str = click.prompt("who, by id", prompt_suffix=": ", default="", show_default=False).strip()
    if not second:
        raise BadInput("Nobody lets it through: nothing is planned.")
    pin: str = click.prompt("PIN", prompt_suffix=": ", hide_input=not pin_stdin)
    reason: str = click.prompt("why may it go on", prompt_suffix=": ", default="", show_default=False)
    return second_person(acting, second=second, pin=pin, reason=reason, what=what)
