"""`tarebook trace`: a table shows the newest and says how many there are; CSV and JSON give all."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict
from typing import Any

from store.queries import recalled, rests_on, spread, taken, trace
from store.queries import revised as again
from store.record.record import Record
from tui.cli import question_rows as shaped
from tui.cli.output import emit, printable, say, stream

SHOWN = 200
"""Rows of a table, unless no more preps rest on the lot."""

COMPUTED = 40
"""Rows of a table for which a result is computed anew."""


def recall(record: Record, lot: str, output: str) -> None:
    """Give every container of a lot and of what was made of it."""
    columns = shaped.columns(recalled.Recalled, output, shaped.RECALLED)
    _rows(record, lot, output, columns, recalled.each, recalled.newest, SHOWN)


def revised(record: Record, lot: str, output: str) -> None:
    """Give what a revised certificate changes."""
    columns = shaped.columns(again.Revised, output, shaped.REVISED)
    _rows(record, lot, output, columns, again.each, again.newest, COMPUTED)


def _rows(
    record: Record,
    lot: str,
    output: str,
    columns: Any,
    each: Callable[[Record, str], Iterable[Any]],
    newest: Callable[[Record, str, int], Iterable[Any]],
    shown: int,
) -> None:
    known(record, lot)
    if output != "table":
        stream((shaped.traced(r, output) for r in each(record, lot)), output, columns=columns)
        return
    _doubts(record, lot)
    emit([shaped.traced(r, output) for r in newest(record, lot, shown)], output, columns=columns)
    if not spread.few(record, lot, most=shown):
        say(f"\n{taken.said(taken.of_lot(record, lot))}\nOnly the newest are shown: --format csv gives all.")


def links(record: Record, lot: str, output: str) -> None:
    """Give what a lot was made of, and all that was made of it."""
    found = trace.trace(record, lot, newest=SHOWN)
    if output == "csv":
        rows = (asdict(x) for part in (found.up, trace.each(record, lot)) for x in part)
        stream(rows, output, columns=list(trace.Link.__dataclass_fields__))
        return
    if output == "json":
        head: Mapping[str, Any] = {
            name: None if name == "down" else value
            for name, value in asdict(found).items()
            if name != "whole"
        }
        stream((asdict(x) for x in trace.each(record, lot)), output, columns=(), head=head)
        return
    made = f", made by {found.made_by}" if found.made_by else ""
    say(printable(f"{found.lot}   {found.substance} {found.concentration}   {found.status}{made}"))
    _doubts(record, lot)
    for title, part in (("made of", found.up), ("made of it", found.down)):
        say(f"\n{title}")
        columns = ("of", "mg", "content", "in", "prep", "prep_status", "day", "note")
        emit([shaped.link(x) for x in part], "table", columns=columns)
    if not found.whole:
        shown = f"Only the newest {len(found.down)} are shown: --format csv gives all."
        say(f"\n{taken.said(found.taken)}\n{shown}")


def _doubts(record: Record, lot: str) -> None:
    """Say what stands against a lot through what it was made of, whatever its own certificate says."""
    for line in rests_on.of_lot(record, lot):
        say(printable(f"✗ {line}"))


def known(record: Record, lot: str) -> None:
    """Refuse a lot that nobody knows, before anything is printed."""
    trace.trace(record, lot, newest=1)
