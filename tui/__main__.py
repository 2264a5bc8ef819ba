"""The `tarebook` command; alone it starts the terminal interface on the site's record."""

from importlib import import_module

import click

COMMANDS = {
    "demo": ("tui.cli.demo", "demo", "A sample site on a simulated balance, in a throw-away record."),
    "plan": ("tui.cli.plan", "plan", "Plan a dilution or a series of a solution."),
    "prep": ("tui.cli.prep", "prep", "Go on with a prep, or plan a solution, as lines of text."),
    "exposures": ("tui.cli.questions", "exposures", "Handlings by person, substance, lot, family, period."),
    "preps": ("tui.cli.questions", "preps", "Past preps by substance, lot, status, period."),
    "show": ("tui.cli.questions", "show", "One prep's page; --budget adds every component."),
    "due": ("tui.cli.questions", "due", "What is due, owed, expiring, waiting."),
    "rack": ("tui.cli.rack", "rack", "Plan equal portions into many vessels."),
    "merge": ("tui.cli.merge", "merge", "Planned preps that one opening of the powder would serve."),
    "trace": ("tui.cli.questions", "trace", "What a lot was made of, and all that was made of it."),
    "rehearsals": (
        "tui.cli.rehearsals",
        "rehearsals",
        "Rehearsals by person: time open, how well the aim was hit.",
    ),
    "search": ("tui.cli.find", "search", "Words, numbers, names, CAS numbers, wherever they stand."),
    "label": ("tui.cli.label", "label", "The label of a prep."),
    "enter": ("tui.cli.enter", "enter", "Write what belongs to no prep: a handling, a result, a stocktake."),
    "import": ("tui.cli.transfer", "import_", "Take register rows from a CSV or TOML file."),
    "export": ("tui.cli.transfer", "export", "Give register rows or a template as a file."),
    "verify": ("tui.cli.record", "verify", "Check the chain and the tables of the record."),
    "backup": ("tui.cli.record", "backup", "Copy the record and verify the copy."),
    "restore": ("tui.cli.record", "restore", "Take a backup back, the present record laid aside."),
    "calc": ("tui.cli.calc", "calc", "The sums, each with its source."),
    "balance": (
        "tui.cli.balance",
        "balance",
        "How a balance is: weighings, checks; ports, and what it sends.",
    ),
}
"""Loaded when called: a query never pays for a screen, nor `--help` for a sum."""


class Lazy(click.Group):
    """A group whose commands are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Give the names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """Import and give one command."""
        if name not in COMMANDS:
            return None
        module, attribute, _ = COMMANDS[name]
        command: click.Command = getattr(import_module(module), attribute)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, row[2]) for name, row in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> object:
        """Run; what a person can act on is one sentence and exit 2."""
        from store.errors import StoreError

        try:
            return super().invoke(ctx)
        except StoreError as error:
            import sys

            from tui.cli import fit

            click.echo(fit.text(str(error), fit.room(sys.stderr)), err=True)
            ctx.exit(2)


@click.group(cls=Lazy, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.option("--record", type=click.Path(dir_okay=False), help="The record file, else TAREBOOK_RECORD.")
@click.version_option(package_name="tarebook", message="%(version)s")
@click.pass_context
def main(ctx: click.Context, record: str | None) -> None:
    """Log the weighing of hazardous substances and the solutions made from them.

    Alone it starts the terminal interface on the site's record.
    """
    if ctx.invoked_subcommand is None:
        from tui.cli.start import start

        start(ctx)


if __name__ == "__main__":
    main()
