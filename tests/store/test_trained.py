"""Who may do a step: training, fit test and clearance hold to their last day and not a day longer."""

from datetime import date, timedelta
from typing import Any

import pytest

from store.actions import people, planning
from store.actions.acting import LetThrough
from store.actions.registers import register
from store.errors import BadField, NotAllowed, NotFound, PinRefused, Refused
from store.model.registers import Person
from store.procedure import trained
from store.queries import due, registers, row_history
from store.record import people as pins
from store.record.record import Record
from tests import site

DAY = date(2026, 3, 2)
FAMILIES = ("CMR_1", "RESP_SENS")


def against(step: str = "", *, steps_count: bool = False, **fields: Any) -> list[str]:
    who = Person(id="op-7", name="A. B.", **fields)
    return list(
        trained.against(
            who, substance="K2CR2O7", families=FAMILIES, step=step, steps_count=steps_count, today=DAY
        )
    )


def test_training_for_the_substance_or_for_each_of_its_families_is_enough() -> None:
    assert against(trained_for=("K2CR2O7",)) == []
    assert against(trained_for=("all",)) == []
    assert against(training=("K2CR2O7: 2026-03-02 to 2026-03-02",)) == []
    both = tuple(f"{f}: 2025-01-01 to 2027-01-01" for f in FAMILIES)
    assert against(training=both) == []
    assert against(training=both[:1]) == ["op-7 is not trained for K2CR2O7"]
    assert against() == ["op-7 is not trained for K2CR2O7"]


def test_training_holds_on_its_first_and_last_day_and_on_none_outside() -> None:
    assert against(training=("all: 2026-03-02 to 2027-03-01",)) == []
    assert against(training=("all: 2026-03-03 to 2027-03-01",)) == [
        "the training of op-7 for K2CR2O7 begins on 2026-03-03"
    ]
    assert against(training=("all: 2025-03-02 to 2026-03-02",)) == []
    assert against(training=("all: 2025-03-02 to 2026-03-01",)) == [
        "the training of op-7 for K2CR2O7 held until 2026-03-01"
    ]
    assert against(trained_for=("all",), trained_until="2026-03-02") == []
    assert against(trained_for=("all",), trained_until="2026-03-01") == [
        "the training of op-7 for K2CR2O7 held until 2026-03-01"
    ]


def test_a_newer_training_stands_for_a_lapsed_one() -> None:
    assert against(training=("all: 2024-01-01 to 2025-01-01", "K2CR2O7: 2026-01-01 to 2027-01-01")) == []


def test_training_in_a_step_counts_where_the_site_asks_for_it_or_it_lapsed() -> None:
    known = ("K2CR2O7: 2025-01-01 to 2027-01-01",)
    assert against("weigh_solid", training=known) == []
    assert against("weigh_solid", steps_count=True, training=known) == ["op-7 is not trained for weigh_solid"]
    live = (*known, "weigh_solid: 2026-01-01 to 2026-03-02")
    assert against("weigh_solid", steps_count=True, training=live) == []
    lapsed = (*known, "weigh_solid: 2025-01-01 to 2026-03-01")
    assert against("weigh_solid", training=lapsed) == [
        "the training of op-7 for weigh_solid held until 2026-03-01"
    ]


@pytest.mark.parametrize(("field", "word"), [("fit_until", "fit test"), ("cleared_until", "cleared")])
def test_a_fit_test_and_a_clearance_hold_to_their_last_day(field: str, word: str) -> None:
    held: dict[str, Any] = {field: "2026-03-02"}
    lapsed: dict[str, Any] = {field: "2026-03-01"}
    assert against(trained_for=("all",), **held) == []
    (said,) = against(trained_for=("all",), **lapsed)
    assert word in said
    assert said.endswith("until 2026-03-01")


# ---- who is not here ----


def test_who_left_signs_in_on_the_last_day_and_not_after_it(record: Record, clock: site.TestClock) -> None:
    row = dict(registers.row(record, "person", "op-1").row)
    site.put(record, "person", row | {"left": "2026-03-02"})
    assert people.sign_in(record, "op-1", "1111").person == "op-1"
    clock.time.pass_(timedelta(days=1).total_seconds())
    with pytest.raises(PinRefused):
        people.sign_in(record, "op-1", "1111")
    with pytest.raises(NotFound, match="has left"):
        registers.person(record, "op-1")
    assert "op-1" not in registers.people_here(record)
    assert registers.row(record, "person", "op-1").row["name"] == "A. B."


def test_who_joins_tomorrow_does_not_sign_in_today(record: Record, clock: site.TestClock) -> None:
    row = dict(registers.row(record, "person", "op-1").row)
    site.put(record, "person", row | {"joined": "2026-03-03"})
    with pytest.raises(PinRefused):
        people.sign_in(record, "op-1", "1111")
    clock.time.pass_(timedelta(days=1).total_seconds())
    assert people.sign_in(record, "op-1", "1111").person == "op-1"


def test_an_id_stands_for_one_person_for_ever(record: Record) -> None:
    keeper = people.sign_in(record, "ke-1", site.PINS["ke-1"])
    register(
        keeper,
        "person",
        {"id": "op-2", "name": "C. D.", "roles": "operator", "trained_for": "all", "left": "2026-01-31"},
        "left",
    )
    with pytest.raises(BadField, match="has left"):
        register(keeper, "person", {"id": "op-2", "name": "X. Y.", "roles": "operator"}, "new colleague")


def test_keypad_digits_belong_to_one_person_and_are_not_the_spill_card(record: Record) -> None:
    keeper = people.sign_in(record, "ke-1", site.PINS["ke-1"])
    row = {"id": "op-8", "name": "N. N.", "roles": "operator"}
    register(keeper, "person", row | {"number": "8"})
    for wrong in ("9", "x", "8"):
        with pytest.raises(BadField) as refused:
            register(keeper, "person", row | {"id": "op-9", "number": wrong})
        assert refused.value.field == "number"


# ---- what nobody lets through ----


def test_what_the_site_lets_nobody_let_through_is_refused_with_a_second_person_too(record: Record) -> None:
    row = dict(registers.row(record, "person", "op-1").row)
    site.put(record, "person", row | {"trained_for": []})
    acting = site.acting(record)
    second = LetThrough("so-1", "checked", ("op-1 is not trained for K2CR2O7",))
    assert planning.write(acting, site.PLAN, let_through=second)
    site.put(record, "setting", {"id": "never_let_through", "value": "mass, person"})
    with pytest.raises(Refused, match="not trained"):
        planning.write(acting, site.PLAN, let_through=second)


def test_a_setting_of_words_takes_only_its_own(record: Record) -> None:
    keeper = people.sign_in(record, "ke-1", site.PINS["ke-1"])
    register(keeper, "setting", {"id": "never_let_through", "value": "lot, place"})
    with pytest.raises(BadField, match="luck"):
        register(keeper, "setting", {"id": "never_let_through", "value": "lot, luck"}, "why not")


def test_a_local_rule_with_another_text_needs_a_later_day(record: Record) -> None:
    keeper = people.sign_in(record, "ke-1", site.PINS["ke-1"])
    register(keeper, "rule", {"id": "7", "text": "Two persons.", "since": "2026-03-01"})
    with pytest.raises(BadField) as refused:
        register(keeper, "rule", {"id": "7", "text": "Three persons.", "since": "2026-03-01"}, "safer")
    assert refused.value.field == "since"
    register(keeper, "rule", {"id": "7", "text": "Three persons.", "since": "2026-03-02"}, "safer")
    (change,) = (c for c in row_history.history(record, "rule", "7") if c.differs)
    assert set(change.differs) == {
        ("text", "Two persons.", "Three persons."),
        ("since", "2026-03-01", "2026-03-02"),
    }
    assert (change.reason, change.by) == ("safer", "ke-1")


def test_who_holds_no_role_for_it_sets_no_pin_of_another(record: Record) -> None:
    with pytest.raises(NotAllowed):
        people.set_pin(site.acting(record), "op-2", "5555")
    assert pins.waits_s(record, "op-2") == 0


@pytest.mark.parametrize(("within", "said"), [(9, []), (10, ["fit test", "training for all"])])
def test_training_and_fit_tests_are_due_before_they_lapse_and_a_clearance_is_nobody_else_s(
    record: Record, within: int, said: list[str]
) -> None:
    row = dict(registers.row(record, "person", "op-1").row)
    days = {"fit_test": "size 8", "fit_until": "2026-03-12", "cleared_until": "2026-03-03"}
    old_and_new = ["all: 2024-01-01 to 2025-01-01", "all: 2025-01-01 to 2026-03-12"]
    site.put(record, "person", row | days | {"training": old_and_new})
    found = [d.what for d in due.checks(record, within_days=within) if d.register == "person"]
    assert sorted(found) == said
