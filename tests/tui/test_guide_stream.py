"""The stream of a live balance: steady as the settings say, how it creeps, what is kept with a dose."""

from dataclasses import replace
from random import Random

import pytest

from store import events as ev
from store.errors import StoreError
from store.model.registers import Balance
from store.model.words import StepName
from store.procedure import tare_age
from store.record.record import Record
from tests import site
from tests.tui import desks
from tui.balance.protocol import RAW_LINES, Sample
from tui.guide import keys
from tui.guide.stream import Creep, Stream

ROW = Balance(id="B-1", name="x", readability="0.01 mg", capacity="80 g", repeatability="0.01 mg")
"""s = 0.01 mg: with two s the readings of a steady display lie within 0.02 mg."""


def _fed(masses: list[float], *, every_s: float = 0.1, settings: dict[str, str] | None = None) -> Stream:
    stream = Stream(ROW, settings or {})
    for n, mass in enumerate(masses):
        _last(stream, mass, n * every_s)
    return stream


def _last(stream: Stream, mass: float, at_s: float, *, steady: bool = True) -> bool:
    taken = stream.take(Sample(f"{mass:.2f}", steady, at_s))
    assert taken is not None
    return taken.steady


# ---- steady ----


def test_a_display_is_steady_once_it_has_rested_for_the_seconds_of_the_settings() -> None:
    stream = Stream(ROW, {"steady_seconds": "2"})
    found = [_last(stream, 10.0, n * 0.1) for n in range(25)]
    assert not any(found[1:20])
    assert all(found[20:])


@pytest.mark.parametrize(("off", "steady"), [(0.02, True), (0.03, False)])
def test_steady_is_a_spread_of_so_many_s_and_not_a_digit_more(off: float, steady: bool) -> None:
    stream = _fed([10.0, 10.0 + off] * 20, settings={"steady_spread": "2"})
    assert _last(stream, 10.0, 4.0) is steady
    wider = _fed([10.0, 10.0 + off] * 20, settings={"steady_spread": "3"})
    assert _last(wider, 10.0, 4.0)


def test_what_the_balance_marks_as_moving_is_never_steady() -> None:
    stream = _fed([10.0] * 40)
    assert not _last(stream, 10.0, 4.0, steady=False)


def test_a_jump_must_be_waited_out_again() -> None:
    stream = _fed([0.0] * 40)
    found = [_last(stream, 10.0, 4.0 + n * 0.1) for n in range(25)]
    assert found.index(True) == 20


def test_after_a_gap_what_was_before_says_nothing() -> None:
    stream = _fed([0.0] * 40)
    assert _last(stream, 10.0, 60.0)  # nobody looked in between: the balance's own mark counts
    assert not _last(stream, 10.0, 60.1)


def test_a_fault_or_a_text_that_is_no_number_passes_as_it_is() -> None:
    stream = _fed([10.0] * 40)
    for sample in (Sample("", False, 5.0, fault="overload"), Sample("----", False, 5.0), None):
        assert stream.take(sample) == sample


# ---- creep ----


def test_the_creep_is_the_slope_of_a_known_drift_within_its_uncertainty() -> None:
    noise = Random(7)
    stream = _fed([10.0 + 0.006 * n * 0.1 + noise.gauss(0, 0.002) for n in range(200)])
    found = stream.creep()
    assert found is not None
    assert found.seen
    assert abs(found.mg_min - 0.36) < 3 * found.u_mg_min
    assert found.words().startswith("creep +0.3")


def test_a_display_that_stands_still_creeps_by_no_more_than_its_rounding_hides() -> None:
    found = _fed([10.0] * 200).creep()
    assert found is not None
    assert (found.mg_min, found.seen) == (0.0, False)
    assert found.u_mg_min > 0


def test_a_dose_begins_the_slope_anew() -> None:
    stream = _fed([10.0] * 100 + [15.0] * 20)
    assert stream.creep() is None
    for n in range(120, 160):
        _last(stream, 15.0, n * 0.1)
    found = stream.creep()
    assert found is not None
    assert found.mg_min == pytest.approx(0.0, abs=1e-9)


def test_powder_that_falls_grain_by_grain_is_not_taken_for_a_creep() -> None:
    falling = [10.0 + 0.02 * n for n in range(150)]  # 0.2 mg/s, without one jump
    stream = _fed([*falling, *[falling[-1]] * 10])
    assert stream.creep() is None
    for n in range(160, 260):
        _last(stream, falling[-1], n * 0.1)
    found = stream.creep()
    assert found is not None
    assert abs(found.mg_min) < 0.05


@pytest.mark.parametrize(("mg_min", "seen"), [(0.021, True), (0.02, False), (-0.021, True)])
def test_a_creep_is_seen_over_twice_its_uncertainty(mg_min: float, seen: bool) -> None:
    assert Creep(mg_min, 0.01, 20.0).seen is seen


# ---- in the prep ----


def test_the_lines_around_an_acceptance_stand_with_the_dose(record: Record, clock: site.TestClock) -> None:
    prep = desks.play(record, clock)
    doses = [e.event for e in record.entries(subject=f"prep:{prep}") if isinstance(e.event, ev.Dosed)]
    assert doses
    for dose in doses:
        kept = dose.computed["stream"]
        assert kept["state"] == "steady"
        assert 3 <= len(kept["lines"]) <= RAW_LINES
        assert kept["lines"][-1].endswith(f"  {dose.shown}")


def test_a_site_that_asks_for_longer_rest_waits_longer(record: Record, clock: site.TestClock) -> None:
    site.put(record, "setting", {"id": "steady_seconds", "value": "8"})
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    desks.play_on(guide, clock, until=lambda g: g.state.act is not None and g.state.act.key == "zero")
    while guide.on_page:
        guide.take(keys.Acknowledged(guide.digit))
    guide.poll()
    for _ in range(28):
        clock.time.pass_(0.25)
        guide.poll()
    guide.take(keys.Act())
    assert "Not steady yet" in guide.said
    for _ in range(200):
        clock.time.pass_(0.25)
        guide.poll()
        if guide.sample is not None and guide.sample.steady:
            break
    guide.take(keys.Act())
    assert guide.said == ""
    assert guide.state.last_read("zero") is not None


def test_the_creep_stands_on_the_step_screen(record: Record, clock: site.TestClock) -> None:
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    desks.play_on(guide, clock, until=lambda g: g.state.act is not None and g.state.act.key == "dose")
    while guide.on_page:
        guide.take(keys.Acknowledged(guide.digit))
    for _ in range(40):
        clock.time.pass_(0.25)
        guide.poll()
    live = guide.view().live
    assert live is not None
    assert "creep" in live.creep
    assert live.creep.endswith("mg/min")


# ---- the tare ----


def _at_the_dose(record: Record, clock: site.TestClock) -> str:
    return desks.play(
        record,
        clock,
        until=lambda g: g.state.act is not None and g.state.act.key == "dose" and not g.on_page,
    )


def test_a_tare_is_warned_of_after_its_minutes_and_not_before(record: Record, clock: site.TestClock) -> None:
    from datetime import datetime, timedelta

    state = record.prep_state(_at_the_dose(record, clock))
    tared = datetime.fromisoformat(next(r.at for r in reversed(state.reads) if r.what == "tared"))
    assert tare_age.warnings(state, now=tared + timedelta(minutes=30)) == ()
    (said,) = tare_age.warnings(state, now=tared + timedelta(minutes=31))
    assert said == "the tare is 31 min old, its lifetime is 30 min"
    longer = replace(state, basis={**state.basis, "settings": {"tare_minutes": "60"}})
    assert tare_age.warnings(longer, now=tared + timedelta(minutes=31)) == ()


@pytest.mark.parametrize(("now", "warned"), [("-130", False), ("-131", True), ("-30", False), ("-29", True)])
def test_a_pressure_that_changed_since_the_tare_is_warned_of(
    record: Record, clock: site.TestClock, now: str, warned: bool
) -> None:
    state = record.prep_state(_at_the_dose(record, clock))
    assert state.last_read("tared") is not None
    assert tare_age.pressure_told(state) == "-80"
    step = next(n for n, s in enumerate(state.steps) if s.name == StepName.WEIGH_SOLID)
    told = replace(state, answers={**state.answers, f"{step}/pressure": now})
    said = tare_age.warnings(told, now=record.now())
    assert any("pressure changed by" in s for s in said) is warned


def test_another_closure_than_at_the_tare_is_warned_of(record: Record, clock: site.TestClock) -> None:
    state = record.prep_state(_at_the_dose(record, clock))
    assert tare_age.warnings(state, now=record.now()) == ()
    assert state.current is not None
    capped = replace(state.current, extra={"closure": "with its cap"})
    other = replace(state, steps=(*state.steps[: state.step], capped, *state.steps[state.step + 1 :]))
    assert tare_age.warnings(other, now=record.now()) == ("the vessel was tared with another closure",)


def test_the_pressure_is_asked_again_before_anything_is_opened(record: Record) -> None:
    state = record.prep_state(site.planned(record))
    step = next(s for s in state.steps if s.name == StepName.WEIGH_SOLID)
    assert [a.key for a in step.acts][:2] == ["pressure", "open"]


def test_an_old_tare_is_said_on_the_screen_of_the_dose(record: Record, clock: site.TestClock) -> None:
    prep = _at_the_dose(record, clock)
    guide = site.guide(record, prep, clock, live=False)
    guide.asks.clear()
    clock.time.pass_(45 * 60)
    live = guide.view().live
    if live is None:  # the page stands first after a break
        while guide.on_page:
            guide.take(keys.Acknowledged(guide.digit))
        live = guide.view().live
    assert live is not None
    assert [s for s in live.tare if "its lifetime is 30 min" in s]


def test_settings_of_the_stream_have_limits(record: Record) -> None:
    from store.actions import registers

    acting = site.acting(record, "ke-1")
    for id, bad in (("steady_seconds", "0.4"), ("steady_spread", "21"), ("tare_minutes", "0")):
        with pytest.raises(StoreError):
            registers.register(acting, "setting", {"id": id, "value": bad})


# ---- rate ----


@pytest.mark.parametrize(
    ("mg_s", "left_mg", "says"), [(0.5, 6.0, "+0.50 mg/s, aim in 0:12"), (-0.5, 6.0, "-0.50 mg/s")]
)
def test_the_rate_of_a_known_flow_and_the_time_to_the_aim_are_said(
    mg_s: float, left_mg: float, says: str
) -> None:
    stream = _fed([20.0 + mg_s * 0.1 * n for n in range(60)])
    assert stream.rate_words(left_mg) == says


def test_a_weight_that_is_put_on_only_moves() -> None:
    """A rate beyond that of any dosing is no figure; one step below it still is."""
    assert _fed([2260.0 * 0.1 * n for n in range(60)]).rate_words(6.0) == "moving"
    assert _fed([999.0 * 0.1 * n for n in range(60)]).rate_words(-6.0) == "+999.00 mg/s"


def test_what_moved_before_an_act_began_is_no_rate_of_it() -> None:
    falls = _fed([0.1 * n for n in range(60)])
    assert falls.rate_mg_s() is not None
    falls.begin(1e6)
    assert falls.rate_mg_s() is None


def test_a_display_that_rests_or_creeps_has_no_rate() -> None:
    assert _fed([10.0] * 60).rate_words(5.0) == ""
    assert _fed([10.0, 10.01] * 30).rate_words(5.0) == ""


def test_the_rate_stands_on_the_step_screen_while_something_falls(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    desks.play_on(guide, clock, until=lambda g: g.state.act is not None and g.state.act.key == "dose")
    while guide.on_page:
        guide.take(keys.Acknowledged(guide.digit))
    for _ in range(12):
        clock.time.pass_(0.25)
        guide.poll()
    guide.take(keys.Chosen(1))
    for _ in range(4):
        clock.time.pass_(0.25)
        guide.poll()
    live = guide.view().live
    assert live is not None
    assert "mg/s" in live.rate
