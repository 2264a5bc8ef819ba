"""A balance's health: may it weigh, how small a sample, its checks as a chart; what is written about it."""

from collections.abc import Mapping, Sequence
from typing import ClassVar

from store.actions import balances as verbs
from store.errors import BadInput, StoreError
from store.model.registers import Balance
from store.procedure import pan
from store.queries import balances, registers
from tui.commands import BACK, HELP, PAGE, Command
from tui.guide.keys import Chosen, Intent, Mode, Number, Typed
from tui.paper import balance_page
from tui.screens.desk import Desk
from tui.screens.frame import PadScreen, wrapped
from tui.screens.reading import Reading
from tui.screens.small_form import SmallForm
from tui.widgets.entry_form import Field
from tui.widgets.footer import pairs
from tui.widgets.lines import Lines

CHOICES = (("1", "daily check"), ("2", "ten weighings"), ("3", "adjusted"))
FEWEST = 10


class BalanceHealthScreen(Reading[None]):
    """The page of one balance; a digit begins what can be written about it."""

    KEYS: ClassVar[tuple[Command, ...]] = (PAGE, BACK, HELP)
    HELP_LINES = (
        "Whether this balance may weigh by its last check, and the smallest sample it can weigh in its "
        "place. Both rest on what was done with it: a daily check with its weight, ten weighings or more of "
        "one small mass with such a vessel on the pan, and adjustments, after which it is checked anew.",
        "The chart compares the checks since the last adjustment. A rule that is broken is named; the cause "
        "is not: look at level, draught, temperature, weight and gloves.",
    )

    def __init__(self, desk: Desk, balance: str) -> None:
        super().__init__(desk)
        self.balance = balance
        self.NAME = f"Balance {balance}"

    def text(self, width: int) -> Sequence[str]:
        """Give the page."""
        found = balances.health(self.desk.record, self.balance)
        return wrapped(balance_page.lines(found, zone=self.desk.zone), width, indent="    ")

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        return Number(live=True, choices=len(CHOICES))

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give what can be written, then the keys of the page."""
        return (*CHOICES, *super().footer())

    def on_screen_resume(self) -> None:
        """Read the page anew: something may have been written."""
        self.draw()

    def on_intent(self, intent: Intent) -> None:
        """Begin what a digit stands for."""
        match intent:
            case Chosen(1):
                self._check()
            case Chosen(2):
                self.app.push_screen(WeighingsScreen(self.desk, self.balance))
            case Chosen(3):
                self._adjusted()
            case _:
                super().on_intent(intent)

    def _check(self) -> None:
        row = registers.in_use(self.desk.record, "balance", self.balance)
        if against := verbs.undecided(row):
            self.say(against)
            return
        unit = Balance.from_body(row).unit

        def do(given: Mapping[str, str]) -> None:
            verbs.check(self.desk.acting, self.balance, zero=given["zero"], shown=given["reading"])

        lines = (
            "Pan empty and clean, doors closed, display at zero. Then the check weight of "
            f"{row['check_mass']}, by forceps: it may be off by {row['check_limit']}.",
        )
        fields = (
            Field("zero", f"empty pan, {unit}", "number", required=True, help="every digit"),
            Field("reading", f"check weight, {unit}", "number", required=True, help="every digit"),
        )
        self.app.push_screen(SmallForm(self.desk, f"Check of balance {self.balance}", lines, fields, do))

    def _adjusted(self) -> None:
        def do(given: Mapping[str, str]) -> None:
            verbs.adjusted(
                self.desk.acting, self.balance, how=given["how"], air=given["air"], note=given["note"]
            )

        lines = ("A check before an adjustment stands no more: check the balance before it weighs.",)
        fields = (
            Field("how", "how", "choice", choices=verbs.HOW, required=True),
            Field("air", "gas then, its density", help="only if not that of its place: 1.199 kg/m3"),
            Field("note", "why, or by whom"),
        )
        self.app.push_screen(SmallForm(self.desk, f"Adjusted: balance {self.balance}", lines, fields, do))


class WeighingsScreen(PadScreen[None]):
    """Takes the load, then one weighing after the other; Enter on an empty line writes ten or more."""

    NAME = "Ten weighings"
    KEYS: ClassVar[tuple[Command, ...]] = (BACK, HELP)
    HELP_LINES = (
        "One small mass, put on and taken off ten times or more, with such a vessel on the pan as you use, "
        "in the place and air flow of your work: USP <41>. Type each net, every digit; - takes the last one "
        "back. Nothing is written before the end.",
    )

    def __init__(self, desk: Desk, balance: str) -> None:
        super().__init__(desk)
        self.balance = balance
        self.of = Balance.from_body(registers.in_use(desk.record, "balance", balance))
        self.load: str | None = None
        self.taken: list[str] = []
        self._line = ""

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        return Number(allow_empty=True)

    def typed(self, line: str) -> None:
        """Show what is typed so far."""
        self._line = line
        self.draw()

    def leave(self) -> None:
        """Take the last weighing back; with none, leave."""
        if self.taken:
            self.taken.pop()
        elif self.load is not None:
            self.load = None
        else:
            self.dismiss(None)

    def on_intent(self, intent: Intent) -> None:
        """Take a weighing, or write all of them."""
        if not isinstance(intent, Typed):
            super().on_intent(intent)
            return
        self.say("")
        try:
            self._take(intent.text.strip())
        except StoreError as refusal:
            self.say(refusal)

    def _take(self, text: str) -> None:
        if self.load is None:
            self.load = pan.as_shown(text, self.of).shown if text else ""
        elif text:
            self.taken.append(pan.as_shown(text, self.of).shown)
        elif len(self.taken) < FEWEST:
            raise BadInput(f"{len(self.taken)} weighings are too few: go on to {FEWEST} or more.")
        else:
            verbs.measure(self.desk.acting, self.balance, weighings=self.taken, load=self.load)
            self.dismiss(None)

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give the keys of the moment."""
        if self.load is None:
            return (("Enter", "take the load, or none"), *pairs(self.KEYS))
        many = len(self.taken)
        enter = f"write all {many}" if many >= FEWEST and not self._line else f"take weighing {many + 1}"
        return (("Enter", enter), *pairs(self.KEYS))

    def draw(self) -> None:
        """Draw what was taken, and what is asked."""
        if not self.is_mounted:
            return
        lines = [f"Balance {self.balance} in {self.of.enclosure or 'its place'}", ""]
        if self.load is None:
            lines += ["Put an empty vessel on the pan, as you use it, and type what it weighs.", ""]
            lines.append(f"load, {self.of.unit}: {self._line}▏")
        else:
            lines += [
                f"Load {self.load or 'none'}. Tare. Put one small mass on, read, take it off, tare; again.",
                "",
                *(
                    "   ".join(f"{n + 1:3d}  {text}" for n, text in list(enumerate(self.taken))[at : at + 4])
                    for at in range(0, len(self.taken), 4)
                ),
                "",
                f"weighing {len(self.taken) + 1}, {self.of.unit}: {self._line}▏",
            ]
        self.query_one("#lines", Lines).show(wrapped(lines, self.wide, indent="  "))
        self.keys_mean(self.footer())
