"""`tarebook calc`: the sums from the shell, each loaded when it is called."""

from importlib import import_module

import click

from tui.cli.output import OneSentence

SUMS = {
    "water-density": ("tui.cli.calc_physics", "water_density", "Density of air-free water."),
    "air-density": ("tui.cli.calc_physics", "air_density", "Density of moist air."),
    "buoyancy": ("tui.cli.calc_physics", "buoyancy", "True mass of a reading."),
    "molar-mass": ("tui.cli.calc_physics", "molar_mass", "Molar mass of a formula."),
    "salt-factor": ("tui.cli.calc_physics", "salt_factor", "Wanted form per mass of the form weighed."),
    "purity": ("tui.cli.calc_physics", "purity", "Content as is, from an assay and its basis."),
    "cas": ("tui.cli.calc_physics", "cas", "Check digit of a CAS number."),
    "minimum-weight": ("tui.cli.calc_statistics", "minimum_weight", "Smallest net for a balance."),
    "solution": ("tui.cli.calc_solution", "solution", "Solvent for a solid, and what comes out."),
    "dilution": ("tui.cli.calc_dilution", "dilution", "Routes of one to six dilution steps."),
    "convert": ("tui.cli.calc_solution", "convert", "A quantity in another unit or kind."),
    "uniformity": ("tui.cli.calc_statistics", "uniformity", "Acceptance value of equal portions."),
    "chart": ("tui.cli.calc_statistics", "chart", "Individuals chart with Nelson's rules."),
    "label-elements": ("tui.cli.calc_hazards", "label_elements", "Label elements of a classification."),
    "mixing": ("tui.cli.calc_hazards", "mixing", "What may not meet in one vessel."),
}
"""Sum: module, command and help."""


class Sums(OneSentence):
    """The group of sums."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Give the names in the order of the table."""
        return list(SUMS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """Import and give one sum."""
        if name not in SUMS:
            return None
        module, attribute, _ = SUMS[name]
        command: click.Command = getattr(import_module(module), attribute)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the sums without importing any."""
        with formatter.section("Sums"):
            formatter.write_dl([(name, row[2]) for name, row in SUMS.items()])


@click.group(cls=Sums, no_args_is_help=True)
def calc() -> None:
    """Compute one of the sums; every answer names the source of its formula.

    Numbers take a point or a comma as decimal sign and no sign for thousands.
    """
