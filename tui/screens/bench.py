"""The bench: what is owed, open, due, expiring; a digit goes there, a letter to the desk's other screens."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, ClassVar

from store.errors import NotAllowed, StoreError
from store.model.words import Role
from store.queries import registers
from tui import commands, theme
from tui.guide.keys import Choose, Chosen, Intent, Letter, Mode, Note, Scanned, Spill
from tui.screens.desk import Desk
from tui.screens.frame import PadScreen, wrapped
from tui.widgets.footer import pairs
from tui.widgets.lines import Lines, visible

if TYPE_CHECKING:
    from tui.screens.bench_rows import Place

CLOCK_BACK = timedelta(minutes=1)
"""A clock further back than this against the last entry is said."""
WIDE = 110
"""On a screen wider than this, the hazards of what is open stand beside it."""
READ_AGAIN_S = 60.0
"""Another process may have written: the bench is read anew."""


class BenchScreen(PadScreen[None]):
    """What waits for whoever is signed in."""

    CSS_PATH = ["frame.tcss", "bench.tcss"]
    NAME = "Bench"
    by_parts = True
    KEYS: ClassVar[tuple[commands.Command, ...]] = (
        commands.NEW,
        commands.PAST,
        commands.EXPOSURES,
        commands.REGISTERS,
        commands.SEARCH,
        commands.SET_UP,
        commands.SEVERAL,
        commands.RACK,
        commands.ROUTES,
        commands.ME,
        commands.CHECK,
        commands.LOCK,
        commands.THEME,
        commands.QUIT,
        commands.NOTE,
        commands.SPILL,
        commands.HELP,
    )
    HELP_LINES = (
        "A digit goes to what stands beside it: an open prep, or a thing that is owed or due.",
        "A keypad is enough to go on with a prep; letters lead to the work of the desk.",
    )
    is_ground = True
    """Behind a lock everything above this is put away for another person."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._places: dict[int, Place] = {}
        self._before = ""
        """Who stood here last."""
        self._leaving = False
        """It was said that something is open; the same key again leaves all the same."""
        self._lacks = False
        """Whether a first prep still needs something."""

    def on_mount(self) -> None:
        """Read the bench now and then."""
        self.set_interval(READ_AGAIN_S, self.draw)

    def on_screen_resume(self) -> None:
        """Read the bench anew, and say so if another person stands here."""
        who = self.desk.person.person if self.desk.person is not None else ""
        if who and self._before and who != self._before:
            self.say(f"{who} is signed in now; before it was {self._before}.")
        self._before = who or self._before
        self.show_head()
        self.draw()

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        return Choose(max(self._places, default=0), spill=True)

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give the digits that lead somewhere, then the letters."""
        many = max(self._places, default=0)
        digits = ((f"1 to {many}" if many > 2 else " ".join("12"[:many]), "go there"),) if many else ()
        last = (commands.SPILL, commands.NOTE, commands.HELP)
        return (
            *digits,
            *pairs(last),
            *pairs(c for c in self.KEYS if c not in last and (c is not commands.SET_UP or self._lacks)),
        )

    def draw(self) -> None:
        """Draw what is owed, open, due, expiring."""
        if self.desk.person is None or not self.is_mounted:
            return
        # Here: the sign-in is on the screen sooner, and `tui.app` loads these behind it.
        from store.queries import due
        from tui.screens import bench_rows

        record, who = self.desk.record, self.desk.person
        head = [*self._head(), *self._missing()]
        bench = due.bench(record, who.person)
        held = {p.substance for p in bench.open}
        substances = [r for r in registers.rows(record, "substance", retired=True) if r.id in held]
        found = bench_rows.sections(
            bench,
            room=max(6, self.query_one("#body").content_size.height - len(head) - (1 if head else 0)),
            names=(bench_rows.with_hazards if self.wide > WIDE else bench_rows.named)(substances),
            reviewer=Role.REVIEWER in who.roles,
            zone=self.desk.zone,
        )
        self._places = {x.digit: x.place for s in found for x in s.lines if x.digit and x.place}
        lines = bench_rows.drawn(found, self.wide) or ("Nothing is open, owed or due.",)
        self.query_one("#lines", Lines).show((*head, *([""] if head else []), *lines))
        self.keys.machine.expect(self.expecting())
        self.keys_mean(self.footer())

    def _head(self) -> list[str]:
        back = self.desk.record.due_now() - self.desk.now()
        if back <= CLOCK_BACK:
            return []
        return [
            f"The clock stands {back.total_seconds() / 60:.0f} min behind the last entry: set it. "
            "What is due is judged by the last entry."
        ]

    def _missing(self) -> Sequence[str]:
        """What a first prep still needs, while there has been none."""
        from store.queries import setup

        any_prep = self.desk.record.query("SELECT 1 FROM prep LIMIT 1")
        left = () if any_prep else setup.missing(self.desk.record)
        self._lacks = bool(left)
        if not left:
            return ()
        words = "; ".join(n.missing for n in left)
        return wrapped(
            (f"Still missing for a first prep: {words}. {commands.SET_UP.key} sets it up.",), self.wide
        )

    # ---- keys ----

    def leave(self) -> None:
        """Nothing is behind the bench: the lock is `l`, leaving is `q`."""
        self.say(f"{commands.LOCK.key} locks, {commands.QUIT.key} leaves Tarebook.")

    def on_intent(self, intent: Intent) -> None:
        """Go where the key leads."""
        asked, self._leaving = self._leaving, False
        match intent:
            case Letter(commands.QUIT.key):
                self._quit(asked)
            case Chosen(n) if n in self._places:
                self.say("")
                self._try(lambda: self._go(self._places[n]))
            case Spill():
                from tui.screens.spill import SpillScreen

                self.app.push_screen(SpillScreen(self.desk))
            case Note():
                from tui.screens.incident import IncidentScreen

                self.app.push_screen(IncidentScreen(self.desk, ""))
            case Scanned(text):
                self._try(lambda: self._scanned(text))
            case _:
                super().on_intent(intent)

    def _quit(self, asked: bool) -> None:
        """Leave; where a prep has something open, only when asked twice."""
        from store.queries.preps import left_open

        found = () if asked else left_open(self.desk.record)
        if not found:
            self.app.exit()
            return
        self._leaving = True
        prep, what = found[0]
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        self.say(
            f"STILL OPEN in {prep}: {what}{more}. Go back to it and close it; "
            f"{commands.QUIT.key} again leaves all the same."
        )

    def _try(self, what: Callable[[], None]) -> None:
        try:
            what()
        except StoreError as refusal:
            self.say(refusal)

    def _go(self, place: Place) -> None:
        if place.kind == "prep":
            self.desk.acting.must(Role.OPERATOR)
            from tui.screens.step import StepScreen

            self.app.push_screen(StepScreen(self.desk, self.desk.guide(place.id)))
        elif place.kind == "review":
            from tui.screens.past_preps import PastPrepsScreen

            self.app.push_screen(PastPrepsScreen(self.desk, status="waiting"))
        elif place.kind == "balance":
            from tui.screens.balance_health import BalanceHealthScreen

            self.app.push_screen(BalanceHealthScreen(self.desk, place.id))
        elif place.kind == "incident":
            from tui.screens.incident_page import IncidentPageScreen

            self.app.push_screen(IncidentPageScreen(self.desk, int(place.id)))
        else:
            from tui.screens.register_row import RegisterRowScreen

            self.app.push_screen(RegisterRowScreen(self.desk, place.kind, place.id))

    def _scanned(self, text: str) -> None:
        """A label of a prep leads to the prep, whatever its state."""
        from store.queries import preps
        from tui.screens.bench_rows import Place

        found = preps.meant(self.desk.record, text)
        if len(found) != 1:
            self.say(f"{visible(text)} names no one prep: p finds preps, r finds containers and lots.")
        elif found[0].status == "open":
            self._go(Place("prep", found[0].prep))
        else:
            from tui.screens.prep_page import PrepPageScreen

            self.app.push_screen(PrepPageScreen(self.desk, found[0].prep))

    def letter(self, key: str) -> None:
        """Go to another screen of the desk."""
        self._try(lambda: self._letter(key))

    def _letter(self, key: str) -> None:
        if key == commands.NEW.key:
            if Role.OPERATOR not in self.desk.acting.roles:
                raise NotAllowed(f"{self.desk.acting.person} is no operator: an operator plans a prep.")
            from tui.screens.plan import PlanScreen

            self.app.push_screen(PlanScreen(self.desk))
        elif key == commands.SEVERAL.key:
            if Role.OPERATOR not in self.desk.acting.roles:
                raise NotAllowed(f"{self.desk.acting.person} is no operator: an operator plans a prep.")
            from tui.screens.plan_several import PlanSeveralScreen

            self.app.push_screen(PlanSeveralScreen(self.desk))
        elif key == commands.PAST.key:
            from tui.screens.past_preps import PastPrepsScreen

            self.app.push_screen(PastPrepsScreen(self.desk))
        elif key == commands.EXPOSURES.key:
            from tui.screens.exposure_log import ExposureLogScreen

            self.app.push_screen(ExposureLogScreen(self.desk))
        elif key == commands.REGISTERS.key:
            from tui.screens.registers import RegistersScreen

            self.app.push_screen(RegistersScreen(self.desk))
        elif key == commands.SET_UP.key:
            from tui.screens.set_up import SetUpScreen

            self.app.push_screen(SetUpScreen(self.desk))
        elif key == commands.RACK.key:
            self.desk.acting.must(Role.OPERATOR)
            from tui.screens.portions import PortionsScreen

            self.app.push_screen(PortionsScreen(self.desk))
        elif key == commands.ROUTES.key:
            from tui.screens.routes import RoutesScreen

            self.app.push_screen(RoutesScreen(self.desk))
        elif key == commands.SEARCH.key:
            from tui.screens.search import SearchScreen

            self.app.push_screen(SearchScreen(self.desk))
        elif key == commands.ME.key:
            from tui.screens.person_page import PersonPageScreen

            self.app.push_screen(PersonPageScreen(self.desk, self.desk.acting.person))
        elif key == commands.CHECK.key:
            from tui.screens.record_check import RecordCheckScreen

            self.app.push_screen(RecordCheckScreen(self.desk))
        elif key == commands.LOCK.key:
            from tui.screens.sign_in import lock

            lock(self.app, self.desk, how="lock")
        elif key == commands.THEME.key:
            self.app.theme = theme.after(
                self.app.theme, no_colour=self.app.no_color, colours=self.app.console.color_system
            )
            self.say(f"Colours: {self.app.theme}.")
