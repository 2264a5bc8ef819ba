"""Every screen there is, as one person or another meets it, with something on it."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from textual.screen import Screen

import tui.screens
from store.actions import notes
from store.model.words import ActKind
from store.queries import registers, routes
from store.queries.page import page as page_of
from store.record.record import Record
from tests import site
from tests.tui import desks
from tui.guide.guide import Guide
from tui.guide.keys import Acknowledged, Typed
from tui.screens.balance_health import BalanceHealthScreen, WeighingsScreen
from tui.screens.bench import BenchScreen
from tui.screens.beside import BesideScreen
from tui.screens.chart import ChartScreen
from tui.screens.desk import Desk
from tui.screens.exposure_log import ExposureLogScreen
from tui.screens.first_run import FirstRunScreen
from tui.screens.help import HelpScreen
from tui.screens.incident import IncidentScreen
from tui.screens.incident_page import IncidentPageScreen
from tui.screens.past_preps import PastPrepsScreen
from tui.screens.person_page import PersonPageScreen
from tui.screens.plan import PlanScreen
from tui.screens.plan_frame import WholeScreen
from tui.screens.plan_several import PlanSeveralScreen
from tui.screens.portions import PortionsScreen
from tui.screens.prep_page import PrepPageScreen, ReviewScreen
from tui.screens.record_check import RecordCheckScreen
from tui.screens.register_form import RegisterForm
from tui.screens.register_row import RegisterRowScreen
from tui.screens.registers import RegisterScreen, RegistersScreen
from tui.screens.routes import RouteListScreen, RoutesScreen
from tui.screens.search import SearchScreen
from tui.screens.second import SecondScreen
from tui.screens.set_up import SetUpScreen
from tui.screens.sign_in import SignInScreen
from tui.screens.small_form import SmallForm
from tui.screens.spill import SpillScreen
from tui.screens.step import StepScreen
from tui.screens.teach import TeachScreen
from tui.screens.too_small import TooSmallScreen
from tui.screens.trace import TraceScreen
from tui.screens.which import WhichScreen
from tui.widgets.entry_form import Field

Story = Callable[[Record, site.TestClock], None] | None
PREP = "P-7F3A-0001"
ASKED = routes.Asked(source="1 mg/g", target="0.1 ug/g", amount="8 g", vessels="3 x 20 mL", balance="B-1")
GROUNDS = ("FormFrame", "Framed", "PadScreen", "PlanFrame", "Reading")
"""Screens that only others are made from."""


@dataclass(frozen=True)
class Shown:
    """One screen, and who meets it when."""

    make: Callable[[Desk], Screen[Any]]
    person: str = "op-1"
    story: Story = desks.closed_prep
    keys: tuple[str, ...] = ()
    """Pressed before it is looked at."""
    snapshot: str = ""
    """Name of its snapshot, where no test of its own takes one."""


def at(kind: ActKind) -> Story:
    """Story: an act of a kind stands open."""

    def there(guide: Guide) -> bool:
        return guide.state.act is not None and guide.state.act.kind == kind and not guide.on_page

    def story(record: Record, clock: site.TestClock) -> None:
        desks.play(record, clock, until=there)

    return story


def _page(record: Record, clock: site.TestClock) -> None:
    desks.play(record, clock, until=lambda g: g.on_page and bool(g.state.acks))


_DOSING, _READING, _NOTING = at(ActKind.DOSE), at(ActKind.READ), at(ActKind.NOTE)


def _step(desk: Desk) -> StepScreen:
    return StepScreen(desk, desk.guide(PREP))


def _taken_up(desk: Desk) -> StepScreen:
    guide = desk.guide(PREP)
    guide.asks.clear()
    return StepScreen(desk, guide)


def _read(desk: Desk) -> StepScreen:
    """The act itself, its page read."""
    guide = desk.guide(PREP)
    guide.asks.clear()
    while guide.on_page:
        guide.take(Acknowledged(guide.digit))
    return StepScreen(desk, guide)


def _incident(desk: Desk) -> Screen[Any]:
    """The page of an incident that was noted just before."""
    entry = notes.note_incident(desk.acting, PREP, what="near miss", note="container nearly fell")
    return IncidentPageScreen(desk, entry.entry)


def _teach(desk: Desk) -> TeachScreen:
    """Lines of an unknown balance, recorded as if they had been pasted."""
    screen = TeachScreen(desk, registers.row(desk.record, "balance", "B-1"))
    moving = [f"~ {n * 1.37:.2f} mg" for n in range(12)]
    screen.lines += [line.encode() for line in (*moving, *["= 16.44 mg"] * 12)]
    return screen


def _taught(desk: Desk) -> TeachScreen:
    screen = _teach(desk)
    screen.on_intent(Typed(""))
    return screen


SCREENS: Mapping[str, Shown] = {
    "balance health": Shown(lambda d: BalanceHealthScreen(d, "B-1")),
    "weighings": Shown(lambda d: WeighingsScreen(d, "B-1")),
    "bench": Shown(BenchScreen, story=desks.busy_bench),
    "beside": Shown(lambda d: BesideScreen(d, PREP, PREP)),
    "chart": Shown(lambda d: ChartScreen(d, "K2CR2O7")),
    "incident page": Shown(_incident, "so-1"),
    "rack": Shown(PortionsScreen, keys=("7", "7", "8")),
    "routes form": Shown(RoutesScreen, keys=("x", "enter")),
    "routes": Shown(lambda d: RouteListScreen(d, routes.designed(d.record, ASKED))),
    "search": Shown(SearchScreen, keys=("K", "D", "enter")),
    "set up": Shown(SetUpScreen, "ke-1"),
    "trace": Shown(lambda d: TraceScreen(d, "KD-2")),
    "exposure log": Shown(ExposureLogScreen, "so-1"),
    "first run": Shown(FirstRunScreen, ""),
    "help": Shown(
        lambda d: HelpScreen(d, "Bench", BenchScreen.HELP_LINES, BenchScreen.KEYS), snapshot="help"
    ),
    "incident": Shown(lambda d: IncidentScreen(d, ""), keys=("1",), snapshot="incident_how"),
    "past preps": Shown(PastPrepsScreen),
    "person page": Shown(lambda d: PersonPageScreen(d, "op-1")),
    "plan": Shown(PlanScreen, keys=("7", "7", "8")),
    "plan several": Shown(PlanSeveralScreen, keys=("enter",)),
    "plan, refused": Shown(PlanScreen, keys=("x", "enter")),
    "prep page": Shown(lambda d: PrepPageScreen(d, PREP)),
    "review": Shown(lambda d: ReviewScreen(d, page_of(d.record, PREP), accept=False), "re-1"),
    "record check": Shown(RecordCheckScreen, "so-1", snapshot="record_check"),
    "register form": Shown(
        lambda d: RegisterForm(d, "lot"), "ke-1", keys=("enter",), snapshot="register_form"
    ),
    "register row": Shown(lambda d: RegisterRowScreen(d, "lot", "KD-2")),
    "registers": Shown(RegistersScreen),
    "register": Shown(lambda d: RegisterScreen(d, "substance")),
    "second": Shown(lambda d: SecondScreen(d, ("lot KD-2 is past its expiry",))),
    "sign in": Shown(SignInScreen, ""),
    "sign in, pin": Shown(SignInScreen, "", keys=("o", "enter", "1", "1")),
    "small form": Shown(
        lambda d: SmallForm(d, "Block", ("Why?",), (Field("why", "why", required=True),), lambda _: None),
        keys=("enter",),
        snapshot="small_form",
    ),
    "spill": Shown(SpillScreen, "", _DOSING),
    "step, page": Shown(_step, story=_page),
    "step, interrupted": Shown(_step, story=_DOSING, snapshot="step_interrupted"),
    "step, page again": Shown(_taken_up, story=_DOSING),
    "step, reading": Shown(_read, story=_READING),
    "step, note": Shown(_read, story=_NOTING),
    "step, refused": Shown(_read, story=_READING, keys=("5", "enter"), snapshot="step_refused"),
    "step, help": Shown(_read, story=_READING, keys=("*",)),
    "teach": Shown(_teach, "ke-1", snapshot="teach"),
    "teach, proposed": Shown(_taught, "ke-1", snapshot="teach_proposed"),
    "too small": Shown(lambda d: TooSmallScreen(d, is_open=True), snapshot="too_small"),
    "whole plan": Shown(lambda d: WholeScreen(PlanScreen(d))),
    "which": Shown(
        lambda d: WhichScreen(d, (Field("since", "since", value="2026-03-02"),), check=lambda _: None),
        snapshot="which",
    ),
}


def classes() -> Iterator[str]:
    """Give the name of every screen class in the product."""
    for module in iter_modules(tui.screens.__path__, "tui.screens."):
        for name, found in vars(import_module(module.name)).items():
            if isinstance(found, type) and issubclass(found, Screen) and found.__module__ == module.name:
                yield name
