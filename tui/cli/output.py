"""What a command prints: a table for people, CSV or JSON for programs; and how it says no."""

import csv
import io
import json
import math
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, TypeVar

import click

from store.errors import BadInput
from store.units import figure
from tui.cli import fit

Row = Mapping[str, Any]
_F = TypeVar("_F", bound=Callable[..., Any])


def format_option(command: _F) -> _F:
    """Add `--format table|csv|json` to a command, as `output`."""
    return click.option(
        "--format", "output", type=click.Choice(["table", "csv", "json"]), default="table", show_default=True
    )(command)


def emit(data: Row | Sequence[Row], output: str = "table", *, columns: Sequence[str] | None = None) -> None:
    """Print one mapping or rows of them.

    Parameters
    ----------
    data
        A mapping, or rows; rows of one command share their keys.
    output
        `table`, `csv` or `json`.
    columns
        Keys to print and their order, for rows; all keys of the first row where left out.
    """
    if output == "json":
        click.echo(_json(data))
    elif output == "csv":
        click.echo(as_csv([data] if isinstance(data, Mapping) else data, columns), nl=False)
    elif isinstance(data, Mapping):
        say(_page(data))
    else:
        say(_grid(data, columns))


def stream(rows: Iterable[Row], output: str, *, columns: Sequence[str], head: Row | None = None) -> None:
    """Print rows as CSV or JSON while they are read, the same as `emit` prints them.

    Parameters
    ----------
    head
        In JSON what stands before the rows, in a mapping whose last key, with no value, they are.
    """
    if output == "csv":
        click.echo(as_csv((), columns), nl=False)
        for row in rows:
            click.echo(as_csv((row,), columns).split("\n", 1)[1], nl=False)
        return
    indent, begin = "  ", "["
    if head is not None:
        indent, begin = "    ", _json(head).rpartition("null")[0] + "["
    click.echo(begin, nl=False)
    sign = ""
    for row in rows:
        click.echo(f"{sign}\n{textwrap.indent(_json(row), indent)}", nl=False)
        sign = ","
    end = f"\n{indent[2:]}]" if sign else "]"
    click.echo(end + ("" if head is None else "\n}"))


def _json(data: Any) -> str:
    return json.dumps(_finite(data), ensure_ascii=False, indent=2, default=str, allow_nan=False)


def say(text: str) -> None:
    """Print a line or more for a person: numbers with the sign that the site has set, broken
    between words at a terminal."""
    from store.queries import decimals

    click.echo(fit.text(decimals.shown(text), fit.room()))


def as_csv(rows: Sequence[Row], columns: Sequence[str] | None = None) -> str:
    """Give rows as CSV text with a header; what is no plain value stands as JSON in its cell."""
    from store.exchange.cells import guarded

    names = list(columns or (rows[0] if rows else ()))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([guarded(name) for name in names])
    for row in rows:
        writer.writerow([guarded(_cell(row.get(name))) for name in names])
    return out.getvalue()


def printable(text: str) -> str:
    """Give outside text with control signs and signs that turn the line around as escapes.

    >>> printable("a\\x1b[31mb")
    'a\\\\x1b[31mb'
    """
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


def _finite(value: Any) -> Any:
    """JSON has no infinity: what is not finite is null."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, Mapping):
        return {k: _finite(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_finite(v) for v in value]
    return value


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, (Mapping, list, tuple)):
        return json.dumps(_finite(value), ensure_ascii=False, default=str)
    return value


def _said(value: Any) -> str:
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return figure(value, 8)
    if isinstance(value, (list, tuple)):
        return ("; " if any(isinstance(v, str) for v in value) else ", ").join(map(_said, value)) or "-"
    return printable(str(value))


def _brief(value: Any) -> str:
    """In a grid five digits are enough; the other formats carry them all."""
    if isinstance(value, float) and math.isfinite(value):
        return figure(value, 5)
    if isinstance(value, (list, tuple)) and value and all(isinstance(v, float) for v in value):
        return ", ".join(map(_brief, value))
    return _said(value)


def _is_rows(value: Any) -> bool:
    return isinstance(value, (list, tuple)) and bool(value) and all(isinstance(v, Mapping) for v in value)


def _page(data: Row) -> str:
    plain = {k: v for k, v in data.items() if not _is_rows(v)}
    width = max((len(k) for k in plain), default=0)
    lines = [f"{k.replace('_', ' '):<{width}}  {_said(v)}" for k, v in plain.items()]
    for key, rows in data.items():
        if _is_rows(rows):
            lines += ["", key.replace("_", " "), _grid(rows, None)]
    return "\n".join(lines)


def _grid(rows: Sequence[Row], columns: Sequence[str] | None) -> str:
    if not rows:
        return "nothing found"
    names = list(columns or rows[0])
    cells = [[name.replace("_", " ") for name in names]]
    cells += [[_brief(row.get(name)) for name in names] for row in rows]
    right = [all(isinstance(row.get(name), (int, float, type(None))) for row in rows) for name in names]
    return fit.grid(cells, right, fit.room())


class OneSentence(click.Group):
    """A group that says what is wrong with a command line in one sentence, exit 2, without a usage text.

    The sentence is a `StoreError` like any other, which the command at the top prints.
    """

    def invoke(self, ctx: click.Context) -> Any:
        """Run, with click's own complaints turned into ours."""
        try:
            return super().invoke(ctx)
        except click.UsageError as error:
            where = error.ctx.command_path if error.ctx else ctx.command_path
            text = " ".join(error.format_message().split()).rstrip(".")
            raise BadInput(f"{text}; see `{where} --help`.") from error
