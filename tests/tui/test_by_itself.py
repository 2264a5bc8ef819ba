"""What happens without a key: the bell tells, and what a site allows is taken after a count-down."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from store import events as ev
from store.actions import planning, registers
from store.errors import StoreError
from store.model.words import StepName
from store.record.record import Record
from tests import site
from tests.tui import desks, snap, typed_hand
from tui.balance.protocol import Sample
from tui.guide import bells, keys
from tui.guide.guide import Guide
from tui.guide.player import Player
from tui.guide.view import Live, StepView
from tui.screens.step import StepScreen

CALM = StepView(prep="P", title="", place="", step="")
MOVING = replace(CALM, live=Live("1.00", "mg", False, inside=False))
STEADY = replace(CALM, live=Live("1.00", "mg", True, inside=False))
INSIDE = replace(CALM, live=Live("9.99", "mg", True, inside=True))
TYPED = replace(CALM, live=Live("9.99", "mg", None, inside=True, typed=True))
ALARM = replace(INSIDE, alarm="gloves nearly through")


# ---- the bell ----


@pytest.mark.parametrize(
    ("before", "now", "rings"),
    [
        (MOVING, STEADY, "steady"),
        (STEADY, STEADY, ""),
        (STEADY, MOVING, ""),
        (MOVING, INSIDE, "inside"),
        (STEADY, INSIDE, "inside"),
        (INSIDE, ALARM, "time"),
        (ALARM, ALARM, ""),
        (ALARM, INSIDE, ""),
        (None, MOVING, ""),
        (MOVING, TYPED, ""),
    ],
)
def test_the_bell_tells_what_is_new_once(before: StepView | None, now: StepView, rings: str) -> None:
    every = tuple(bells.PATTERNS)
    assert bells.pattern(before, now, wanted=every) == rings
    assert bells.pattern(before, now, wanted=()) == ""


def test_every_pattern_can_be_told_from_every_other_by_number_or_pace() -> None:
    found = {(len(p), round(max(p), 1)) for p in bells.PATTERNS.values()}
    assert len(found) == len(bells.PATTERNS) == 4


async def rung(folder: Path, **settings: str) -> int:
    """Press a key that is refused at the step screen, and count the bells."""
    desk = desks.desk(folder)
    for id, value in settings.items():
        site.put(desk.record, "setting", {"id": id, "value": value})
    clock = desks.clock_of(desk)
    guide = at(desk.record, clock, "zero")
    heard = []
    app = desks.DeskApp(StepScreen(desk, guide))
    app.bell = lambda: heard.append(1)  # type: ignore[method-assign] # a bell that can be counted
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        heard.clear()
        await snap.send(pilot, "12,34,5\r")
        await pilot.pause(0.5)
    desk.record.close()
    return len(heard)


@pytest.mark.parametrize(
    ("settings", "bells_heard"),
    [({}, 3), ({"bell_for": "steady, inside"}, 0), ({"bell_for": "none"}, 0), ({"bell": "no"}, 0)],
)
async def test_a_refusal_rings_three_times_unless_the_site_wants_it_silent(
    tmp_path: Path, settings: dict[str, str], bells_heard: int
) -> None:
    assert await rung(tmp_path, **settings) == bells_heard


def test_a_bell_for_something_that_there_is_not_is_refused(record: Record) -> None:
    with pytest.raises(StoreError, match="steady, inside, refused, time"):
        registers.register(site.acting(record, "ke-1"), "setting", {"id": "bell_for", "value": "always"})


# ---- taken by itself ----


def allow(record: Record, what: str, seconds: str = "5") -> None:
    site.put(record, "setting", {"id": "take_by_itself", "value": what})
    site.put(record, "setting", {"id": "take_seconds", "value": seconds})


def at(record: Record, clock: site.TestClock, act: str, step: str = "") -> Guide:
    guide = site.guide(record, planning.write(site.acting(record), site.PLAN), clock)

    def there(g: Guide) -> bool:
        return typed_hand.at(g, act, step)

    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(until=there)
    return guide


def wait(
    guide: Guide, clock: site.TestClock, seconds: float, until: Callable[[], bool] | None = None
) -> None:
    """Let time pass with the beats of a screen."""
    for _ in range(int(seconds / 0.25)):
        clock.time.pass_(0.25)
        guide.poll()
        guide.by_itself.beat(guide)
        if until is not None and until():
            return


def dose_inside(guide: Guide, clock: site.TestClock) -> None:
    """Dose by portions until the display rests inside the window."""
    player = Player(guide, time=clock.time, chance=Random(3), show=lambda view: None)
    for _ in range(60):
        player.time.pass_(3.0)
        for _ in range(20):
            clock.time.pass_(0.25)
            guide.poll()
        choice = player._portion()
        if isinstance(choice, keys.Act):
            return
        guide.take(choice)
    raise AssertionError("never came inside")


def test_nothing_is_taken_by_itself_unless_the_site_allows_it(record: Record, clock: site.TestClock) -> None:
    guide = at(record, clock, "off")
    last = guide.state.last_entry
    wait(guide, clock, 120)
    assert not guide.by_itself.running
    assert guide.state.last_entry == last


def test_a_steady_reading_that_is_as_it_should_be_is_taken_after_the_count_down(
    record: Record, clock: site.TestClock
) -> None:
    allow(record, "readings", "5")
    guide = at(record, clock, "off")
    last = guide.state.last_entry
    wait(guide, clock, 60, until=lambda: guide.by_itself.running)
    assert "taken by itself in 5 s: any key stops it" in guide.by_itself.words()
    view = guide.view()
    assert view.live is not None
    assert view.live.by_itself == guide.by_itself.words()
    wait(guide, clock, 4.5)
    assert guide.state.last_entry == last
    wait(guide, clock, 1.0)
    (entry,) = [
        e
        for e in record.entries(subject=f"prep:{guide.prep}")
        if e.entry > last and isinstance(e.event, ev.Read)
    ]
    assert isinstance(entry.event, ev.Read)
    assert entry.event.act == "off"
    assert entry.event.conditions["taken"] == "by itself"


@pytest.mark.parametrize("act", ["off", "dose"])
def test_a_display_with_other_decimals_than_the_register_says_is_left_to_a_person(
    record: Record, clock: site.TestClock, act: str
) -> None:
    allow(record, "readings, doses", "1")
    guide = at(record, clock, act)
    last = guide.state.last_entry
    for _ in range(20):
        clock.time.pass_(0.25)
        guide.sample = Sample("0.0", True, guide.monotonic())
        guide.by_itself.beat(guide)
    assert not guide.by_itself.running
    assert guide.state.last_entry == last


def test_a_key_stops_the_count_down_for_as_long_as_the_act_is_open(
    record: Record, clock: site.TestClock
) -> None:
    allow(record, "readings")
    guide = at(record, clock, "off")
    last = guide.state.last_entry
    wait(guide, clock, 60, until=lambda: guide.by_itself.running)
    guide.stop_counting()
    wait(guide, clock, 60)
    assert guide.state.last_entry == last
    guide.take(keys.Act())
    assert guide.state.last_entry > last


def test_no_page_is_acknowledged_by_waiting(record: Record, clock: site.TestClock) -> None:
    """At the first reading of a step whose short form the first key acknowledges, nothing runs."""
    allow(record, "readings, doses")
    guide = site.guide(record, planning.write(site.acting(record), site.PLAN), clock)
    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(
        until=lambda g: g.on_page and g.state.act is not None and g.state.act.key == "zero"
    )
    last = guide.state.last_entry
    wait(guide, clock, 60)
    assert guide.state.last_entry == last


@pytest.mark.parametrize(("allowed", "taken"), [("doses", True), ("readings", False)])
def test_a_dose_inside_is_taken_by_itself_only_where_doses_are_allowed(
    record: Record, clock: site.TestClock, allowed: str, taken: bool
) -> None:
    allow(record, allowed)
    guide = at(record, clock, "dose", StepName.WEIGH_SOLID)
    wait(guide, clock, 30)
    assert not guide.by_itself.running  # nothing is in the vessel yet
    dose_inside(guide, clock)
    wait(guide, clock, 60, until=lambda: bool(guide.state.doses))
    assert bool(guide.state.doses) == taken
    if taken:
        event = record.entry(guide.state.doses[0].entry).event
        assert isinstance(event, ev.Dosed)
        assert event.computed["stream"]["taken"] == "by itself"


def test_a_vessel_whose_mass_is_not_known_is_never_taken_by_itself(
    record: Record, clock: site.TestClock
) -> None:
    allow(record, "readings, doses")
    guide = at(record, clock, "vessel")
    last = guide.state.last_entry
    wait(guide, clock, 60)
    assert guide.state.last_entry == last


async def test_on_the_screen_any_key_stops_the_count_down_and_does_nothing_else(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    allow(desk.record, "readings", "30")
    clock = desks.clock_of(desk)
    guide = at(desk.record, clock, "off")
    last = guide.state.last_entry
    app = desks.DeskApp(StepScreen(desk, guide))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        for _ in range(200):
            if guide.by_itself.running:
                break
            clock.time.pass_(0.2)
            await pilot.pause(0.06)
        await pilot.pause(0.1)
        assert "taken by itself in" in snap.text_of(app)
        await snap.press(pilot, "enter")
        assert not guide.by_itself.running
        assert guide.state.last_entry == last
        assert "The count-down is stopped" in snap.text_of(app)
        await pilot.pause(1.1)
        guide.poll()
        await snap.press(pilot, "enter")
        assert guide.state.last_entry > last
    desk.record.close()
