"""Where the shell meets the record: place, clock, terminal, and who acts."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from store.errors import BadInput, RecordMissing

if TYPE_CHECKING:
    from store.actions.acting import Acting
    from store.record.record import Record


def now() -> datetime:
    """Give the time with the local offset; the one place that reads the clock."""
    return datetime.now(UTC).astimezone()  # noqa: TID251 - the clock enters here and is handed on


def default_place() -> Path:
    """Give the place of the site's record on this machine."""
    from platformdirs import user_data_path

    return user_data_path("tarebook", appauthor=False) / "site.tarebook"


def place(ctx: click.Context) -> Path:
    """Give the record that `--record` or TAREBOOK_RECORD names, or the default one."""
    named = ctx.find_root().params.get("record") or os.environ.get("TAREBOOK_RECORD")
    return Path(named) if named else default_place()


def terminal() -> str:
    """Give this terminal's code: four hex digits, TAREBOOK_TERMINAL or made once on this machine."""
    named = os.environ.get("TAREBOOK_TERMINAL", "")
    if named:
        if len(named) != 4 or not set(named) <= set("0123456789ABCDEF"):
            raise BadInput(f"TAREBOOK_TERMINAL is {named!r}: write four of 0-9 and A-F, such as 7F3A.")
        return named
    file = default_place().with_name("terminal")
    if file.exists() and len(kept := file.read_text().strip()) == 4:
        return kept
    from secrets import token_hex

    code = token_hex(2).upper()
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(code + "\n")
    return code


@contextmanager
def open_record(ctx: click.Context, *, write: bool = False) -> Iterator["Record"]:
    """Open the record for one command."""
    from store.record.record import Record

    path = place(ctx)
    if not path.exists():
        raise RecordMissing(
            f"There is no record at {path}: start tarebook to begin one, or name another with --record FILE."
        )
    # A question writes nothing: it needs no code of this terminal, which may have to be made.
    record = Record.open(path, now=now, terminal=terminal() if write else "", write=write)
    from store.queries import decimals, periods, registers

    periods.show_in(registers.zone(record))
    decimals.follow(record)
    try:
        yield record
    finally:
        record.close()


def asking(record: "Record", person: str) -> "Acting":
    """Give somebody for a question that writes nothing: no PIN is asked for, nobody is signed in."""
    from store.actions.acting import Acting
    from store.queries import registers

    if not person:
        raise BadInput("Say for whom it is looked at: add --as ID; no PIN is asked for.")
    return Acting(record, person, tuple(registers.person(record, person).roles))


def acting(record: "Record", person: str, *, pin_stdin: bool) -> "Acting":
    """Sign a person in for one command; the PIN is asked for, or read from standard input."""
    from store.actions.people import sign_in

    if not person:
        raise BadInput("Say who does it: add --as ID.")
    pin = sys.stdin.readline().strip() if pin_stdin else click.prompt("PIN", hide_input=True, err=True)
    return sign_in(record, person, pin, how="shell")
