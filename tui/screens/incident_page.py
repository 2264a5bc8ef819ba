"""One incident, whole: what was noted, what is known by now, and how it ended."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import ClassVar

from store.actions import incidents as verbs
from store.errors import NotAllowed
from store.exchange import for_people
from store.model.words import Role
from store.queries import exposures, incidents, named
from store.queries.incidents import IncidentPage
from tui.commands import BACK, DETAILS, END, HELP, PAGE, Command
from tui.screens import pick
from tui.screens.desk import Desk
from tui.screens.frame import wrapped
from tui.screens.handling_form import parts
from tui.screens.reading import Reading
from tui.screens.small_form import SmallForm
from tui.widgets.entry_form import Field

NOT_KNOWN = "not said yet"
OUTSIDE = "outside any prep"
WORDS = (
    ("what", "kind"), ("note", "what happened"), ("prep", "in prep"), ("enclosure", "enclosure"),
    ("person", "noted by"), ("present", "present"), ("substances", "of what"), ("families", "hazards"),
    ("route", "way in"), ("body_part", "part of the body"), ("amount", "amount"), ("first_aid", "first aid"),
    ("referred", "physician"), ("cause", "cause"), ("follow_up", "follow-up"),
)  # fmt: skip


def may_see(desk: Desk, page: IncidentPage) -> bool:
    """Say whether who is signed in may see it: those who noted or met it, and safety officers."""
    acting = desk.acting
    return any(exposures.may_see(acting.roles, acting.person, p) for p in (page.person, *page.present))


class IncidentPageScreen(Reading[None]):
    """Everything that is known of an incident; no diagnosis."""

    CSS_PATH = ["frame.tcss", "prep_page.tcss"]
    NAME = "Incident"
    KEYS: ClassVar[tuple[Command, ...]] = (DETAILS, END, PAGE, BACK, HELP)
    HELP_LINES = (
        "What was noted first stays; details are written whole, as they stand from then on, and earlier ones "
        "stay in the journal. Whether somebody was referred to a physician is yes or no: a diagnosis belongs "
        "in no record of a laboratory.",
        "A safety officer closes it with a reason. Details written later open it again.",
    )

    def __init__(self, desk: Desk, number: int) -> None:
        super().__init__(desk)
        self.number = number
        self.page = incidents.page(desk.record, number)
        if not may_see(desk, self.page):
            raise NotAllowed("A safety officer sees every incident; you see those you noted or met.")

    def show_head(self) -> None:
        """Show which incident it is, and whether it is open."""
        self.NAME = f"Incident {self.number}  {'closed' if self.page.closed else 'OPEN'}"
        super().show_head()

    def text(self, width: int) -> Sequence[str]:
        """Give what is known, line by line."""
        known = asdict(self.page)
        out = [f"{self.desk.local_time(self.page.at):%Y-%m-%d %H:%M}   entry {self.page.entry}", ""]
        for key, name in WORDS:
            value = for_people.value(key, known[key])
            said = ", ".join(value) if isinstance(value, tuple) else value
            if key == "prep" and not said:
                said = OUTSIDE
            out += wrapped((f"{name:<18}{said or NOT_KNOWN}",), width, indent=" " * 18)
        if self.page.closed:
            when = f"{self.desk.local_time(self.page.closed_at):%Y-%m-%d %H:%M}"
            closed = f"closed by {self.page.closed_by}, {when}: {self.page.closed_reason}"
            out += ["", *wrapped((closed,), width, indent="  ")]
        return out

    def letter(self, key: str) -> None:
        """Write details, or close it."""
        if key == DETAILS.key:
            self.app.push_screen(_details(self.desk, self.page), self._again)
        elif key == END.key:
            if Role.SAFETY_OFFICER not in self.desk.acting.roles:
                self.say("A safety officer closes an incident.")
                return
            self.app.push_screen(_end(self.desk, self.page), self._again)

    def _again(self, done: bool | None) -> None:
        if done:
            self.page = incidents.page(self.desk.record, self.number)
            self.show_head()
            self.draw()


def _details(desk: Desk, page: IncidentPage) -> SmallForm:
    record = desk.record
    places = pick.rows(record, "enclosure")

    def do(given: Mapping[str, str]) -> None:
        lists = {k: parts(given[k]) for k in ("substances", "present")}
        plain = {k: v for k, v in given.items() if k not in lists}
        details = verbs.Details(
            **plain,
            substances=tuple(named.substance(record, s) for s in lists["substances"]),
            present=lists["present"],
        )
        verbs.detail(desk.acting, page.entry, details, seen=page.last)

    fields = (
        Field("route", "way in", "choice", page.route, verbs.ROUTES),
        Field("body_part", "part of the body", value=page.body_part),
        Field("amount", "amount", value=page.amount, help="as far as it is known"),
        Field("first_aid", "first aid", value=page.first_aid, help="what was done at once"),
        Field("referred", "physician", "choice", page.referred, ("yes", "no"), help="referred: no diagnosis"),
        Field("cause", "cause", value=page.cause),
        Field("follow_up", "follow-up", value=page.follow_up, help="what was changed"),
        Field("enclosure", "enclosure", value=page.enclosure, suggest=places.suggest, take=places.take,
              help="where it happened; empty: in none"),
        Field("substances", "of what", value=", ".join(page.substances), help="parted by commas"),
        Field("present", "present", value=", ".join(page.present), required=True, help="parted by commas"),
    )  # fmt: skip
    lines = ("What is known by now; empty where it is not.",)
    return SmallForm(desk, f"Incident {page.entry}", lines, fields, do)


def _end(desk: Desk, page: IncidentPage) -> SmallForm:
    def do(given: Mapping[str, str]) -> None:
        verbs.close(desk.acting, page.entry, seen=page.last, reason=given["reason"])

    lines = (f"{page.what}: {page.note}", "Closing says that what was to be learned is learned.")
    fields = (Field("reason", "why it is closed", required=True),)
    return SmallForm(desk, f"Close incident {page.entry}", lines, fields, do)
