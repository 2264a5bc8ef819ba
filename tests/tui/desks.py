"""A desk at the small site, and an app that shows one screen of it."""

import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random
from tempfile import mkdtemp
from typing import Any

from textual.app import App
from textual.pilot import Pilot as Pilot
from textual.screen import Screen

from store.actions.acting import Acting
from store.record.record import Record
from store.units import convert
from tests import site
from tui import theme
from tui.guide.player import Player
from tui.screens.desk import Desk

SIZES = ((80, 24), (120, 40))
convert(1.0, "g", "mg")  # the app warms the units as well: their first use is slow


@cache
def _made(story: Callable[[Record, site.TestClock], None] | None) -> tuple[Path, float]:
    """A record is made once for every story; scrypt alone takes half a second."""
    clock = site.TestClock()
    path = Path(mkdtemp()) / "made.tarebook"
    with site.begin(path, clock) as record:
        if story is not None:
            story(record, clock)
    return path, clock.time.now_s


def desk(
    folder: Path,
    *,
    person: str = "op-1",
    story: Callable[[Record, site.TestClock], None] | None = None,
) -> Desk:
    """Give a desk with somebody signed in (empty for nobody); the caller closes its record."""
    made, now_s = _made(story)
    path = folder / "r.tarebook"
    shutil.copy(made, path)
    clock = site.TestClock()
    clock.time.now_s = now_s
    record = Record.open(path, now=clock, terminal="7F3A")
    roles = tuple(record.query("SELECT row FROM register_row WHERE register='person' AND id=:p", p=person))
    out = Desk(
        record=record, path=path, now=clock, terminal="7F3A", monotonic=clock.time, chance=Random(7), seed=7
    )
    if person:
        import json

        out.person = Acting(record, person, tuple(json.loads(roles[0]["row"])["roles"]))
    return out


def beside(record: Record, path: Path, clock: site.TestClock, *, person: str = "op-1") -> Desk:
    """Give a desk at a record that is open already, with an operator signed in."""
    return Desk(
        record=record, path=path, now=clock, terminal="7F3A", monotonic=clock.time, chance=Random(7), seed=7,
        person=Acting(record, person, ("operator",)),
    )  # fmt: skip


def clock_of(desk: Desk) -> site.TestClock:
    """Give the clock of a desk, to be moved."""
    assert isinstance(desk.now, site.TestClock)
    return desk.now


class DeskApp(App[Any]):
    """Shows one screen; what it gives is kept."""

    ENABLE_COMMAND_PALETTE = False

    def __init__(self, *screens: Screen[Any]) -> None:
        super().__init__()
        self.first = screens
        self.given: list[Any] = []
        for one in theme.THEMES:
            self.register_theme(one)
        self.theme = "dark"

    def on_mount(self) -> None:
        for screen in self.first:
            self.push_screen(screen, self.given.append)


async def settle(pilot: Pilot[Any]) -> None:
    """Wait until the screen stands and keys meant for the one before are past."""
    await pilot.pause(0.3)


def closed_prep(record: Record, clock: site.TestClock) -> None:
    """Story: op-1 made one prep to its end."""
    play(record, clock)


def play(record: Record, clock: site.TestClock, *, until: Callable[[Any], bool] | None = None) -> str:
    """Plan a prep as op-1 and play it."""
    prep = site.planned(record)
    play_on(site.guide(record, prep, clock), clock, until=until)
    return prep


def play_on(guide: Any, clock: site.TestClock, *, until: Callable[[Any], bool] | None = None) -> None:
    """Play a prep from where it stands."""
    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(until=until)


def busy_bench(record: Record, clock: site.TestClock) -> None:
    """Story: one prep closed, one with a note owed, one only planned."""
    play(record, clock)
    play(record, clock, until=lambda g: bool(g.state.owed) and not g.state.open_handlings)
    site.planned(record)
