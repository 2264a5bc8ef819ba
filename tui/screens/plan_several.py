"""Plan a dilution or a series: a few words become vessels, masses and openings, all checked first."""

from collections.abc import Iterable, Mapping

from store.actions import planning
from store.actions.planning import Explained
from store.errors import BadField, StoreError
from store.model.prep import Plan
from store.model.settings import value
from store.procedure import layout
from tui.guide.several_words import comes_to
from tui.screens import pick
from tui.screens.desk import Desk
from tui.screens.plan_frame import BEGIN, LATER, REHEARSE, PlanFrame, amount, named, percent
from tui.widgets.entry_form import Field

NEEDED = ("sources", "targets", "amount", "vessels", "solvent_container", "balance", "enclosure")


class PlanSeveralScreen(PlanFrame):
    """Plan every vessel of a dilution or a series."""

    CSS_PATH = ["frame.tcss", "plan_frame.tcss", "plan_several.tcss"]
    NAME = "New dilution or series"
    NEEDED = NEEDED
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
        made = fields(desk)
        for of in made:
            of.value = (filled or {}).get(of.key, "") or of.value
        super().__init__(desk, made)

    def asked(self, values: Mapping[str, str]) -> Plan:
        """Give the plan of every vessel."""
        return layout.plan(wish(values))

    def comes_to(self, found: Explained, width: int) -> Iterable[str]:
        """Give what every vessel gets, the openings and what stands against it."""
        return comes_to(found)

    def held(self) -> tuple[str, ...]:
        """Say nothing: the sources may be several."""
        return ()

    def refused(self, values: Mapping[str, str]) -> None:
        """Say it at the field that it is about, where there is one."""
        try:
            planning.explain(self.desk.acting, self.asked(values))
        except BadField as refusal:
            if any(f.key == refusal.field for f in self.form.fields):
                self.form.refuse(refusal.field, refusal.what)
                return
            self.say(refusal)
        except StoreError as refusal:
            self.say(refusal)
        self.form.open()


def wish(values: Mapping[str, str]) -> layout.Wish:
    """Give what the form says."""
    return layout.Wish(
        **{key: values[key] for key in (*NEEDED, "kind", "order", "blanks", "keep", "tolerance_percent")},
        rehearsal=values["then"] == REHEARSE,
    )


def fields(desk: Desk) -> tuple[Field, ...]:
    """Give the fields of a plan of several vessels."""
    record = desk.record
    stock, vessel = pick.solutions(record), pick.rows(record, "vessel")

    def sources(text: str) -> str:
        return ", ".join(stock.take(piece) for piece in text.split(",") if piece.strip())

    def targets(text: str) -> str:
        layout.targets(text)
        return text

    def vessels(text: str) -> str:
        return ", ".join(vessel.take(piece) for piece in text.split(",") if piece.strip())

    def blanks(text: str) -> str:
        if not (text.isascii() and text.isdecimal()):
            raise BadField("blanks", "write how many, from 0 to 9.")
        return text

    def amounts(text: str) -> str:
        return ", ".join(amount(piece.strip()) for piece in text.split(",") if piece.strip())

    tolerance = value(desk.settings(), "tolerance_percent")
    return (
        Field("kind", "what", "choice", layout.DILUTION, layout.KINDS, required=True),
        Field("sources", "from, container", suggest=stock.suggest, take=sources,
              required=True, value=stock.only, help="of a solution"),
        Field("targets", "targets", take=targets, required=True,
              help="10 ug/g, 0.1 ug/g or 1 to 5 ug/g, 5 equal"),
        Field("amount", "amount of each", take=amounts, required=True, help="20 g; or one for each vessel"),
        Field("vessels", "vessels", take=vessels, required=True, help="V-1, V-2: one for each"),
        named("solvent_container", "solvent, container", pick.containers(record)),
        named("balance", "balance", pick.rows(record, "balance")),
        named("enclosure", "enclosure", pick.rows(record, "enclosure")),
        Field("blanks", "blanks", "number", "0", take=blanks, help="of a series: solvent alone"),
        Field("order", "order", "choice", layout.ORDERS[0], layout.ORDERS, required=True),
        Field("keep", "intermediates", "choice", layout.KEEP_ALL, (layout.KEEP_ALL, layout.KEEP_LAST)),
        Field("tolerance_percent", "tolerance, ± %", "number", tolerance, take=percent, required=True),
        Field("then", "write it, then", "choice", "", (BEGIN, LATER, REHEARSE), required=True),
    )  # fmt: skip
