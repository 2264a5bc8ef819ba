"""Plan a prep: what is wanted is typed once; masses, limits and what stands against it are said at once."""

from collections.abc import Iterable, Mapping
from typing import ClassVar

from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from store.actions import planning
from store.actions.acting import LetThrough
from store.actions.planning import Explained
from store.errors import StoreError
from store.model.prep import Plan
from store.model.settings import value
from store.procedure import stated
from store.procedure.inputs import CONCENTRATIONS
from store.procedure.recipes import RECIPES
from store.queries import preps, registers
from store.units import number, quantity
from tui.commands import BACK, DESIGN, EDIT, FIELDS, HELP, NEXT, Command
from tui.guide import single_words
from tui.guide.keys import Intent, Pause
from tui.screens import pick, plan_words
from tui.screens.desk import Desk
from tui.screens.frame import Framed
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.lines import Lines

BEGIN, LATER, REHEARSE = "begin now", "begin later", "rehearse"
SHORT = 40
"""Narrower than this, only what is needed to decide is said beside the form."""
NEEDED = ("container", "target", "amount", "solvent_container", "vessel", "balance", "enclosure")


class PlanScreen(Framed[None]):
    """One form, and beside it what the plan comes to."""

    CSS_PATH = ["frame.tcss", "plan.tcss"]
    NAME = "New prep"
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, EDIT, DESIGN, BACK, HELP)
    HELP_LINES = (
        "Substance and solvent are found by code, name, synonym or CAS number; a container may be scanned. "
        "The kind of concentration follows from the unit: mg/g, mg/mL, mmol/L, mmol/kg. A bare % or ppm is "
        "refused. A rehearsal counts for no stock and makes no lot.",
        "A measured density of the solution: as such with its uncertainty, 1.012 g/mL u 0.001, or the mass "
        "of a known volume, 10.123 g in 10.00 mL ± 0.02. What evaporates: up to so much, 6 mg, or as "
        "measured, 6.1 mg u 0.4; before the last weighing only where the solvent is first.",
        "As soon as all that is needed is there, the masses, the fill of the vessel, the minimum weight and "
        "what stands against the plan are said beside the form, and again after each field.",
        "What would be refused may be let through by a named second person, if the site's settings say so.",
    )

    def __init__(self, desk: Desk, *, like: Plan | None = None) -> None:
        super().__init__(desk)
        self.form = EntryForm(fields(desk), id="form")
        if like is not None:
            _as_before(desk, self.form.fields, like)
        self._explained: Explained | None = None

    def inside(self) -> Iterable[Widget]:
        """Give the form, and what the plan comes to."""
        with Horizontal():
            yield self.form
            with Vertical(id="beside"):
                yield Lines(id="lines")

    def on_mount(self) -> None:
        """Take keys."""
        super().on_mount()
        self.form.focus()

    @property
    def plan(self) -> Plan | None:
        """What stands in the form, or None while something needed is missing."""
        values = self.form.values
        return _plan(values) if all(values[key] for key in NEEDED) else None

    def draw(self) -> None:
        """Say what the plan comes to, or what the container holds."""
        if not self.is_mounted:
            return
        width = max(20, self.query_one("#beside").size.width - 2)
        shown = self.query_one("#lines", Lines)
        self._explained = None
        try:
            held = plan_words.held(self.desk, self.form.values["container"])
            if (plan := self.plan) is None:
                missing = [f.label for f in self.form.fields if f.key in NEEDED and not f.value]
                shown.show(plan_words.lines((*held, "", f"Still needed: {', '.join(missing)}."), width))
                return
            self._explained = planning.explain(self.desk.acting, plan)
            shown.show(
                plan_words.lines(
                    (*single_words.comes_to(self._explained, short=width < SHORT), "", *held), width
                )
            )
        except StoreError as refusal:
            shown.show(plan_words.lines((f"✗ {refusal}",), width))

    # ---- the form ----

    def on_entry_form_taken(self, message: EntryForm.Taken) -> None:
        """Explain anew after each field; a container brings what was used with its substance last."""
        message.stop()
        self.say("")
        if message.key == "container":
            self._as_last_time()
        elif message.key == "balance":
            place = registers.body(self.desk.record, "balance", message.value).get("enclosure", "")
            self._fill({"enclosure": str(place)})
        self.draw()

    def means(self, intent: Intent) -> bool:
        """Lead to the design of dilution routes as well, with what stands in the form."""
        if not isinstance(intent, Pause):
            return super().means(intent)
        from tui.screens.routes import RoutesScreen, from_plan

        self.app.push_screen(RoutesScreen(self.desk, asked=from_plan(self.form.values)))
        return True

    def _as_last_time(self) -> None:
        container = registers.body(self.desk.record, "container", self.form.values["container"])
        lot = registers.body(self.desk.record, "lot", str(container["lot"]))
        last = preps.past(self.desk.record, substance=str(lot["substance"]), limit=20)
        same = next((p for p in last if p.substance == lot["substance"]), None)
        if same is not None and same.recipe in RECIPES:
            self._fill({"balance": same.balance, "enclosure": same.enclosure})

    def _fill(self, values: Mapping[str, str]) -> None:
        """Put values where nothing stands yet; each is seen, and taken by Enter."""
        for of in self.form.fields:
            known = values.get(of.key, "")
            if known and not of.value and registers.is_in_use(self.desk.record, of.key, known):
                of.value = known
        self.form.refresh(layout=True)

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Write the plan, with a second person where something stands against it."""
        message.stop()
        self.draw()
        plan = _plan(message.values)
        if self._explained is None:
            self.form.open()
        elif self._explained.stops and self._explained.basis["settings"]["second_person"] == "yes":
            self._ask_second(plan, self._explained.stops)
        else:
            self._write(plan, None)

    def _ask_second(self, plan: Plan, stops: tuple[str, ...]) -> None:
        from tui.screens.second import SecondScreen

        def decided(decision: LetThrough | None) -> None:
            if decision is None:
                self.say("Not written: change the plan, or have it let through.")
                self.form.open()
            else:
                self._write(plan, decision)

        self.app.push_screen(SecondScreen(self.desk, stops), decided)

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


def _plan(values: Mapping[str, str]) -> Plan:
    return Plan(
        recipe=values["recipe"],
        container=values["container"],
        solvent_container=values["solvent_container"],
        target=values["target"],
        amount=values["amount"],
        vessel=values["vessel"],
        balance=values["balance"],
        enclosure=values["enclosure"],
        tolerance_percent=values["tolerance_percent"],
        stated_as=values["stated_as"],
        solution_density=values["solution_density"],
        loss_before=values["loss_before"],
        loss_after=values["loss_after"],
        rehearsal=values["then"] == REHEARSE,
    )


def fields(desk: Desk) -> tuple[Field, ...]:
    """Give the fields of a plan."""
    record = desk.record

    bottles = pick.containers(record)

    def by(key: str, label: str, choices: tuple[pick.Choice, ...]) -> Field:
        one = pick.Pick(key.rpartition("_")[2], choices)
        only = choices[0].id if len(choices) == 1 else ""
        scan = "; or scan it" if choices is bottles else ""
        return Field(
            key,
            label,
            suggest=one.suggest,
            take=one.take,
            required=True,
            value=only,
            help=f"code or name{scan}",
        )

    tolerance = value(desk.settings(), "tolerance_percent")
    return (
        by("container", "substance, container", bottles),
        Field("target", "target", take=_target, required=True, help="1.000 mg/g, 5 mmol/L, 2 mmol/kg"),
        Field("amount", "amount of solution", take=_amount, required=True, help="10 g, 25 mL"),
        by("solvent_container", "solvent, container", bottles),
        by("vessel", "vessel", pick.rows(record, "vessel")),
        by("balance", "balance", pick.rows(record, "balance")),
        by("enclosure", "enclosure", pick.rows(record, "enclosure")),
        Field("recipe", "recipe", "choice", next(iter(RECIPES)), tuple(RECIPES), required=True),
        Field("tolerance_percent", "window, ± % of mass", "number", tolerance, take=_percent, required=True),
        Field("stated_as", "stated as, formula", take=_formula, help="only if not the form weighed"),
        Field("solution_density", "density of solution", take=_density, help="only if measured, see * help"),
        Field("loss_before", "evaporates before", take=_loss, help="the last weighing; up to, such as 6 mg"),
        Field("loss_after", "evaporates after", take=_loss, help="the last weighing; up to, such as 6 mg"),
        Field("then", "write it, then", "choice", "", (BEGIN, LATER, REHEARSE), required=True),
    )


def _as_before(desk: Desk, of: Iterable[Field], like: Plan) -> None:
    """Put what a past plan had; what is not in use any more stays empty, everything is checked afresh."""
    registers_of = {"container": "container", "solvent_container": "container"}
    for field in of:
        known = str(getattr(like, field.key, ""))
        register = registers_of.get(field.key, field.key)
        if register in ("container", "vessel", "balance", "enclosure"):
            known = known if registers.is_in_use(desk.record, register, known) else ""
        field.value = known or field.value


def _target(text: str) -> str:
    quantity(text, *CONCENTRATIONS)
    return text


def _amount(text: str) -> str:
    quantity(text, "mass", "volume")
    return text


def _density(text: str) -> str:
    stated.density(text)
    return text


def _loss(text: str) -> str:
    stated.loss(text)
    return text


def _percent(text: str) -> str:
    from store.errors import OutOfRange

    if not 0 < number(text) <= 50:
        raise OutOfRange(f"{text} %: write more than 0 and no more than 50.")
    return text.replace(",", ".")


def _formula(text: str) -> str:
    from store.calc.molar import formula

    formula(text)
    return text
