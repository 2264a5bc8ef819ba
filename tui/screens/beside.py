"""Two preps side by side: what was wanted, weighed, came out, and who, with what, where."""

from collections.abc import Mapping, Sequence
from statistics import fmean
from typing import ClassVar

from store.errors import BadField, NotFound
from store.procedure.state import PrepState
from store.queries import page_plan, preps
from store.queries.page import PrepPage
from store.queries.page import page as page_of
from store.units import clock, factor_k, figure, percent, rounded
from tui.commands import BACK, HELP, PAGE, Command
from tui.screens.desk import Desk
from tui.screens.reading import Reading
from tui.screens.small_form import SmallForm
from tui.screens.tabled import tabled
from tui.widgets.entry_form import Field

MANY = 4
"""Of more vessels the masses are not said one by one."""
ROWS = 9
"""So many of the newest stand in the form with a row number, as in every list."""
OFFERED = 200
"""So many of the newest preps are offered by the number typed so far."""


def ask(desk: Desk, prep: str) -> SmallForm:
    """Ask for the other prep, and show both."""
    found = [p for p in preps.past(desk.record, limit=OFFERED) if p.prep != prep]
    known = [p.prep for p in found]

    def take(text: str) -> str:
        if text.isascii() and text.isdecimal() and 1 <= int(text) <= len(rows):
            return known[int(text) - 1]
        try:
            return desk.record.prep_state(text).prep
        except NotFound as missing:
            raise BadField("other", str(missing)) from missing

    def do(given: Mapping[str, str]) -> None:
        desk.record.prep_state(given["other"])
        form.app.call_later(form.app.push_screen, BesideScreen(desk, prep, given["other"]))

    rows = [
        f"{n}  {p.prep}  {p.substance} {p.target}  {p.planned_day}  {p.status}"
        for n, p in enumerate(found[:ROWS], 1)
    ]
    or_row = ", or the row of one of the newest" if rows else ""

    other = Field("other", "the other prep", take=take, required=True,
                  suggest=lambda t: [p for p in known if t.lower() in p.lower()])  # fmt: skip
    form = SmallForm(desk, f"Beside {prep}", (f"Type or scan its number{or_row}.", *rows), (other,), do)
    return form


class BesideScreen(Reading[None]):
    """A row for each thing that two preps may differ in; a mark where they do."""

    CSS_PATH = ["frame.tcss", "prep_page.tcss"]
    NAME = "Side by side"
    KEYS: ClassVar[tuple[Command, ...]] = (PAGE, BACK, HELP)
    HELP_LINES = ("Each row is one thing; ≠ stands where the two differ.",)

    def __init__(self, desk: Desk, left: str, right: str) -> None:
        super().__init__(desk)
        self.pages = tuple(page_of(desk.record, p) for p in (left, right))

    def text(self, width: int) -> Sequence[str]:
        """Give the rows."""
        left, right = (rows_of(page) for page in self.pages)
        both = [(n, left.get(n, ""), right.get(n, "")) for n in dict.fromkeys((*left, *right))]
        rows = [(name, "" if one == other else "≠", one, other) for name, one, other in both]
        names = ("", "", self.pages[0].state.prep, self.pages[1].state.prep)
        return tabled(names, rows, width)


def _each(state: PrepState, content: str) -> str:
    """The masses in the vessels as displayed, one a vessel; of a whole rack their mean."""
    masses = [mass for part in state.each if (mass := part.total_mg(content))]
    if len(masses) > MANY:
        return f"{len(masses)} of {_mass(fmean(masses), content)} on average"
    return ", ".join(_mass(mass, content) for mass in masses)


def _mass(mass_mg: float, content: str) -> str:
    return f"{mass_mg / 1000:.4f} g" if content == "solvent" else f"{mass_mg:.2f} mg"


def rows_of(page: PrepPage) -> dict[str, str]:
    """Give what two preps are compared by, each as text."""
    state, plan = page.state, page.state.plan
    result = page.result
    value = spread = ""
    if result is not None and result.value:
        U = float(result.U or result.u or 0)
        shown = rounded(float(result.value), U)[0] if U else figure(float(result.value))
        value = f"{shown} {result.unit}"
        spread = (
            f"{percent(float(result.k) * float(result.u_rel))} ({factor_k(float(result.k))})"
            if result.k and result.u_rel
            else ""
        )
    deviation = state.result.get("deviation", "")
    return {
        "planned": f"{state.planned_at[:10]} by {state.planned_by}",
        "status": f"{state.status}{', STALE' if page.stale else ''}",
        "target": f"{page.state.target}, {plan.amount}",
        "recipe": plan.recipe,
        "lot": str(state.basis.get("lot", {}).get("id", "")),
        "assay": str(state.basis.get("lot", {}).get("assay", "")),
        "solvent lot": next((s.lot for s in page_plan.sources(page) if s.what == "solvent"), ""),
        "vessel": plan.vessel,
        "balance": plan.balance,
        "enclosure": plan.enclosure,
        f"{state.solute} weighed": _each(state, state.solute),
        "solvent weighed": _each(state, "solvent"),
        "result": value,
        "U": spread,
        "off target": f"{100 * float(deviation):+.3f} %" if deviation else "",
        "open": clock(sum(h.open_s for h in state.handlings)),
        "doses": str(len(state.doses)),
        "incidents": str(len(state.incidents)),
        "made lot": str(state.lot.get("id", "")),
    }
