"""One prep, whole: every number, text and entry, and a reviewer's decision."""

from collections.abc import Sequence
from typing import ClassVar

from store.actions import closing
from store.errors import StoreError
from store.model.words import PrepStatus, Role
from store.queries import incidents
from store.queries.page import PrepPage
from store.queries.page import page as page_of
from store.record import people
from tui.commands import (
    ACCEPT,
    AGAIN,
    ASSAY,
    BACK,
    BESIDE,
    FIELDS,
    HELP,
    MISREAD,
    NEXT,
    PAGE,
    RETURN,
    SECTION,
    TRACE,
    Command,
)
from tui.guide.keys import Chosen, Intent, Mode, Number, Typed
from tui.screens import prep_lines
from tui.screens.desk import Desk
from tui.screens.form_frame import FormFrame
from tui.screens.frame import wrapped
from tui.screens.reading import Reading
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.lines import Lines, clip

MEANINGS = (
    "plan, readings, sums and label checked",
    "readings and sums checked",
    "checked against the certificate and the procedure",
)
"""What signing means; chosen by the reviewer, and written."""


class PrepPageScreen(Reading[None]):
    """Everything that the record holds about a prep."""

    CSS_PATH = ["frame.tcss", "prep_page.tcss"]
    NAME = "Prep"
    KEYS: ClassVar[tuple[Command, ...]] = (SECTION, TRACE, AGAIN, BESIDE, PAGE, BACK, HELP)
    HELP_LINES = (
        "Nothing is hidden here: what was corrected or discarded stands with what became of it, and each "
        "caution is the very text that was acknowledged. A digit goes to its section.",
        "A reviewer accepts or returns a closed prep that is not one's own, with the PIN as signature.",
    )

    def __init__(self, desk: Desk, prep: str) -> None:
        super().__init__(desk)
        self.prep = prep
        self.page: PrepPage = page_of(desk.record, prep)
        self._starts: tuple[int, ...] = ()
        self._names: tuple[str, ...] = ()

    def on_screen_resume(self) -> None:
        """Read it anew: it may have been reviewed."""
        self.page = page_of(self.desk.record, self.prep)
        self.show_head()
        self.draw()

    def right(self) -> str:
        """Give the state of the prep."""
        marks = (*(("STALE",) if self.page.stale else ()), *(("REVISED",) if self.page.revised else ()))
        return ", ".join((*marks, str(self.page.state.status)))

    def show_head(self) -> None:
        """Show which prep it is, and its state."""
        self.NAME = f"{self.prep}  {self.page.title}"
        super().show_head()

    @property
    def reviews(self) -> bool:
        """Whether who is signed in may be asked for a review."""
        person = self.desk.person
        status = self.page.state.status
        return (
            person is not None
            and Role.REVIEWER in person.roles
            and status in (PrepStatus.CLOSED, PrepStatus.RETURNED)
        )

    @property
    def assays(self) -> bool:
        """Whether contents of its portions may be entered."""
        return bool(self.page.portions) and self.page.state.status.done

    @property
    def corrects(self) -> bool:
        """Whether who is signed in may put a reading right."""
        person = self.desk.person
        return (
            person is not None
            and Role.OPERATOR in person.roles
            and self.page.state.status.done
            and any(d.counts for d in self.page.state.doses)
        )

    @property
    def _offered(self) -> tuple[Command, ...]:
        """What may be done with a prep that is closed, by who is signed in."""
        return (
            *((ACCEPT, RETURN) if self.reviews else ()),
            *((MISREAD,) if self.corrects else ()),
            *((ASSAY,) if self.assays else ()),
        )

    def text(self, width: int) -> Sequence[str]:
        """Give every section under its number."""
        out: list[str] = []
        starts = []
        found = prep_lines.sections(self.page, width, self.desk.local_time)
        self._names = tuple(name for name, _ in found)
        for n, (name, lines) in enumerate(found, 1):
            out += [""] if out else []
            starts.append(len(out))
            out += [clip(f"{n}  {name.upper()}", width), *lines]
        # The list of sections stands above the first, so that their digits are known before they are met.
        listed = wrapped((self._listed(),), width)
        self._starts = (0, *(start + len(listed) + 1 for start in starts[1:]))
        return (*listed, "", *out)

    def _listed(self) -> str:
        return "   ".join(f"{n} {name.partition(',')[0].lower()}" for n, name in enumerate(self._names, 1))

    def helps(self) -> Sequence[str]:
        """Name the sections, so that each is found by its digit."""
        named = "; ".join(f"{n} {name}" for n, name in enumerate(self._names, 1))
        return (f"Sections: {named}.", *self.HELP_LINES)

    def commands(self) -> Sequence[Command]:
        """Explain what may be decided, put right or entered as well."""
        return (*self.KEYS[:-2], *self._offered, *self.KEYS[-2:])

    def footer(self) -> Sequence[tuple[str, str]]:
        """Offer the review to a reviewer, a correction to an operator, and of a closed rack its assay."""
        found = list(super().footer())
        found[-2:-2] = [(c.key, c.label) for c in self._offered]
        return tuple(found)

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        return Number(allow_empty=True, choices=len(self._starts), letters=True)

    def on_intent(self, intent: Intent) -> None:
        """Go to a section, or on by a page."""
        match intent:
            case Chosen(n) if n <= len(self._starts):
                self.top = self._starts[n - 1]
                self.show_part()
            case Typed(""):
                self.next_page()
            case _:
                super().on_intent(intent)

    def _again(self) -> None:
        """Plan the same again: its containers and lots are checked as they stand now."""
        if Role.OPERATOR not in self.desk.acting.roles:
            self.say("An operator plans a prep.")
            return
        plan = self.page.state.plan
        from store.procedure import layout

        if plan.recipe.partition(",")[0] in layout.KINDS:
            from tui.screens.plan_several import PlanSeveralScreen

            wish = layout.wish_of(plan)
            filled = {key: str(getattr(wish, key)) for key in layout.Wish.__slots__ if key != "rehearsal"}
            self.app.push_screen(PlanSeveralScreen(self.desk, filled=filled))
            return
        if plan.is_rack:
            from tui.screens.portions import PortionsScreen, filled_by

            self.app.push_screen(PortionsScreen(self.desk, filled=filled_by(plan)))
            return
        from tui.screens.plan import PlanScreen

        self.app.push_screen(PlanScreen(self.desk, like=plan))

    def letter(self, key: str) -> None:
        """Accept or return; or follow the lot that it made, or the one that it was made of."""
        if key == TRACE.key:
            from tui.screens.trace import TraceScreen

            state = self.page.state
            self.app.push_screen(TraceScreen(self.desk, str(state.lot.get("id") or state.basis["lot"]["id"])))
            return
        if key == AGAIN.key:
            self._again()
            return
        if key == MISREAD.key and self.corrects:
            from tui.screens.misread import misread_form

            self.app.push_screen(misread_form(self.desk, self.page), self._corrected)
            return
        if key == ASSAY.key and self.assays:
            from tui.screens.assay import assay_form

            self.app.push_screen(assay_form(self.desk, self.page.state))
            return
        if key == BESIDE.key:
            from tui.screens.beside import ask

            self.app.push_screen(ask(self.desk, self.prep))
            return
        if key not in (ACCEPT.key, RETURN.key):
            return
        if not self.reviews:
            self.say("Only a reviewer decides, and only on a prep that is closed.")
            return
        self.app.push_screen(ReviewScreen(self.desk, self.page, accept=key == ACCEPT.key))

    def _corrected(self, done: bool | None) -> None:
        if done:
            self.say(f"Written anew. Print the label again: tarebook label {self.prep}.")


class ReviewScreen(FormFrame[None]):
    """The reviewer's decision: what it means, why, and the PIN."""

    CSS_PATH = ["frame.tcss", "prep_page.tcss"]
    NAME = "Review"
    KEYS: ClassVar[tuple[Command, ...]] = (NEXT, FIELDS, BACK, HELP)
    HELP_LINES = (
        "Accepting releases the lot that the prep made; returning blocks it and needs a reason. The PIN is "
        "asked again, since this is a signature. Both stay on the page for good.",
    )
    survives_lock = False

    def __init__(self, desk: Desk, page: PrepPage, *, accept: bool) -> None:
        super().__init__(desk)
        self.page, self.accept = page, accept
        self.NAME = "Accept" if accept else "Return"
        self.form = EntryForm(
            (
                Field("meaning", "it means", "choice", "", MEANINGS, required=True),
                Field("reason", "reason" if accept else "why it is returned", required=not accept,
                      help="may be empty" if accept else ""),
                Field("pin", "your PIN", "pin", required=True),
            ),
            id="form",
        )  # fmt: skip

    def draw(self) -> None:
        """Draw what is decided on."""
        signing = (
            "Signing accepts it and releases its lot."
            if self.accept
            else "Signing returns it and blocks its lot."
        )
        prep = self.page.state.prep
        standing = [i for i in incidents.standing_open(self.desk.record) if i.prep == prep]
        still = [f"! incident {i.entry} of it is not closed: {i.what}" for i in standing]
        stale = [f"! STALE: {self.page.stale}"] if self.page.stale else []
        revised = [f"! {line}; its result is the old one" for line in self.page.revised]
        shown = (f"{prep}  {self.page.title}", *stale, *revised, *still, signing, "")
        self.query_one("#lines", Lines).show(wrapped(shown, self.wide))

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        """Sign."""
        message.stop()
        given, acting = message.values, self.desk.acting
        try:
            people.check_pin(self.desk.record, acting.person, given["pin"], purpose="review")
            closing.review(
                acting,
                self.page.state.prep,
                seen=self.page.state.last_entry,
                accept=self.accept,
                reason=given["reason"],
                meaning=given["meaning"],
            )
        except StoreError as refusal:
            self.say(refusal)
            self.form.fields[-1].value = ""
            self.form.open(len(self.form.fields) - 1)
            return
        self.dismiss(None)
