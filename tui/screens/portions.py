"""Plan a rack: equal portions of a powder, or of a solution made in every vessel to one target."""

from collections.abc import Iterable, Mapping

from store.actions import racks
from store.actions.planning import Explained
from store.model.prep import Plan
from store.model.settings import value
from store.procedure.recipes import rack
from tui.guide import rack_words
from tui.screens import pick
from tui.screens.desk import Desk
from tui.screens.plan_frame import BEGIN, LATER, PlanFrame, amount, concentration, named, percent
from tui.widgets.entry_form import Field

WAYS = (rack.ALL_AT_ONCE, rack.ONE_BY_ONE)


class PortionsScreen(PlanFrame):
    """Plan a rack."""

    NAME = "New rack of portions"
    NEEDED = ("container", "vessels", "amount", "balance", "enclosure")
    HELP_LINES = (
        "Equal portions of one powder into many vessels: capsules and vials of the register. Scan one after "
        "the other, or type numbers parted by commas, a run: R-01 to R-30, or a tare set. An empty Enter "
        "goes on.",
        "Without a target the portions stay powder, the amount is a mass of it: 10 mg. With a target and a "
        "solvent every vessel becomes a solution, the amount is that of one solution: 10 g.",
        "Tare all, then dose all: one opening for the whole rack; tares hold as long as the settings say. "
        "One vessel after the other: the container is opened and closed for each, and counted so.",
        "In the prep: to stop, press - and close what is open; the rack goes on another day, and what was "
        "not dosed yet is tared again. A rejected place stays on record, the others go on.",
    )

    def __init__(self, desk: Desk, *, filled: Mapping[str, str] | None = None) -> None:
        made = fields(desk)
        for of in made:
            of.value = (filled or {}).get(of.key, "") or of.value
        super().__init__(desk, made)
        self._scanned: list[str] = []

    def asked(self, values: Mapping[str, str]) -> Plan:
        """Give the plan of a rack."""
        return racks.plan(
            self.desk.record,
            container=values["container"],
            amount=values["amount"],
            vessels_text=values["vessels"],
            balance=values["balance"],
            enclosure=values["enclosure"],
            target=values["target"],
            solvent_container=values["solvent_container"],
            recipe=values["recipe"] or rack.ALL_AT_ONCE,
            tolerance_percent=values["tolerance_percent"],
        )

    def comes_to(self, found: Explained, width: int) -> Iterable[str]:
        """Give the masses, how long it takes and what stands against it."""
        return rack_words.comes_to(found)

    def took(self, key: str, value: str) -> None:
        """A vessel is one of many."""
        if key == "vessels":
            self._scan(value)

    def _scan(self, taken: str) -> None:
        """One number is a scan: it joins those before it, and the next is waited for."""
        of = next(f for f in self.form.fields if f.key == "vessels")
        if "," in taken or " to " in taken or taken == ", ".join(self._scanned):
            self._scanned = []
            return
        if taken not in self._scanned:
            self._scanned.append(taken)
        else:
            self.say(f"{taken} is in the rack already.")
        of.value = ", ".join(self._scanned)
        self.form.go(self.form.fields.index(of))


def filled_by(plan: Plan) -> dict[str, str]:
    """Give the fields as a rack was planned before."""
    wet = rack.dissolves(plan)
    keys = ("container", "amount", "balance", "enclosure", "recipe", "tolerance_percent")
    return {key: str(getattr(plan, key)) for key in keys} | {
        "vessels": ", ".join(part.vessel for part in plan.parts),
        "target": plan.target if wet else "",
        "solvent_container": plan.solvent_container if wet else "",
    }


def fields(desk: Desk) -> tuple[Field, ...]:
    """Give the fields of a rack."""
    record = desk.record
    of_bottle = pick.containers(record)

    def vessels(text: str) -> str:
        found = racks.vessels(record, text, least=1)
        return text if " to " in text else ", ".join(found)

    tolerance = value(desk.settings(), "tolerance_percent")
    return (
        Field("container", "substance, container", suggest=of_bottle.suggest, take=of_bottle.take,
              required=True, help="code or name; or scan it"),
        Field("vessels", "vessels", take=vessels, required=True,
              help="R-01 to R-30; a tare set; or numbers, by commas"),
        Field("amount", "amount of each", take=amount, required=True,
              help="10 mg of powder; with a target, 10 g of solution"),
        Field("target", "target", take=concentration, help="only where each gets solvent: 1.000 mg/g"),
        Field("solvent_container", "solvent, container", suggest=of_bottle.suggest, take=of_bottle.take,
              help="only with a target"),
        named("balance", "balance", pick.rows(record, "balance")),
        named("enclosure", "enclosure", pick.rows(record, "enclosure")),
        Field("recipe", "way", "choice", rack.ALL_AT_ONCE, WAYS, required=True),
        Field("tolerance_percent", "window, ± % of mass", "number", tolerance, take=percent, required=True),
        Field("then", "write it, then", "choice", "", (BEGIN, LATER), required=True),
    )  # fmt: skip
