"""What the planning screens have in common: a form, beside it what it comes to; then the plan is written."""

from abc import abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from typing import ClassVar

from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from store.actions import planning
from store.actions.acting import LetThrough
from store.actions.planning import Explained
from store.errors import OutOfRange, StoreError
from store.model.prep import Plan
from store.procedure.inputs import CONCENTRATIONS
from store.queries import registers
from store.units import number, quantity
from tui.commands import BACK, EDIT, FIELDS, HELP, NEXT, PAGE, WHOLE, Command
from tui.guide import single_words
from tui.guide.keys import Intent, Note
from tui.screens import pick, plan_words
from tui.screens.desk import Desk
from tui.screens.form_frame import FormFrame
from tui.screens.reading import Reading
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.footer import pairs
from tui.widgets.lines import Lines

BEGIN, LATER, REHEARSE = "begin now", "begin later", "rehearse"


class PlanFrame(FormFrame[None]):
    """One form, and beside it what the plan comes to."""

    CSS_PATH = ["frame.tcss", "plan_frame.tcss"]
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, EDIT, WHOLE, BACK, HELP)
    by_parts = True
    NEEDED: ClassVar[tuple[str, ...]] = ()
    """The fields without which nothing can be said."""

    def __init__(self, desk: Desk, fields: Sequence[Field]) -> None:
        super().__init__(desk)
        self.form = EntryForm(fields, scrolls=True, id="form")
        self._explained: Explained | None = None
        self._lines: tuple[str, ...] = ()
        self._balance = self.form.values.get("balance", "")
        """The balance that the enclosure followed last."""
        self._cut = False
        """More is said than stands beside the form."""

    def on_mount(self) -> None:
        """What a plan like this one had stands in the form by now."""
        self._balance = self.form.values.get("balance", "")

    def inside(self) -> Iterable[Widget]:
        """Give the form, and what the plan comes to."""
        with Horizontal():
            yield self.form
            with Vertical(id="beside"):
                yield Lines(id="lines")

    # ---- what each of them says of its own ----

    @abstractmethod
    def asked(self, values: Mapping[str, str]) -> Plan:
        """Give the plan that the fields ask for; every needed one is there."""

    @abstractmethod
    def comes_to(self, found: Explained, width: int) -> Iterable[str]:
        """Say what a plan comes to."""

    def held(self) -> tuple[str, ...]:
        """Say what the chosen container holds; it stands below the rest."""
        return plan_words.held(self.desk, self.form.values["container"])

    def took(self, key: str, value: str) -> None:
        """Do what else the taking of a field brings."""

    def refused(self, values: Mapping[str, str]) -> None:
        """Go on after a form that cannot be explained; why stands beside it."""
        self.say("Not written: why stands beside the form.")
        self.form.open()

    # ---- explaining ----

    @property
    def plan(self) -> Plan | None:
        """What stands in the form, or None while something needed is missing."""
        values = self.form.values
        return self.asked(values) if all(values[key] for key in self.NEEDED) else None

    def draw(self) -> None:
        """Say what the plan comes to, or what is still needed."""
        if not self.is_mounted:
            return
        width = max(20, self.query_one("#beside").size.width - 2)
        words = self.words(width)
        self._lines = plan_words.lines(words, width)
        self._show()

    def _show(self) -> None:
        """Show what has room beside the form, and how much has not."""
        if not self.is_mounted:
            return
        lines, room = self._lines, self.query_one("#beside").size.height
        cut = len(lines) > room > 0
        if cut:
            lines = (*lines[: room - 1], f"… {len(lines) - room + 1} lines more: + shows all")
        self.query_one("#lines", Lines).show(lines)
        if cut != self._cut:
            self._cut = cut
            self.keys_mean(self.footer())

    def words(self, width: int) -> tuple[str, ...]:
        """Say what the plan comes to at a width, or why it cannot be explained."""
        self._explained = None
        try:
            return self._words(width)
        except StoreError as refusal:
            return (f"✗ {refusal}",)

    def _words(self, width: int) -> tuple[str, ...]:
        held = self.held()
        if (plan := self.plan) is None:
            missing = [f.label for f in self.form.fields if f.key in self.NEEDED and not f.value]
            return (*held, *([""] if held else []), f"Still needed: {', '.join(missing)}.")
        self._explained = planning.explain(self.desk.acting, plan)
        limits = single_words.limits(self._explained)
        return (
            *self.comes_to(self._explained, width),
            *(["", *held] if held else []),
            *(["", *limits] if limits else []),
        )

    def footer(self) -> Sequence[tuple[str, str]]:
        """Offer the whole text where it does not stand beside the form, in place of the key of least use."""
        return pairs(c for c in self.KEYS if c is not (EDIT if self._cut else WHOLE))

    def means(self, intent: Intent) -> bool:
        """Show the whole of what the plan comes to as well."""
        if not isinstance(intent, Note):
            return super().means(intent)
        self.app.push_screen(WholeScreen(self))
        return True

    # ---- the form ----

    def on_entry_form_taken(self, message: EntryForm.Taken) -> None:
        """Explain anew after each field; a balance brings the enclosure that it stands in."""
        message.stop()
        self.say("")
        if message.key == "balance":
            self._follow(message.value)
        self.took(message.key, message.value)
        self._balance = self.form.values.get("balance", "")
        self.draw()

    def _follow(self, balance: str) -> None:
        """Put the enclosure in which a balance stands, unless the person set another than the last one's."""
        of = next((f for f in self.form.fields if f.key == "enclosure"), None)
        place = self._place(balance)
        if of is None or not place or place == of.value or of.value not in ("", self._place(self._balance)):
            return
        if registers.is_in_use(self.desk.record, "enclosure", place):
            if of.value:
                self.say(f"Enclosure {place}: balance {balance} stands there.")
            of.value = place
            self.form.refresh(layout=True)

    def _place(self, balance: str) -> str:
        if not registers.is_in_use(self.desk.record, "balance", balance):
            return ""
        return str(registers.body(self.desk.record, "balance", balance).get("enclosure", ""))

    def fill(self, values: Mapping[str, str]) -> None:
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
        found = self._explained
        if found is None:
            self.refused(message.values)
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
            self.leave_saying(f"{prep} is planned; it stands on the bench.")
            return
        from tui.screens.step import StepScreen

        self.app.switch_screen(StepScreen(self.desk, self.desk.guide(prep)))


class WholeScreen(Reading[None]):
    """Everything that a plan comes to, at the width of the screen."""

    NAME = "What the plan comes to"
    KEYS: ClassVar[tuple[Command, ...]] = (PAGE, BACK, HELP)
    HELP_LINES = ("The same as beside the form, with what had no room there; back leads to the form.",)

    def __init__(self, of: PlanFrame) -> None:
        super().__init__(of.desk)
        self._of = of

    def text(self, width: int) -> Sequence[str]:
        """Give every line."""
        return plan_words.lines(self._of.words(width), width)


# ---- fields that several of them have ----


def named(key: str, label: str, one: pick.Pick, *, help: str = "code or name") -> Field:
    """Give a needed field that takes one row of a register; where there is one alone, it stands there."""
    return Field(key, label, suggest=one.suggest, take=one.take, required=True, value=one.only, help=help)


def concentration(text: str) -> str:
    """Check a target, and leave it as typed."""
    quantity(text, *CONCENTRATIONS)
    return text


def amount(text: str) -> str:
    """Check an amount, and leave it as typed."""
    quantity(text, "mass", "volume")
    return text


def percent(text: str) -> str:
    """Check the window of a mass.

    Raises
    ------
    OutOfRange
        It is nothing, or so wide that it says nothing.
    """
    if not 0 < number(text) <= 50:
        raise OutOfRange(f"{text} %: write more than 0 and no more than 50.")
    return text.replace(",", ".")
