"""Dilution routes: what there is and what is wanted, and every route with what it costs."""

from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from store.calc.routes import MOST_VESSELS
from store.errors import BadField, StoreError
from store.model.words import Role
from store.queries import choices, routes
from store.queries.routes import Asked, Designed
from store.units import number
from tui.commands import BACK, CHOSEN, EDIT, FIELDS, HELP, NEXT, PAGE, Command
from tui.screens import pick, route_words
from tui.screens.desk import Desk
from tui.screens.form_frame import FormFrame
from tui.screens.frame import wrapped
from tui.screens.reading import Reading
from tui.screens.small_form import SmallForm
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.lines import Lines

STEP_PERCENT = "0.005"
"""Mixing and evaporation of a step, relative and standard; our own choice where nothing was measured."""
OF_EACH = 3
"""So many vessels of one size are proposed: a rack of thirty would leave no room for others."""
LEAST_FILL = "1 g"
"""Less in a vial dries up too fast to be taken from; our own choice."""


class RoutesScreen(FormFrame[None]):
    """Asks for source, goal, vessels and balance; Enter at the end shows every route."""

    CSS_PATH = ["frame.tcss", "small_form.tcss"]
    NAME = "Dilution routes"
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, EDIT, BACK, HELP)
    HELP_LINES = (
        "Designs a dilution by mass, of one to six steps in vessels that are at hand, each used once. "
        "Nothing is written; nothing is opened.",
        "The source is a container of a solution, or a concentration such as 1 mg/g. Vessels are numbers of "
        "the register, or what they take: V-17, 2 x 50 mL, 5 g.",
        "The uncertainty wanted is that of the dilution alone, expanded with k = 2. A step's share is for "
        "mixing and evaporation, a standard uncertainty.",
        "Zeroed before each: aliquot and solvent are two nets. One reading shared: both in one vessel, "
        "without zeroing between; the display after the aliquot is where the solvent begins.",
    )

    def __init__(self, desk: Desk, *, asked: Asked | None = None) -> None:
        super().__init__(desk)
        self.form = EntryForm(fields(desk, asked), id="form")

    def draw(self) -> None:
        """Draw what it is about."""
        words = ("From a solution to a weaker one, planned before anything is opened.", "")
        self.query_one("#lines", Lines).show(wrapped(words, self.wide))

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Design, and show every route, or say why not."""
        message.stop()
        try:
            found = routes.designed(self.desk.record, _asked(message.values))
        except BadField as refusal:
            if any(f.key == refusal.field for f in self.form.fields):
                self.form.refuse(refusal.field, refusal.what)
            else:
                self.say(refusal)
                self.form.open()
            return
        except StoreError as refusal:
            self.say(refusal)
            self.form.open()
            return
        self.form.open(len(self.form.fields) - 1)
        self.app.push_screen(RouteListScreen(self.desk, found))


def _asked(values: Mapping[str, str]) -> Asked:
    return Asked(**{key: values[key] for key in Asked.__slots__})


def from_plan(values: Mapping[str, str]) -> Asked:
    """Give what the form of a plan already says; the rest is asked for."""
    return Asked(
        source="",
        target=values.get("target", ""),
        amount=values.get("amount", ""),
        vessels="",
        balance=values.get("balance", ""),
    )


def fields(desk: Desk, asked: Asked | None) -> tuple[Field, ...]:
    """Give the fields, with what the registers already say."""
    record = desk.record
    of_source, of_balance = pick.solutions(record), pick.rows(record, "balance")
    names = choices.sizes(record, of_each=OF_EACH, most=MOST_VESSELS)

    def source(text: str) -> str:
        offered, _, _ = text.strip().partition("  ")
        meant = offered if choices.solution(record, offered) is not None else text.strip()
        return checked("source")(meant)

    def checked(name: str) -> Callable[[str], str]:
        """Take a field by itself, so that what cannot be used is said where it is typed."""

        def take(text: str) -> str:
            before = "" if name == "source" else next(f.value for f in made if f.key == "source")
            try:
                routes.check(record, name, text, source=before)
            except BadField as refusal:
                raise BadField(name, refusal.what) from refusal
            return text

        return take

    made = (
        Field("source", "from, container", suggest=of_source.suggest, take=source, required=True,
              help="a container of a solution, or a concentration such as 1 mg/g"),
        Field("target", "to, concentration", take=checked("target"), required=True,
              help="in units of the same kind"),
        Field("amount", "amount needed", take=checked("amount"), required=True, help="10 g, 25 mL"),
        Field("vessels", "vessels at hand", value=", ".join(names), take=checked("vessels"), required=True,
              help="numbers, or what they take: V-17, 2 x 50 mL, 5 g"),
        Field("balance", "balance", suggest=of_balance.suggest, take=of_balance.take, required=True,
              value=of_balance.only, help="code or name"),
        Field("wanted_percent", "enough is ± %, k = 2", "number", take=checked("wanted_percent"),
              help="empty: as sure as can be"),
        Field("step_percent", "share of a step, %", "number", STEP_PERCENT, take=checked("step_percent"),
              help="mixing, evaporation"),
        Field("least_fill", "least in a vessel", value=LEAST_FILL, take=checked("least_fill"),
              help="such as 1 g"),
        Field("zeroing", "zeroing", "choice", routes.ZEROED, routes.ZEROING, required=True),
    )  # fmt: skip
    if asked is not None:
        for of in made:
            of.value = getattr(asked, of.key) or of.value
    return made


class RouteListScreen(Reading[None]):
    """Every route: the best ones first, what each costs, why one cannot be made."""

    CSS_PATH = ["frame.tcss", "prep_page.tcss"]
    NAME = "Dilution routes"
    KEYS: ClassVar[tuple[Command, ...]] = (CHOSEN, PAGE, BACK, HELP)
    HELP_LINES = (
        "For each number of steps: the route of least uncertainty (every vessel full), the leanest that is "
        "sure enough, and that of least waste. * marks those that no other beats in uncertainty, waste and "
        "openings at once.",
        "Uncertainties are of the dilution alone, expanded with k = 2; that of the source comes on top. "
        "Openings count what holds the substance: the source once, each intermediate once.",
        "With glassware: one-mark pipettes and flasks of class A, limits of ISO 648 and ISO 1042 from "
        "memory; reading the mark and another temperature than 20 °C come on top.",
    )

    def __init__(self, desk: Desk, found: Designed) -> None:
        super().__init__(desk)
        self.found = found
        self._filled: Mapping[str, str] = {}

    def text(self, width: int) -> Sequence[str]:
        """Give every route."""
        return route_words.page(self.found, width)

    def letter(self, key: str) -> None:
        """Hand a route to the plan of a dilution."""
        if key != CHOSEN.key:
            return
        try:
            self.desk.acting.must(Role.OPERATOR)
        except StoreError as refusal:
            self.say(refusal)
            return
        best = self.found.design.by_uncertainty
        field = Field("route", "route", "number", "" if best is None else str(best + 1), required=True)
        lines = ("Which route is planned? Its targets, amounts and vessels are taken over; all is checked.",)
        self.app.push_screen(SmallForm(self.desk, "Plan a route", lines, (field,), self._choose), self._plan)

    def _choose(self, given: Mapping[str, str]) -> None:
        self._filled = routes.as_planned(self.desk.record, self.found, int(number(given["route"])))

    def _plan(self, done: bool | None) -> None:
        if not done:
            return
        from tui.screens.plan_several import PlanSeveralScreen

        self.app.push_screen(PlanSeveralScreen(self.desk, filled=self._filled))
