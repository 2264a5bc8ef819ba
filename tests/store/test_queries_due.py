from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from store import events as ev
from store.queries import due, unusable
from store.queries.due import Due
from tests.store.asked_story import Story, begin


@pytest.fixture
def told(tmp_path: Path) -> Iterator[Story]:
    story = begin(tmp_path)
    yield story
    story.record.close()


def of(told: Story, what: str, *, within_days: int = 14) -> list[Due]:
    return [d for d in due.of(told.record, within_days=within_days) if d.what == what]


def test_a_balance_that_was_never_checked_is_due(told: Story) -> None:
    (check,) = of(told, "check")
    assert (check.id, check.day, check.days, check.why) == ("B-2", "", None, "never checked")


def test_a_check_holds_for_its_hours_and_not_a_minute_longer(told: Story) -> None:
    told.check(told.plan())
    told.clock.at += timedelta(hours=23, minutes=59)
    assert of(told, "check") == []
    told.clock.at += timedelta(minutes=2)
    (check,) = of(told, "check")
    assert (check.day, check.days) == ("2026-03-03", 0)


def test_a_check_out_of_its_limit_holds_for_no_time(told: Story) -> None:
    prep = told.plan()
    told.check(prep)
    told.check(prep, within=False)
    (check,) = of(told, "check")
    assert "out of its limit" in check.why
    told.check(prep)
    assert of(told, "check") == []


@pytest.mark.parametrize(("day", "found"), [("2026-05-17", 0), ("2026-05-18", 1)])
def test_an_enclosure_test_is_named_within_the_days_asked(told: Story, day: str, found: int) -> None:
    told.clock.set(day)
    tests = of(told, "leak or air flow test", within_days=14)
    assert len(tests) == found
    assert all(t.days == 14 and t.day == "2026-06-01" for t in tests)


def test_what_is_overdue_counts_days_below_zero(told: Story) -> None:
    told.clock.set("2026-09-03")
    (calibration,) = of(told, "calibration")
    assert (calibration.id, calibration.days) == ("B-2", -2)


def test_a_clock_that_stands_back_makes_nothing_less_due(told: Story) -> None:
    told.clock.set("2026-09-03")
    told.plan()
    told.clock.set("2026-01-01")
    (calibration,) = of(told, "calibration")
    assert calibration.days == -2


def test_lots_expire_and_blocked_ones_no_longer_matter(told: Story) -> None:
    lot = {"id": "KD-3", "substance": "K2CR2O7", "expiry": "2026-03-04", "retest": "2026-03-03"}
    told.row("lot", lot)
    assert [(d.what, d.id, d.days) for d in due.expiring(told.record, within_days=2)] == [
        ("retest", "KD-3", 1),
        ("expiry", "KD-3", 2),
    ]
    assert [d.what for d in due.expiring(told.record, within_days=1)] == ["retest"]
    told.row("lot", {**lot, "status": "blocked"})
    assert due.expiring(told.record, within_days=2) == ()


def test_a_container_open_for_long_is_named_before_its_last_day(told: Story) -> None:
    told.weigh(told.plan())
    told.clock.set("2026-03-31")
    (end,) = of(told, "end of use once opened", within_days=1)
    assert (end.register, end.id, end.day, end.days) == ("container", "KD-2-1", "2026-04-01", 1)
    assert of(told, "end of use once opened", within_days=0) == []


def test_a_handling_owes_its_note_until_it_is_written(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep)
    (owed,) = due.owed(told.record)
    assert (owed.id, owed.person, owed.why) == (prep, "op-1", "weigh_solid")
    told.note(prep, opening)
    assert due.owed(told.record) == ()


def test_a_handling_that_never_happened_owes_nothing(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep)
    told.put(ev.NeverHappened(prep=prep, entry=opening, second="op-2", reason="other prep"))
    assert due.owed(told.record) == ()


def test_the_bench_shows_ones_own_debt_first_and_everything_else(told: Story) -> None:
    first = told.plan(by="op-2")
    told.weigh(first, by="op-2")
    second = told.plan()
    told.weigh(second)
    told.whole()
    told.row("lot", {"id": "KD-3", "substance": "K2CR2O7", "expiry": "2026-03-04"})
    bench = due.bench(told.record, "op-1")
    assert [d.id for d in bench.owed] == [second, first]
    assert [d.id for d in due.bench(told.record, "op-2").owed] == [first, second]
    assert [p.prep for p in bench.open] == [second, first]
    assert [d.id for d in bench.expiring] == ["KD-3"]
    assert bench.reviews == 1


def test_open_preps_and_reviews_are_named(told: Story) -> None:
    done, _ = told.whole()
    under_way = told.plan()
    found = {d.group: d for d in due.of(told.record) if d.register == "prep"}
    assert (found["review"].id, found["review"].day) == (done, "2026-03-02")
    assert (found["open"].id, found["open"].what) == (under_way, "step 1 of 4")


def test_a_sheet_without_a_date_or_over_three_years_old_is_named_but_not_for_what_is_not_classified(
    told: Story,
) -> None:
    sheets = due.sheets(told.record)
    assert [(d.id, d.day) for d in sheets] == [("NAN3", "2021-01-15")]
    told.row("substance", {"id": "X", "name": "unknown"})
    assert next((d.id, d.why) for d in due.sheets(told.record)) == ("X", "no date")


@pytest.mark.parametrize(("day", "found"), [("2028-05-31", False), ("2028-06-02", True)])
def test_a_sheet_is_old_after_three_years(told: Story, day: str, found: bool) -> None:
    told.clock.set(day)
    assert ("K2CR2O7" in [d.id for d in due.sheets(told.record)]) is found


def test_retired_rows_are_due_for_nothing(told: Story) -> None:
    for register, id in (("balance", "B-2"), ("enclosure", "E-1")):
        event = ev.Retired(register=register, id=id, reason="gone")
        told.record.append(event, person="k-1", subject=f"{register}:{id}")
    told.clock.set("2027-01-01")
    assert due.checks(told.record, within_days=14) == ()


def test_the_bench_forgets_solutions_that_expired_long_ago_and_the_shell_does_not(told: Story) -> None:
    old = {"id": "OLD", "substance": "K2CR2O7", "expiry": "2025-11-01", "concentration": "1.000 mg/g"}
    told.row("lot", old)
    told.row("lot", {"id": "LATE", "substance": "K2CR2O7", "expiry": "2026-02-20"})
    told.clock.set("2026-03-02")
    assert {"OLD", "LATE"} <= {d.id for d in due.of(told.record)}
    named = {d.id for d in due.bench(told.record, "op-1").expiring}
    assert "LATE" in named
    assert "OLD" not in named


def test_what_was_bought_stands_on_the_bench_first_however_long_it_is_past(told: Story) -> None:
    told.row("lot", {"id": "HG", "substance": "K2CR2O7", "expiry": "2025-01-31"})
    told.row("lot", {"id": "LATE", "substance": "K2CR2O7", "expiry": "2026-02-20"})
    told.clock.set("2026-03-02")
    (first, *_) = due.bench(told.record, "op-1").expiring
    assert (first.id, first.days) == ("HG", -395)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"expiry": "2026-03-01"}, ("EXPIRED on 2026-03-01",)),
        ({"expiry": "2026-03-02"}, ()),
        ({"retest": "2026-03-01"}, ("RETEST WAS DUE on 2026-03-01",)),
        ({"status": "quarantine"}, ("QUARANTINE",)),
        ({"status": "recalled"}, ("RECALLED",)),
    ],
)
def test_what_stands_against_a_container_is_said_from_the_day_after(
    told: Story, row: dict[str, str], said: tuple[str, ...]
) -> None:
    told.clock.set("2026-03-02")
    told.row("lot", {"id": "KD-9", "substance": "K2CR2O7", **row})
    told.row("container", {"id": "C-9", "lot": "KD-9"})
    assert unusable.of(told.record, "C-9") == said
