"""`tarebook verify`, `backup` and `restore`: whether the record is what it was, and copies of it."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from store.errors import BadInput, NotAllowed, PinRefused, RecordDamaged, RecordMissing, RecordReadOnly
from tui.cli import desk
from tui.cli.output import emit, format_option, printable

if TYPE_CHECKING:
    from store.record.verify import Verdict

NOT_THE_FILE = (
    "A PIN guards the screens, not a file: keep every copy where only those can read it "
    "who may read the record."
)


@click.command()
@click.option("--chain-only", is_flag=True, help="The journal alone, quick enough for every day.")
@click.option(
    "--anchor", metavar="ENTRY:DIGEST", help="A digest of a label, export or note; a label's square code too."
)
@click.option("--against", type=click.Path(dir_okay=False), help="A backup that the record must go on from.")
@format_option
@click.pass_context
def verify(
    ctx: click.Context, chain_only: bool, anchor: str | None, against: str | None, output: str
) -> None:
    """Check the record: its chain over the stored bytes, then every value of its tables against it.

    Exit 0 when it verifies, 1 when it does not.
    """
    from store.record.verify import verify as check

    found = check(
        desk.place(ctx),
        chain_only=chain_only,
        anchor=_anchor(anchor) if anchor else None,
        against=Path(against) if against else None,
        progress=_progress(),
    )
    if output == "table":
        _say(found, "OK (chain only)" if chain_only else "OK")
    else:
        emit(
            {
                "verdict": "OK" if found.ok else "does not verify",
                "entries": found.entries,
                "head": str(found.head),
                "faults": [{"entry": f.entry, "where": f.where, "what": f.what} for f in found.faults],
            },
            output,
        )
    ctx.exit(0 if found.ok else 1)


@click.command()
@click.argument("file", type=click.Path(dir_okay=False))
@click.pass_context
def backup(ctx: click.Context, file: str) -> None:
    """Copy the record to FILE, also while it is in use, and verify the copy.

    Exit 0 when the copy verifies, 1 when it does not; it is kept then, since it may be the best there is.
    """
    from store.record.backup import backup as copy

    found = copy(desk.place(ctx), Path(file), progress=_progress())
    _say(found, f"OK, copied to {file}")
    click.echo(NOT_THE_FILE, err=True)
    ctx.exit(0 if found.ok else 1)


@click.command()
@click.argument("file", type=click.Path(dir_okay=False))
@click.option("--as", "person", metavar="ID", default="", help="The keeper who restores.")
@click.option("--pin-stdin", is_flag=True, help="Read the PIN from standard input.")
@click.pass_context
def restore(ctx: click.Context, file: str, person: str, pin_stdin: bool) -> None:
    """Verify the backup FILE, keep the record as it is aside, and bring the backup back into its place."""
    from store.record.backup import restore as bring_back

    if not person:
        raise BadInput("Say who does it: add --as ID.")
    source = Path(file)
    _must_keep(ctx, source, person, pin_stdin=pin_stdin)
    done = bring_back(
        desk.place(ctx), source, now=desk.now, terminal=desk.terminal(), person=person, progress=_progress()
    )
    _say(done.verdict, f"OK, restored {file} up to {done.source}")
    if done.aside is not None:
        click.echo(f"The record as it was, up to {done.aside_head}, is kept at {done.aside}.")
    ctx.exit(0 if done.verdict.ok else 1)


def _must_keep(ctx: click.Context, source: Path, person: str, *, pin_stdin: bool) -> None:
    """Let a keeper of the record restore; where it is lost or damaged, a keeper of the backup."""
    from store.model.words import Role

    try:
        with desk.open_record(ctx, write=True) as record:
            desk.acting(record, person, pin_stdin=pin_stdin).must(Role.KEEPER)
    except (RecordMissing, RecordDamaged):
        _keeper_of_backup(source, person, pin_stdin=pin_stdin)


def _keeper_of_backup(source: Path, person: str, *, pin_stdin: bool) -> None:
    from store.errors import NotFound
    from store.model.words import Role
    from store.queries import registers
    from store.record import people
    from store.record.record import Record

    pin = sys.stdin.readline().strip() if pin_stdin else click.prompt("PIN", hide_input=True, err=True)
    with Record.open(source, now=desk.now, terminal=desk.terminal(), write=False) as record:
        try:
            people.check_pin(record, person, pin, purpose="restore")
            roles = registers.person(record, person).roles
        except (RecordReadOnly, NotFound):
            # A refusal would be written down; a backup stays as it is.
            raise PinRefused("This id and PIN do not fit: type the id again.") from None
    if Role.KEEPER not in roles:
        raise NotAllowed(f"{person} may not do this: it takes a {Role.KEEPER}.")


def _anchor(text: str) -> tuple[int, str]:
    # The square code of a label, as a scanner types it, has the record number before the anchor.
    entry, _, digest = text.rpartition(",")[2].strip().partition(":")
    if not (entry.isascii() and entry.isdigit()) or not 16 <= len(digest) <= 64 or not _is_hex(digest):
        raise BadInput(
            f"{text!r} is not an anchor: write ENTRY:DIGEST with 16 to 64 hex digits, as verify prints it."
        )
    return int(entry), digest.lower()


def _is_hex(text: str) -> bool:
    return set(text.lower()) <= set("0123456789abcdef")


def _say(found: "Verdict", fine: str) -> None:
    if found.ok:
        click.echo(f"{fine}: {found.entries} entries, head {found.head}")
        return
    click.echo(f"DOES NOT VERIFY: {found.entries} entries read, first fault first")
    for fault in found.faults:
        click.echo(f"  {printable(str(fault))}")


def _progress() -> Callable[[int], None] | None:
    """Show how far it is to a person who looks; a program reads nothing of it."""
    if not sys.stderr.isatty():
        return None
    return lambda entries: click.echo(f"\r{entries} entries ...", nl=False, err=True)
