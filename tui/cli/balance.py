"""`tarebook balance`: which ports there are, what a balance sends, and how it is."""

from collections.abc import Callable
from pathlib import Path
from queue import Empty, SimpleQueue
from time import monotonic

import click

from store.errors import BadInput, BalanceError
from tui.balance.stream import Heard
from tui.cli import balance_health
from tui.cli.output import OneSentence, Row, emit, format_option


@click.group(cls=OneSentence, no_args_is_help=True)
def balance() -> None:
    """Show how a balance is, the ports of this machine, and what a balance sends."""


for command in (
    balance_health.health,
    balance_health.weighings,
    balance_health.check,
    balance_health.checks,
    balance_health.adjusted,
):
    balance.add_command(command)


@balance.command()
@format_option
def ports(output: str) -> None:
    """List the serial ports of this machine."""
    from tui.balance.serial_line import ports as found

    rows: list[Row] = [{"port": port, "what": what} for port, what in found()]
    if not rows and output == "table":
        click.echo("No serial port on this machine.")
        return
    emit(rows, output, columns=("port", "what"))


@balance.command()
@click.option(
    "--port", required=True, help='As in the register: place, then settings: "/dev/ttyUSB0 9600 7E1".'
)
@click.option("--unit", default="", help="Unit of its display; needed where its lines carry none (nounit).")
@click.option("--stable", default="", help="Mark of a stable line.")
@click.option("--unstable", default="", help="Mark of an unstable line.")
@click.option("--lines", type=click.IntRange(1), default=None, help="Stop after so many lines.")
@click.option("--seconds", type=click.FloatRange(0.1), default=None, help="Stop after so many seconds.")
def listen(
    port: str, unit: str, stable: str, unstable: str, lines: int | None, seconds: float | None
) -> None:
    """Show each raw line, and what was read from it or why it was refused. Ends with Ctrl+C."""
    from store.units import UNITS, unit_of
    from tui.balance.connect import listening
    from tui.balance.settings import Manner

    known = unit_of(unit) if unit else None
    if known is not None and known not in UNITS["mass"]:
        raise BadInput(f"{unit!r} is no unit of mass: write mg or g.")
    how = Manner(
        unit=known,
        unit_missing=known is not None and "nounit" in port.split(),
        stable_mark=stable or None,
        unstable_mark=unstable or None,
    )
    queue: SimpleQueue[Heard] = SimpleQueue()
    link = listening(port, how, queue.put)
    try:
        _show(link.state, queue, lines, seconds)
    except KeyboardInterrupt:
        click.echo()
    finally:
        link.close()


@balance.command()
@click.option("--port", default="", help="Listen here: place, then settings, as in the register.")
@click.option(
    "--from",
    "file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Lines recorded before.",
)
@click.option("--unit", default="", help="Unit of its display, where its lines carry none.")
@click.option(
    "--seconds", type=click.FloatRange(1.0), default=20.0, show_default=True, help="Record so long."
)
@format_option
def teach(port: str, file: Path | None, unit: str, seconds: float, output: str) -> None:
    """Record some lines and propose the settings of the register row; nothing is written.

    While it records, let the display rest, put something on, and let it rest again.
    """
    from store.units import UNITS, unit_of
    from tui.balance.teach import propose

    if bool(port) == (file is not None):
        raise BadInput("Name the port to listen to with --port, or a file of recorded lines with --from.")
    known = unit_of(unit) if unit else ""
    if known and known not in UNITS["mass"]:
        raise BadInput(f"{unit!r} is no unit of mass: write mg or g.")
    lines = _recorded(port, seconds) if file is None else file.read_bytes().split(b"\n")
    found = propose([line for raw in lines if (line := raw.strip(b"\r\n"))], unit=known)
    proposed: Row = {
        "unit": found.unit,
        "readability": found.readability,
        "stable_mark": found.stable_mark,
        "unstable_mark": found.unstable_mark,
        "port": found.port(port or "PORT"),
    }
    if output == "json":
        emit({**proposed, "read": found.read, "of": found.of, "remarks": list(found.remarks)}, output)
        return
    emit([{"field": k, "proposed": v or "(none)"} for k, v in proposed.items()], output)
    if output == "table":
        click.echo(f"With it {found.read} of {found.of} lines are read.")
        for remark in found.remarks:
            click.echo(f"  {remark}")
        click.echo("Compare with the display itself, then enter it in the register of balances.")


def _recorded(port: str, seconds: float) -> list[bytes]:
    """Give the raw lines that a port sends in so many seconds."""
    from tui.balance.connect import listening
    from tui.balance.settings import Manner

    queue: SimpleQueue[Heard] = SimpleQueue()
    link = listening(port, Manner(), queue.put)
    try:
        monotonic_end = monotonic() + seconds
        lines: list[bytes] = []
        while (left := monotonic_end - monotonic()) > 0:
            try:
                lines.append(queue.get(timeout=min(left, 0.2)).raw)
            except Empty:
                continue
        if not lines and (sentence := link.state()):
            raise BalanceError(sentence)
    finally:
        link.close()
    return lines


def _show(
    state: Callable[[], str], queue: SimpleQueue[Heard], lines: int | None, seconds: float | None
) -> None:
    start_s, heard_lines, said = monotonic(), 0, ""
    while lines is None or heard_lines < lines:
        if seconds is not None and monotonic() - start_s >= seconds:
            break
        try:
            heard = queue.get(timeout=0.1)
        except Empty:
            now = state().split(" for ")[0]  # the seconds count on; the sentence is said once
            if now and now != said:
                click.echo(state(), err=True)
            said = now
            continue
        heard_lines += 1
        click.echo(f"{heard.at_s - start_s:8.2f} s  {heard.raw!r}")
        click.echo(f"            {_words(heard)}")
    if not heard_lines and (sentence := state()):
        raise BalanceError(sentence)


def _words(heard: Heard) -> str:
    if heard.reading is None:
        return f"refused: {heard.why_not}"
    stable = {True: "stable", False: "not stable", None: "it does not say whether stable"}[
        heard.reading.stable
    ]
    return f"read: {heard.reading.number:f} {heard.reading.unit}, {stable}"
