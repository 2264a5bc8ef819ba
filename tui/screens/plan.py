"""Plan a prep: what is wanted is typed once; masses, limits and what stands against it are said at once."""

from collections.abc import Iterable, Mapping, Sequence
from typing import ClassVar

from store.actions.planning import Explained
from store.model.prep import Plan
from store.model.settings import value
from store.procedure import stated
from store.procedure.recipes import RECIPES
from store.queries import preps, registers
from tui.commands import BACK, DESIGN, EDIT, FIELDS, HELP, NEXT, WHOLE, Command
from tui.guide import single_words
from tui.guide.keys import Intent, Pause
from tui.screens import pick, plan_words
from tui.screens.desk import Desk
from tui.screens.plan_frame import BEGIN, LATER, REHEARSE, PlanFrame, amount, concentration, named, percent
from tui.widgets.entry_form import Field

SHORT = 40
"""Narrower than this, only what is needed to decide is said beside the form."""


class PlanScreen(PlanFrame):
    """Plan one solution of a solid."""

    NAME = "New prep"
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, EDIT, DESIGN, WHOLE, BACK, HELP)
    NEEDED = ("container", "target", "amount", "solvent_container", "vessel", "balance", "enclosure")
    HELP_LINES = (
        "Substance and solvent are found by code, name, synonym or CAS number; a container may be scanned. "
        "The kind of concentration follows from the unit: mg/g, mg/mL, mmol/L, mmol/kg. A bare % or ppm is "
        "refused. A rehearsal counts for no stock and makes no lot.",
        "A measured density of the solution: as such with its uncertainty, 1.012 g/mL u 0.001, or the mass "
        "of a known volume, 10.123 g in 10.00 mL ± 0.02. What evaporates: up to so much, 6 mg, or as "
        "measured, 6.1 mg u 0.4; before the last weighing only where the solvent is first.",
        "Stated as: the base of a salt, the form without its water, or an element, by its digit or as a "
        "formula; empty is the form that the certificate's assay is of.",
        "As soon as all that is needed is there, the masses, the fill of the vessel, the minimum weight and "
        "what stands against the plan are said beside the form, and again after each field.",
        "What would be refused may be let through by a named second person, if the site's settings say so.",
    )

    def __init__(self, desk: Desk, *, like: Plan | None = None) -> None:
        super().__init__(desk, fields(desk))
        if like is not None:
            _as_before(desk, self.form.fields, like)
            self._offer_forms()

    def asked(self, values: Mapping[str, str]) -> Plan:
        """Give the plan of one solution."""
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

    def comes_to(self, found: Explained, width: int) -> Iterable[str]:
        """Give masses, fill, limits and what stands against it."""
        return single_words.comes_to(found, short=width < SHORT)

    def took(self, key: str, value: str) -> None:
        """A container brings what was used with its substance last."""
        if key == "container":
            self._as_last_time()
            self._offer_forms()

    def means(self, intent: Intent) -> bool:
        """Lead to the design of dilution routes as well, with what stands in the form."""
        if not isinstance(intent, Pause):
            return super().means(intent)
        from tui.screens.routes import RoutesScreen, from_plan

        self.app.push_screen(RoutesScreen(self.desk, asked=from_plan(self.form.values)))
        return True

    def _offer_forms(self) -> None:
        """Offer by name what a strength of this container's substance may be stated as."""
        from store.calc import forms

        weighed = plan_words.formula(self.desk, self.form.values["container"])
        offered = tuple(f"{f.formula}  {f.words}" for f in forms.named(weighed)) if weighed else ()
        next(f for f in self.form.fields if f.key == "stated_as").choices = offered[:9]

    def _as_last_time(self) -> None:
        container = registers.body(self.desk.record, "container", self.form.values["container"])
        lot = registers.body(self.desk.record, "lot", str(container["lot"]))
        last = preps.past(self.desk.record, substance=str(lot["substance"]), limit=20)
        same = next((p for p in last if p.substance == lot["substance"]), None)
        if same is not None and same.recipe in RECIPES:
            self.fill({"balance": same.balance, "enclosure": same.enclosure})


def fields(desk: Desk) -> tuple[Field, ...]:
    """Give the fields of a plan."""
    record = desk.record
    bottles, scan = pick.containers(record), "code or name; or scan it"
    tolerance = value(desk.settings(), "tolerance_percent")
    stated_as = Field("stated_as", "stated as, formula", help="only if not the form weighed")
    stated_as.take = lambda text: _form(text, stated_as.choices)
    return (
        named("container", "substance, container", bottles, help=scan),
        Field("target", "target", take=concentration, required=True, help="1.000 mg/g, 5 mmol/L, 2 mmol/kg"),
        Field("amount", "amount of solution", take=amount, required=True, help="10 g, 25 mL"),
        named("solvent_container", "solvent, container", bottles, help=scan),
        named("vessel", "vessel", pick.rows(record, "vessel")),
        named("balance", "balance", pick.rows(record, "balance")),
        named("enclosure", "enclosure", pick.rows(record, "enclosure")),
        Field("recipe", "recipe", "choice", next(iter(RECIPES)), tuple(RECIPES), required=True),
        Field("tolerance_percent", "window, ± % of mass", "number", tolerance, take=percent, required=True),
        stated_as,
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


def _density(text: str) -> str:
    stated.density(text)
    return text


def _loss(text: str) -> str:
    stated.loss(text)
    return text


def _form(text: str, offered: Sequence[str]) -> str:
    """Take a form by its digit, by its words or as a formula."""
    from store.calc.molar import formula

    if text.isascii() and text.isdigit() and 1 <= int(text) <= len(offered):
        text = offered[int(text) - 1]
    of, _, words = text.partition("  ")
    if not words:
        formula(of)
    return of
