"""The health of a balance: weighings, checks and adjustments as facts, and what they stop or allow."""

import pytest

from store import events as ev
from store.actions import balances as verbs
from store.actions import planning
from store.actions.acting import second_person
from store.errors import BadInput, NeedsSecondPerson, NotAllowed, OutOfRange, Refused
from store.procedure.balance_checks import CheckState, by_load, calibration_u_mg
from store.queries import balances, due, registers
from store.record.record import Record
from tests import site
from tests.tui import desks

TEN = tuple(f"{100.0 + 0.01 * (n % 3):.2f}" for n in range(10))
"""s = 0.0087560 mg, as a spreadsheet gives it."""


def _row(record: Record) -> dict[str, object]:
    return registers.body(record, "balance", "B-1")


def _standing(record: Record) -> CheckState:
    return balances.check_standing(record, _row(record)).state


def _check(record: Record, shown: str = "20000.02", zero: str = "0.00") -> bool:
    return verbs.check(site.acting(record), "B-1", zero=zero, shown=shown)


# ---- ten weighings ----


def test_ten_weighings_make_a_repeatability_and_nine_are_refused(record: Record) -> None:
    acting = site.acting(record)
    head = record.head().entry
    with pytest.raises(OutOfRange, match="9 weighings are too few"):
        verbs.measure(acting, "B-1", weighings=TEN[:9], load="12.03 g")
    assert record.head().entry == head
    verbs.measure(acting, "B-1", weighings=TEN, load="12.03 g")
    (found,) = balances.measured(record, "B-1")
    assert found.sd_mg == pytest.approx(0.0087560, abs=5e-8)
    assert (found.enclosure, found.load, found.weighings[1]) == ("E-1", "12.03 g", "100.01 mg")
    # USP <41>: 2000 · s, s over 0.41 d = 0.0041 mg.
    assert found.minimum_mg == pytest.approx(2000 * 0.0087560, rel=1e-5)


@pytest.mark.parametrize(
    ("weighings", "says"),
    [
        ((*TEN[:9], "100.1"), "Weighing 10: .*2 decimals"),
        ((*TEN[:9], "nan"), "Weighing 10"),
        ((*TEN[:9], "9000.00"), "over 1000 steps"),
        (("79995.00",) * 10, "over the capacity of 80 g"),
    ],
)
def test_weighings_that_cannot_be_are_refused_and_nothing_is_written(
    record: Record, weighings: tuple[str, ...], says: str
) -> None:
    acting = site.acting(record)
    head = record.head().entry
    with pytest.raises(BadInput, match=says):
        verbs.measure(acting, "B-1", weighings=weighings, load="12.03 g")
    assert record.head().entry == head


def test_planning_takes_s_from_the_newest_weighings_and_the_minimum_weight_with_it(record: Record) -> None:
    acting = site.acting(record)
    before = float(planning.explain(acting, site.PLAN).aims["minimum_mg"])
    verbs.measure(acting, "B-1", weighings=TEN, load="12.03 g")
    found = planning.explain(acting, site.PLAN)
    assert before == pytest.approx(2000 * 0.0045)
    assert float(found.aims["minimum_mg"]) == pytest.approx(2000 * 0.0087560, rel=1e-4)
    assert found.basis["balance"]["repeatability_n"] == "10"


def test_a_newer_date_in_the_register_or_another_place_wins_over_old_weighings(record: Record) -> None:
    verbs.measure(site.acting(record), "B-1", weighings=TEN, load="12.03 g")
    day = balances.measured(record, "B-1")[0].day
    row = _row(record)
    same = balances.in_force(record, {**row, "repeatability_on": day})
    later = balances.in_force(record, {**row, "repeatability_on": "2026-12-31"})
    moved = balances.in_force(record, {**row, "enclosure": "E-9"})
    assert same["repeatability"] == "0.008756 mg"
    assert later["repeatability"] == moved["repeatability"] == "0.0045 mg"


def test_weighings_with_another_load_are_said_in_the_plan(record: Record) -> None:
    acting = site.acting(record)
    verbs.measure(acting, "B-1", weighings=TEN, load="50 g")
    said = [f for f in planning.explain(acting, site.PLAN).findings if "50 g on the pan" in f.what]
    assert [f.stop for f in said] == [False]
    verbs.measure(acting, "B-1", weighings=TEN, load="12 g")
    assert not any("on the pan" in f.what for f in planning.explain(acting, site.PLAN).findings)


# ---- the daily check ----


@pytest.mark.parametrize(("shown", "passes"), [("20000.10", True), ("20000.11", False)])
def test_a_check_is_within_up_to_its_limit(record: Record, shown: str, passes: bool) -> None:
    assert _check(record, shown) is passes
    assert _standing(record) == (CheckState.STANDS if passes else CheckState.FAILED)
    assert balances.checks(record, "B-1")[0].within is passes


def test_a_check_on_a_pan_that_is_not_empty_is_not_written(record: Record) -> None:
    head = record.head().entry
    with pytest.raises(BadInput, match="empty pan shows"):
        _check(record, zero="0.05")
    assert record.head().entry == head + 1  # signed in


def test_a_check_weight_that_decides_nothing_is_refused(record: Record) -> None:
    site.put(record, "balance", {**_row(record), "check_u": "0.04 mg"})
    with pytest.raises(Refused, match="decides nothing"):
        _check(record)
    site.put(record, "balance", {**_row(record), "check_u": "0.033 mg"})
    assert _check(record)


def test_a_reviewer_may_not_check_a_balance(record: Record) -> None:
    with pytest.raises(NotAllowed):
        verbs.check(site.acting(record, "re-1"), "B-1", zero="0.00", shown="20000.00")


def test_a_check_holds_for_its_hours_and_no_longer(record: Record, clock: site.TestClock) -> None:
    assert _standing(record) == CheckState.NEVER
    _check(record)
    clock.time.pass_(24 * 3600 - 1)
    assert _standing(record) == CheckState.STANDS
    clock.time.pass_(2)
    assert _standing(record) == CheckState.OVERDUE


def test_an_adjustment_ends_a_check_and_a_new_one_stands(record: Record) -> None:
    _check(record)
    verbs.adjusted(site.acting(record), "B-1", how="internal weight")
    assert _standing(record) == CheckState.ADJUSTED
    assert "adjusted since" in next(d.why for d in due.checks(record, within_days=1) if d.id == "B-1")
    _check(record)
    assert _standing(record) == CheckState.STANDS


# ---- what it stops ----


def test_a_plan_on_a_balance_that_failed_needs_a_second_person(record: Record) -> None:
    _check(record, "20000.50")
    with pytest.raises(NeedsSecondPerson, match="failed its check"):
        site.planned(record)
    _check(record)
    site.planned(record)


def _at_the_opening(record: Record, clock: site.TestClock) -> str:
    return desks.play(
        record, clock, until=lambda g: g.state.act is not None and g.state.act.key == "open" and not g.on_page
    )


@pytest.mark.parametrize("how", ["failed its check", "overdue"])
def test_a_failed_or_overdue_check_stops_the_opening_until_it_is_checked_again(
    record: Record, clock: site.TestClock, how: str
) -> None:
    from store.actions import cautions, steps

    prep = _at_the_opening(record, clock)
    if how == "overdue":
        clock.time.pass_(25 * 3600)
    else:
        _check(record, "20000.50")
    acting = site.acting(record)
    cautions.acknowledge(acting, prep, seen=record.prep_state(prep).last_entry, screens=1)
    seen = record.prep_state(prep).last_entry
    with pytest.raises(NeedsSecondPerson, match=how):
        steps.open_up(acting, prep, seen=seen)
    assert not record.prep_state(prep).open_handlings
    _check(record)
    steps.open_up(acting, prep, seen=record.prep_state(prep).last_entry)
    assert record.prep_state(prep).open_handlings


def test_a_check_that_fails_while_something_is_open_stops_the_dose_and_a_second_person_may_let_it_through(
    record: Record, clock: site.TestClock
) -> None:
    from store.actions import weighing

    prep = desks.play(record, clock, until=lambda g: bool(g.state.open_handlings))
    acting = site.acting(record)
    _check(record, "20000.50")
    state = record.prep_state(prep)
    from store.actions import cautions

    if cautions.before(record, state, "op-1").standing.name == "PAGE":
        cautions.acknowledge(acting, prep, seen=state.last_entry, screens=1)
    with pytest.raises(NeedsSecondPerson, match="failed its check") as stopped:
        weighing.dose(acting, prep, seen=record.prep_state(prep).last_entry, text="10.00")
    decision = second_person(
        acting, second="op-2", pin=site.PINS["op-2"], reason="weight was warm", what=stopped.value.what
    )
    weighing.dose(acting, prep, seen=record.prep_state(prep).last_entry, text="10.00", let_through=decision)
    assert record.prep_state(prep).total_mg("solid") == 10.0


def test_a_check_that_becomes_overdue_while_something_is_open_does_not_refuse_the_dose(
    record: Record, clock: site.TestClock
) -> None:
    prep = desks.play(record, clock, until=lambda g: bool(g.state.open_handlings))
    clock.time.pass_(30 * 3600)
    state = record.prep_state(prep)
    from datetime import datetime

    opened = datetime.fromisoformat(state.open_handlings[-1].at)
    assert verbs.stops_weighing(record, state, at=opened) == ()
    assert "overdue" in verbs.stops_weighing(record, state)[0]


# ---- the chart and the certificate ----


def test_the_chart_names_nelsons_rule_and_begins_anew_after_an_adjustment(
    record: Record, clock: site.TestClock
) -> None:
    for n in range(6):  # six points steadily up: rule 3
        _check(record, f"20000.{n:02d}")
        clock.time.pass_(60)
    found = balances.health(record, "B-1")
    assert found.chart is not None
    assert [(s.rule, s.at) for s in found.chart.signals] == [(3, 6)]
    assert found.chart.mean == pytest.approx(0.025)
    verbs.adjusted(site.acting(record), "B-1", how="external weight", air="1.199 kg/m3")
    _check(record)
    again = balances.health(record, "B-1")
    assert (again.chart, len(again.charted)) == (None, 1)
    assert again.row["adjustment_air"] == "1.199 kg/m3"


def test_a_certificate_is_read_straight_between_its_loads_and_says_nothing_beyond() -> None:
    lines = ["1 g: 0.02 mg", "21 g: 0.06 mg"]
    assert calibration_u_mg(lines, 11_000.0) == pytest.approx(0.04)
    assert calibration_u_mg(lines, 21_000.0) == 0.06
    assert calibration_u_mg(lines, 21_001.0) is None
    assert calibration_u_mg([], 1.0) is None


@pytest.mark.parametrize("text", ["20 g", "20 g: 0 mg", "x: 1 mg", "20 g: 30 g", "20: 0.1 mg", "20 g 0.1 mg"])
def test_a_line_that_is_no_load_with_an_uncertainty_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="a load, a colon"):
        by_load(text)


def test_the_kinds_of_these_events_never_change() -> None:
    old = {
        "balance": "B-1", "enclosure": "E-1", "load": "12 g", "weighings": ["100.00 mg"] * 10, "sd_mg": "0",
        "readability_mg": "0.01", "minimum_mg": "8.2", "settings": {}, "source": "typed",
    }  # fmt: skip
    assert ev.load("repeatability_measured", 1, old).to_body() == old
    how = {"balance": "B-1", "how": "internal weight", "air_kg_m3": "", "note": ""}
    assert ev.load("adjusted", 1, how).to_body() == how
