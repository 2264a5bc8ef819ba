"""`tarebook demo`: the sample site on a simulated balance, in a throw-away record."""

import tempfile
import time
from datetime import timedelta
from pathlib import Path

import click

from tui.cli.desk import now


@click.command()
@click.option("--unattended", is_flag=True, help="Run a whole prep without a terminal and print everything.")
@click.pass_context
def demo(ctx: click.Context, unattended: bool) -> None:
    """Try it: sample site, simulated balance, throw-away record."""
    from tui.cli import demo_site

    with tempfile.TemporaryDirectory(prefix="tarebook-demo-") as folder:
        path = Path(folder) / "demo.tarebook"
        if unattended:
            ctx.exit(_unattended(path))
        from tui.cli.start import check_terminal, run

        check_terminal()
        clock = demo_site.DemoClock(now)
        clock.fixed = now() - timedelta(days=demo_site.DAYS)
        with demo_site.begin(path, now=clock) as record:
            demo_site.run_past(record, clock, real=now, told=_told)
        click.echo(err=True)
        run(path, now=now, terminal=demo_site.TERMINAL, hint=demo_site.hint(), seed=demo_site.SEED)


def _told(number: int, many: int) -> None:
    """Say how far it is: what takes seconds shows that it moves."""
    click.echo(f"\rThe sample site: running past prep {number} of {many} ... ", nl=False, err=True)


def _unattended(path: Path) -> int:
    from store.record.verify import verify
    from tui.cli import demo_site
    from tui.cli.printing import lines_of
    from tui.guide.view import StepView

    before: StepView | None = None

    def show(view: StepView) -> None:
        nonlocal before
        for line in lines_of(view, before=before):
            click.echo(line)
        before = view

    started = time.monotonic()
    clock = demo_site.DemoClock(now)
    with demo_site.begin(path, now=clock) as record:
        prep = demo_site.play_whole(record, clock, real=now, show=show)
        state = record.prep_state(prep)
        click.echo("")
        click.echo(
            f"{prep}: {len(state.doses)} doses, {len(state.handlings)} handlings, "
            f"{len(state.acks)} pages read"
        )
    verdict = verify(path)
    head = f"{verdict.head.entry}:{verdict.head.digest}" if verdict.head else "none"
    click.echo(f"verified: {'OK' if verdict.ok else 'NOT OK'}, {verdict.entries} entries, head {head}")
    for fault in verdict.faults:
        click.echo(f"  {fault}")
    click.echo(f"{time.monotonic() - started:.1f} s", err=True)
    return 0 if verdict.ok else 1
