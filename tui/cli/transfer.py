"""`tarebook import` and `tarebook export`: files in and out of the record."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TextIO, cast

import click

from store.errors import BadInput, FileRefused
from tui.cli.desk import acting, open_record, terminal

if TYPE_CHECKING:
    from store.record.record import Record


@click.command("import")
@click.argument("kind")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--as", "person", default="", help="Who does it: a keeper.")
@click.option("--pin-stdin", is_flag=True, help="Read the PIN from standard input.")
@click.option("--reason", default="", help="Why rows change; the name of the file where left out.")
@click.option("--check", is_flag=True, help="Only say what it would do: nothing is written, no PIN asked.")
@click.pass_context
def import_(
    ctx: click.Context, kind: str, file: Path, person: str, pin_stdin: bool, reason: str, check: bool
) -> None:
    """Take the rows of a CSV or TOML file into the register KIND: all of them or none.

    Rows that stand in the register already and differ are changed; rows that the file leaves out stay.
    `tarebook export KIND --template` gives an empty file.
    """
    from store.actions import imports
    from store.exchange.tables import read_rows

    rows = read_rows(file, kind)
    if len(rows) > 300:
        click.echo(f"Looking at {len(rows)} rows ...", err=True)
    with open_record(ctx, write=not check) as record:
        if check:
            taken = imports.look(record, kind, rows, file.name)
        else:
            who = acting(record, person, pin_stdin=pin_stdin)
            taken = imports.take(who, kind, rows, file.name, reason=reason)
    for what, ids in (("new", taken.new), ("changed", taken.changed), ("unchanged", taken.unchanged)):
        click.echo(f"{what:<10}{len(ids):>5}  {_named(ids)}".rstrip())
    if check:
        click.echo("Nothing was written.")
    for remark in taken.remarks:
        click.echo(f"remark: {remark}", err=True)


def _named(ids: tuple[str, ...]) -> str:
    more = f" and {len(ids) - 10} more" if len(ids) > 10 else ""
    return ", ".join(ids[:10]) + more


@click.command()
@click.argument("kind")
@click.option("--template", is_flag=True, help="An empty file of this register, each column explained.")
@click.option(
    "--format", "form", default="csv", show_default=True, help="csv or toml; logs: csv, json, text or html."
)
@click.option("--schema", is_flag=True, help="What the JSON of this export holds, as a JSON schema.")
@click.option("--to", type=click.Path(path_type=Path), help="Write to this file, which must be new.")
@click.option("--person", default="", help="Only of this person.")
@click.option("--substance", default="", help="Only of this substance.")
@click.option("--lot", default="", help="Only of this lot.")
@click.option("--family", default="", help="Only of this hazard family.")
@click.option("--enclosure", default="", help="Only in this enclosure.")
@click.option("--what", default="", help="Only this that was opened or done, or this step.")
@click.option("--incidents", is_flag=True, help="Only what went wrong, or was unusual.")
@click.option("--now", "now", is_flag=True, help="Hazard families as classified today, not then.")
@click.option("--status", default="", help="Only in this status.")
@click.option("--since", default="", help="From this day, month or year on.")
@click.option("--until", default="", help="Up to this day, month or year.")
@click.option("--as", "by", default="", help="Who makes it, for its head; asks for the PIN.")
@click.option("--pin-stdin", is_flag=True, help="Read the PIN from standard input.")
@click.pass_context
def export(
    ctx: click.Context,
    /,
    kind: str,
    template: bool,
    schema: bool,
    form: str,
    to: Path | None,
    by: str,
    pin_stdin: bool,
    incidents: bool,
    now: bool,
    **wanted: str,
) -> None:
    """Give a register, a log or its totals as a file.

    KIND is a register (substance, lot, container, enclosure, glove, balance, vessel, person, rule,
    procedure, mixture, stream, setting), or exposures, preps, cmr-register, totals-by-family,
    totals-by-substance, person-page. A register comes out as `tarebook import` takes it in; html is for
    print; person-page --person ID is everything about one person.
    """
    from store.model.registers import REGISTERS

    wanted |= {"incidents": "yes" if incidents else "", "now": "yes" if now else ""}
    if kind in REGISTERS:
        asked = [name for name, text in wanted.items() if text]
        if asked:
            raise BadInput(f"A register is given whole: leave out --{asked[0]}.")
        _register(ctx, kind, template, form, to)
        return
    from store.exchange import about, exports

    logs = (*exports.KINDS, about.KIND)
    if kind not in logs:
        raise BadInput(f"There is no export {kind!r}: write one of {', '.join((*REGISTERS, *logs))}.")
    if template:
        raise BadInput(f"A template is there for registers only: {', '.join(REGISTERS)}.")
    if schema:
        _schema(kind, to)
        return
    with open_record(ctx, write=bool(by)) as record, _out(to) as out:
        made_by = _made_by(record, by, pin_stdin)
        if kind == about.KIND:
            person, since, until = (wanted.pop(name) for name in ("person", "since", "until"))
            if more := [name for name, text in wanted.items() if text]:
                raise BadInput(f"A person's page is not narrowed by {', '.join(more)}.")
            whom = about.About(person, since, until)
            about.write(record, whom, out, form=form, made_by=made_by, walked=_walked(to))
        else:
            exports.write(
                record,
                kind,
                out,
                form=cast(exports.Form, form),
                made_by=made_by,
                wanted=exports.Wanted(**wanted),
                walked=_walked(to),
            )


def _schema(kind: str, to: Path | None) -> None:
    import json

    from store.exchange.json_schema import of

    with _out(to) as out:
        out.write(json.dumps(of(kind), indent=2, ensure_ascii=False) + "\n")


def _walked(to: Path | None) -> Callable[[int], None] | None:
    """Say how far it is where somebody watches, and the rows go elsewhere."""
    if to is None or not sys.stderr.isatty():
        return None
    return lambda rows: click.echo(f"\r{rows} rows ...", nl=False, err=True)


def _made_by(record: "Record", by: str, pin_stdin: bool) -> str:
    if by:
        return acting(record, by, pin_stdin=pin_stdin).person
    return f"nobody signed in, terminal {terminal()}"


def _register(ctx: click.Context, kind: str, template: bool, form: str, to: Path | None) -> None:
    from store.exchange import tables
    from store.model.registers import REGISTERS
    from store.queries import registers

    if template:
        text = tables.template(kind, form)
    else:
        with open_record(ctx) as record:
            rows = [REGISTERS[kind].from_body(found.row) for found in registers.rows(record, kind)]
        text = tables.write_rows(rows, kind, form)
    with _out(to) as out:
        out.write(text)


@contextmanager
def _out(to: Path | None) -> Iterator[TextIO]:
    """Give standard output, or a new file that is taken away again if it could not be finished."""
    if to is None:
        yield sys.stdout
        return
    try:
        file = to.open("x", encoding="utf-8", newline="")
    except FileExistsError:
        raise FileRefused(f"{to} is there already: name a new file.") from None
    except OSError as error:
        raise FileRefused(f"{to} cannot be written ({error.strerror}): name another place.") from None
    try:
        with file:
            yield file
    except BaseException:
        to.unlink(missing_ok=True)
        raise
