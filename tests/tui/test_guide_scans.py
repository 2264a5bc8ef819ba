"""A scanned label at the comparison and at any other act, by the registers as they stand now."""

import pytest

from store.actions import lot_status, people, planning
from store.actions.acting import LetThrough
from store.errors import NeedsSecondPerson
from store.record.record import Record
from tests import site
from tests.tui.walking import at_compare, change, walk
from tui.guide import keys


def test_the_label_of_the_plan_s_container_answers_the_comparison(
    record: Record, clock: site.TestClock
) -> None:
    guide = at_compare(record, clock)
    guide.take(keys.Scanned("C-1"))
    assert guide.state.answers["0/compare"] == "scanned C-1"
    assert guide.state.act is not None
    assert guide.state.act.key == "pressure"


@pytest.mark.parametrize(
    ("label", "says"),
    [
        ("WB-1", "WB-1 is water, lot W-3: the solvent of this plan"),
        ("C-9", "Wrong container: C-9 is potassium dichromate, lot KD-8, blocked"),
        ("C-77", "is no container of the register"),
        ("c-1", "is no container of the register"),
    ],
)
def test_a_wrong_label_is_refused_with_what_it_was(
    record: Record, clock: site.TestClock, label: str, says: str
) -> None:
    site.put(record, "lot", {"id": "KD-8", "substance": "K2CR2O7", "status": "blocked", "status_reason": "x"})
    site.put(record, "container", {"id": "C-9", "lot": "KD-8"})
    guide = at_compare(record, clock)
    before = record.head()
    guide.take(keys.Scanned(label))
    assert says in guide.said
    assert record.head() == before
    assert guide.state.act is not None
    assert guide.state.act.key == "compare"


@pytest.mark.parametrize("intent", [keys.Scanned("C-1"), keys.Chosen(1)])
def test_a_lot_that_was_blocked_after_the_plan_is_refused_at_the_scan(
    record: Record, clock: site.TestClock, intent: keys.Intent
) -> None:
    guide = at_compare(record, clock)
    lot_status.set_status(people.sign_in(record, "so-1", "3333"), "KD-2", "blocked", "seal broken")
    guide.take(intent)
    assert "0/compare" not in guide.state.answers
    assert "lot KD-2 is in status blocked (seal broken)" in guide.view().body[1]
    guide.take(keys.Chosen(guide.asks[-1].choices.index("so-1") + 1))
    guide.take(keys.Typed("3333"))
    guide.take(keys.Chosen(1))
    assert "0/compare" in guide.state.answers
    assert guide.state.let_through[-1]["second"] == "so-1"


@pytest.mark.parametrize(("due", "stops"), [("2026-03-02", False), ("2026-03-01", True)])
def test_an_enclosure_overdue_since_the_plan_stops_what_is_brought_in(
    record: Record, clock: site.TestClock, due: str, stops: bool
) -> None:
    guide = at_compare(record, clock)
    change(record, "enclosure", "E-1", test_due=due)
    guide.take(keys.Chosen(1))
    assert bool(guide.asks) == stops
    assert ("0/compare" in guide.state.answers) != stops


def test_what_was_let_through_at_the_plan_is_not_asked_again(record: Record, clock: site.TestClock) -> None:
    change(record, "lot", "KD-2", expiry="2026-03-01")
    acting = site.acting(record)
    with pytest.raises(NeedsSecondPerson) as refused:
        planning.write(acting, site.PLAN)
    second = LetThrough("so-1", "retested", refused.value.what)
    guide = site.guide(record, planning.write(acting, site.PLAN, let_through=second), clock)
    walk(guide, clock, "compare")
    guide.take(keys.Chosen(1))
    assert not guide.asks
    assert "0/compare" in guide.state.answers


@pytest.mark.parametrize("by_number", [False, True])
@pytest.mark.parametrize(
    ("label", "says", "right"),
    [
        ("V-17", "Right: V-17 is a vessel, vial 20 mL", True),
        ("C-1", "Right: C-1 is potassium dichromate, lot KD-2", True),
        ("KD-2", "Right lot: KD-2 is a lot of potassium dichromate; the container of this step is C-1", True),
        ("V-18", "Wrong label: V-18 is a vessel, vial 50 mL. This step names C-1 and V-17", False),
        ("WB-1", "Wrong label: WB-1 is water, lot W-3", False),
        ("W-3", "Wrong label: W-3 is a lot of water", False),
    ],
)
def test_a_label_scanned_at_any_act_is_told_for_what_it_is_and_does_nothing(
    record: Record, clock: site.TestClock, label: str, says: str, right: bool, by_number: bool
) -> None:
    """At the opening a scanned line comes by itself; where a reading is asked for, it comes as one."""
    site.put(record, "vessel", {"id": "V-18", "name": "vial 50 mL", "capacity": "50 mL"})
    guide = site.guide(record, site.planned(record), clock)
    walk(guide, clock, "dose" if by_number else "open", "weigh_solid")
    before = record.head()
    guide.take(keys.Typed(label) if by_number else keys.Scanned(label))
    assert says in guide.said
    assert guide.refused != right
    assert record.head() == before
    assert guide.typed_reading == ""


@pytest.mark.parametrize(
    ("label", "says"),
    [("KD-2", "KD-2 is a lot of potassium dichromate"), ("V-17", "V-17 is a vessel, vial 20 mL")],
)
def test_at_the_comparison_a_lot_or_a_vessel_does_not_stand_for_the_container(
    record: Record, clock: site.TestClock, label: str, says: str
) -> None:
    guide = at_compare(record, clock)
    before = record.head()
    guide.take(keys.Scanned(label))
    assert guide.said == f"{says}: scan the label of container C-1."
    assert record.head() == before


def test_a_wedge_at_the_screen_s_keys_selects_the_container_by_its_label_alone(
    record: Record, clock: site.TestClock
) -> None:
    guide = at_compare(record, clock)
    machine = keys.KeyMachine()
    machine.expect(guide.expect())
    for n, key in enumerate((*"C-1", "enter")):
        for intent in machine.feed(key, 10.0 + n / 500):
            guide.take(intent)
    assert guide.state.answers["0/compare"] == "scanned C-1"
