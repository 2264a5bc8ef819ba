"""Plan a rack: equal portions of a powder, or of a solution made in every vessel to one target."""

from collections.abc import Iterable, Mapping
from typing import ClassVar

from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from store.actions import planning, racks
from store.actions.acting import LetThrough
from store.actions.planning import Explained
from store.errors import StoreError
from store.model.prep import Plan
from store.model.settings import value
from store.procedure.inputs import CONCENTRATIONS
from store.procedure.recipes import rack
from store.queries import registers
from store.units import number, quantity
from tui.commands import BACK, EDIT, FIELDS, HELP, NEXT, Command
from tui.guide import rack_words
from tui.screens import pick, plan_words
from tui.screens.desk import Desk
from tui.screens.frame import Framed
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.lines import Lines

BEGIN, LATER = "begin now", "begin later"
WAYS = (rack.ALL_AT_ONCE, rack.ONE_BY_ONE)
NEEDED = ("container", "vessels", "amount", "balance", "enclosure")


class PortionsScreen(Framed[None]):
    """One form, and beside it what the rack comes to."""

    CSS_PATH = ["frame.tcss", "portions.tcss"]
    NAME = "New rack of portions"
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, EDIT, BACK, HELP)
    HELP_LINES = (
        "Equal portions of one powder into many vessels: capsules and vials of the register. Scan one after "
        "the other, or type numbers parted by commas, or a run: R-01 to R-30; an empty Enter goes on.",
        "Without a target the portions stay powder, the amount is a mass of it: 10 mg. With a target and a "
        "solvent every vessel becomes a solution, the amount is that of one solution: 10 g.",
        "Tare all, then dose all: one opening for the whole rack; tares hold as long as the settings say. "
        "One vessel after the other: the container is opened and closed for each, and counted so.",
        "In the prep: to stop, press - and close what is open; the rack goes on another day, and what was "
        "not dosed yet is tared again. A rejected place stays on record, the others go on.",
    )

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.form = EntryForm(fields(desk), scrolls=False, id="form")
        self._explained: Explained | None = None
        self._scanned: list[str] = []

    def inside(self) -> Iterable[Widget]:
        """Give the form, and what the rack comes to."""
        with Horizontal():
            yield self.form
            with Vertical(id="beside"):
                yield Lines(id="lines")

    def on_mount(self) -> None:
        """Take keys."""
        super().on_mount()
        self.form.focus()

    def draw(self) -> None:
        """Say what the rack comes to, or what the container holds."""
        if not self.is_mounted:
            return
        width = max(20, self.query_one("#beside").size.width - 2)
        shown = self.query_one("#lines", Lines)
        self._explained = None
        values = self.form.values
        try:
            held = plan_words.held(self.desk, values["container"])
            missing = [f.label for f in self.form.fields if f.key in NEEDED and not f.value]
            if missing:
                shown.show(plan_words.lines((*held, "", f"Still needed: {', '.join(missing)}."), width))
                return
            self._explained = planning.explain(self.desk.acting, _plan(self.desk, values))
            shown.show(plan_words.lines((*rack_words.comes_to(self._explained), "", *held), width))
        except StoreError as refusal:
            shown.show(plan_words.lines((f"✗ {refusal}",), width))

    def on_entry_form_taken(self, message: EntryForm.Taken) -> None:
        """Explain anew after each field; a balance brings its enclosure."""
        message.stop()
        self.say("")
        if message.key == "vessels":
            self._scan(message.value)
        elif message.key == "balance":
            place = str(registers.body(self.desk.record, "balance", message.value).get("enclosure", ""))
            for of in self.form.fields:
                if of.key == "enclosure" and not of.value:
                    of.value = place
            self.form.refresh(layout=True)
        self.draw()

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

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Write the plan, with a second person where something stands against it."""
        message.stop()
        self.draw()
        found = self._explained
        if found is None:
            self.form.open()
        elif found.stops and found.basis["settings"]["second_person"] == "yes":
            self._ask_second(found)
        else:
            self._write(found.plan, None)

    def _ask_second(self, found: Explained) -> None:
        from tui.screens.second import SecondScreen

        def decided(decision: LetThrough | None) -> None:
            if decision is None:
                self.say("Not written: change the plan, or have it let through.")
                self.form.open()
            else:
                self._write(found.plan, decision)

        self.app.push_screen(SecondScreen(self.desk, found.stops), decided)

    def _write(self, plan: Plan, decision: LetThrough | None) -> None:
        try:
            prep = planning.write(self.desk.acting, plan, let_through=decision)
        except StoreError as refusal:
            self.say(refusal)
            self.form.open()
            return
        if self.form.values["then"] == LATER:
            self.dismiss(None)
            self.app.notify(f"{prep} is planned; it stands on the bench.", markup=False)
            return
        from tui.screens.step import StepScreen

        self.app.switch_screen(StepScreen(self.desk, self.desk.guide(prep)))


def _plan(desk: Desk, values: Mapping[str, str]) -> Plan:
    return racks.plan(
        desk.record,
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


def fields(desk: Desk) -> tuple[Field, ...]:
    """Give the fields of a rack."""
    record = desk.record
    bottles = pick.containers(record)
    of_bottle = pick.Pick("container", bottles)

    def by(key: str) -> Field:
        choices = pick.rows(record, key)
        one = pick.Pick(key, choices)
        only = choices[0].id if len(choices) == 1 else ""
        return Field(
            key, key, suggest=one.suggest, take=one.take, required=True, value=only, help="code or name"
        )

    def vessels(text: str) -> str:
        return ", ".join(racks.vessels(record, text, least=1)) if " to " not in text else text

    def target(text: str) -> str:
        quantity(text, *CONCENTRATIONS)
        return text

    def amount(text: str) -> str:
        quantity(text, "mass", "volume")
        return text

    def percent(text: str) -> str:
        from store.errors import OutOfRange

        if not 0 < number(text) <= 50:
            raise OutOfRange(f"{text} %: write more than 0 and no more than 50.")
        return text.replace(",", ".")

    tolerance = value(desk.settings(), "tolerance_percent")
    return (
        Field("container", "substance, container", suggest=of_bottle.suggest, take=of_bottle.take,
              required=True, help="code or name; or scan it"),
        Field("vessels", "vessels", take=vessels, required=True, help="R-01 to R-30; or numbers, by commas"),
        Field("amount", "amount of each", take=amount, required=True,
              help="10 mg of powder; with a target, 10 g of solution"),
        Field("target", "target", take=target, help="only where each gets solvent: 1.000 mg/g"),
        Field("solvent_container", "solvent, container", suggest=of_bottle.suggest, take=of_bottle.take,
              help="only with a target"),
        by("balance"),
        by("enclosure"),
        Field("recipe", "way", "choice", rack.ALL_AT_ONCE, WAYS, required=True),
        Field("tolerance_percent", "window, ± % of mass", "number", tolerance, take=percent, required=True),
        Field("then", "write it, then", "choice", "", (BEGIN, LATER), required=True),
    )  # fmt: skip
