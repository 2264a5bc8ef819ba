"""Plan a dilution or a series: a few words become vessels, masses and openings, all checked first."""

from collections.abc import Iterable, Mapping
from typing import ClassVar

from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from store.actions import planning
from store.actions.acting import LetThrough
from store.actions.planning import Explained
from store.errors import BadField, StoreError
from store.model.settings import value
from store.procedure import layout
from store.queries import registers, routes
from tui.commands import BACK, EDIT, FIELDS, HELP, NEXT, Command
from tui.guide.several_words import comes_to
from tui.screens import pick
from tui.screens.desk import Desk
from tui.screens.frame import Framed, wrapped
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.lines import Lines

BEGIN, LATER, REHEARSE = "begin now", "begin later", "rehearse"
NEEDED = ("sources", "targets", "amount", "vessels", "solvent_container", "balance", "enclosure")


class PlanSeveralScreen(Framed[None]):
    """One form, and beside it what every vessel comes to."""

    CSS_PATH = ["frame.tcss", "plan_several.tcss"]
    NAME = "New dilution or series"
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, EDIT, BACK, HELP)
    HELP_LINES = (
        "A dilution goes from vessel to vessel, each from the one before: 10 ug/g, 0.1 ug/g. A series makes "
        "each level from a stock: 1, 2, 5 ug/g; or 1 to 5 ug/g, 5 equal; or 0.1 to 10 ug/g, 3 geometric. "
        "Several stocks, parted by commas, take turns over the levels.",
        "Each aliquot as it really falls sets the solvent; a later step follows what the earlier ones gave. "
        "What takes from one container is one opening.",
        "Blanks get solvent alone, in the last of the vessels named. Every vessel becomes a lot with its "
        "label; what is not kept goes to waste in the same prep.",
        "Tolerance: how far a vessel may come out from its target before it is to be made anew, alone.",
    )

    def __init__(self, desk: Desk, *, filled: Mapping[str, str] | None = None) -> None:
        super().__init__(desk)
        made = fields(desk)
        for of in made:
            of.value = (filled or {}).get(of.key, "") or of.value
        self.form = EntryForm(made, id="form")
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

    def draw(self) -> None:
        """Say what the plan comes to, or what is still needed."""
        if not self.is_mounted:
            return
        width = max(20, self.query_one("#beside").size.width - 2)
        shown = self.query_one("#lines", Lines)
        self._explained = None
        missing = [f.label for f in self.form.fields if f.key in NEEDED and not f.value]
        if missing:
            shown.show(wrapped((f"Still needed: {', '.join(missing)}.",), width, indent="  "))
            return
        try:
            self._explained = planning.explain(self.desk.acting, layout.plan(wish(self.form.values)))
            shown.show(wrapped(comes_to(self._explained), width, indent="  "))
        except StoreError as refusal:
            shown.show(wrapped((f"✗ {refusal}",), width, indent="  "))

    def on_entry_form_taken(self, message: EntryForm.Taken) -> None:
        """Explain anew after each field; a balance brings the enclosure that it stands in."""
        message.stop()
        self.say("")
        if message.key == "balance":
            place = registers.body(self.desk.record, "balance", message.value).get("enclosure", "")
            for of in self.form.fields:
                if of.key == "enclosure" and not of.value:
                    of.value = str(place)
            self.form.refresh(layout=True)
        self.draw()

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Write the plan, with a second person where something stands against it."""
        message.stop()
        self.draw()
        found = self._explained
        if found is None:
            self._refused(message.values)
        elif found.stops and found.basis["settings"]["second_person"] == "yes":
            self._ask_second(found)
        else:
            self._write(found, None)

    def _refused(self, values: Mapping[str, str]) -> None:
        try:
            planning.explain(self.desk.acting, layout.plan(wish(values)))
        except BadField as refusal:
            if any(f.key == refusal.field for f in self.form.fields):
                self.form.refuse(refusal.field, refusal.what)
                return
            self.say(refusal)
        except StoreError as refusal:
            self.say(refusal)
        self.form.open()

    def _ask_second(self, found: Explained) -> None:
        from tui.screens.second import SecondScreen

        def decided(decision: LetThrough | None) -> None:
            if decision is None:
                self.say("Not written: change the plan, or have it let through.")
                self.form.open()
            else:
                self._write(found, decision)

        self.app.push_screen(SecondScreen(self.desk, found.stops), decided)

    def _write(self, found: Explained, decision: LetThrough | None) -> None:
        try:
            prep = planning.write(self.desk.acting, found.plan, let_through=decision)
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


def wish(values: Mapping[str, str]) -> layout.Wish:
    """Give what the form says."""
    return layout.Wish(
        **{key: values[key] for key in (*NEEDED, "kind", "order", "blanks", "keep", "tolerance_percent")},
        rehearsal=values["then"] == REHEARSE,
    )


def fields(desk: Desk) -> tuple[Field, ...]:
    """Give the fields of a plan of several vessels."""
    record = desk.record
    stocks = [pick.Choice(id, words) for id, words in routes.solutions(record)]
    solvents, balances = pick.containers(record), pick.rows(record, "balance")
    enclosures = pick.rows(record, "enclosure")

    def one(key: str, label: str, what: str, choices: tuple[pick.Choice, ...]) -> Field:
        of = pick.Pick(what, choices)
        only = choices[0].id if len(choices) == 1 else ""
        return Field(
            key, label, suggest=of.suggest, take=of.take, required=True, value=only, help="code or name"
        )

    def sources(text: str) -> str:
        of = pick.Pick("solution", stocks)
        return ", ".join(of.take(piece) for piece in text.split(",") if piece.strip())

    def targets(text: str) -> str:
        layout.targets(text)
        return text

    def vessels(text: str) -> str:
        of = pick.Pick("vessel", pick.rows(record, "vessel"))
        return ", ".join(of.take(piece) for piece in text.split(",") if piece.strip())

    tolerance = value(desk.settings(), "tolerance_percent")
    return (
        Field("kind", "what", "choice", layout.DILUTION, layout.KINDS, required=True),
        Field("sources", "from, container", suggest=pick.Pick("solution", stocks).suggest, take=sources,
              required=True, value=stocks[0].id if len(stocks) == 1 else "", help="of a solution"),
        Field("targets", "targets", take=targets, required=True,
              help="10 ug/g, 0.1 ug/g or 1 to 5 ug/g, 5 equal"),
        Field("amount", "amount of each", required=True, help="20 g; or one for each vessel"),
        Field("vessels", "vessels", take=vessels, required=True, help="V-1, V-2: one for each"),
        one("solvent_container", "solvent, container", "container", solvents),
        one("balance", "balance", "balance", balances),
        one("enclosure", "enclosure", "enclosure", enclosures),
        Field("blanks", "blanks", "number", "0", help="of a series: solvent alone"),
        Field("order", "order", "choice", layout.ORDERS[0], layout.ORDERS, required=True),
        Field("keep", "intermediates", "choice", layout.KEEP_ALL, (layout.KEEP_ALL, layout.KEEP_LAST)),
        Field("tolerance_percent", "tolerance, ± %", "number", tolerance, required=True),
        Field("then", "write it, then", "choice", "", (BEGIN, LATER, REHEARSE), required=True),
    )  # fmt: skip
