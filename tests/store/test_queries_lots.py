from collections.abc import Iterator
from pathlib import Path

import pytest

from store import events as ev
from store.errors import NotFound
from store.queries import lots
from store.queries.page import page as page_of
from tests.store.asked_story import Story, begin


@pytest.fixture
def told(tmp_path: Path) -> Iterator[Story]:
    story = begin(tmp_path)
    yield story
    story.record.close()


def test_what_is_left_is_the_content_less_every_dose(told: Story) -> None:
    told.whole(mg="10.13")
    told.whole(mg="20.00")
    stock = lots.stock(told.record, "KD-2-1")
    assert (stock.content_mg, stock.substance, stock.lot) == (1000.0, "K2CR2O7", "KD-2")
    assert stock.used_mg == pytest.approx(30.13)
    assert stock.left_mg == pytest.approx(969.87)
    assert stock.times_opened == 2


def test_a_discarded_dose_does_not_come_back_into_the_bottle_and_one_that_never_happened_does(
    told: Story,
) -> None:
    prep = told.plan()
    _, dose = told.weigh(prep, "12.50")
    told.put(ev.Discarded(prep=prep, entry=dose, reason="spilt"))
    assert lots.stock(told.record, "KD-2-1").used_mg == 12.5
    other = told.plan()
    opening, dose = told.weigh(other, "7.00")
    told.put(ev.NeverHappened(prep=other, entry=dose, second="op-2", reason="typed twice"))
    assert lots.stock(told.record, "KD-2-1").used_mg == 12.5
    assert lots.stock(told.record, "KD-2-1").times_opened == 2
    told.put(ev.NeverHappened(prep=other, entry=opening, second="op-2", reason="typed twice"))
    assert lots.stock(told.record, "KD-2-1").times_opened == 1


def test_a_rehearsal_takes_nothing_and_opens_nothing(told: Story) -> None:
    told.whole(rehearsal=True)
    stock = lots.stock(told.record, "KD-2-1")
    assert (stock.used_mg, stock.times_opened, stock.opened_on) == (0.0, 0, "")
    assert lots.first_opened(told.record, "KD-2-1") == ""
    assert lots.trace(told.record, "KD-2").down == ()


def test_a_content_that_is_not_known_leaves_an_unknown_rest_not_zero(told: Story) -> None:
    for content in ("", "a spoonful", "5 mL"):
        told.row("container", {"id": "KD-2-2", "lot": "KD-2", "content": content})
        assert lots.stock(told.record, "KD-2-2").left_mg is None


def test_the_day_of_first_opening_starts_the_time_of_use_and_the_register_may_know_an_earlier_one(
    told: Story,
) -> None:
    told.clock.set("2026-03-06", hour=0)  # still the 5th in UTC
    told.weigh(told.plan())
    assert lots.first_opened(told.record, "KD-2-1") == "2026-03-06"
    assert lots.stock(told.record, "KD-2-1").in_use_until == "2026-04-05"
    assert lots.stock(told.record, "KD-2-1").last_day == "2026-04-05"
    told.row(
        "container",
        {"id": "KD-2-1", "lot": "KD-2", "content": "1 g", "in_use_days": "30", "opened_on": "2026-01-01"},
    )
    assert lots.stock(told.record, "KD-2-1").in_use_until == "2026-01-31"


def test_the_last_day_is_the_earlier_of_expiry_and_time_of_use(told: Story) -> None:
    told.weigh(told.plan())
    told.row("lot", {"id": "KD-2", "substance": "K2CR2O7", "expiry": "2026-03-10"})
    assert lots.stock(told.record, "KD-2-1").last_day == "2026-03-10"
    assert lots.stock(told.record, "W-1-1").last_day == ""


def test_every_live_container_of_a_lot_is_counted(told: Story) -> None:
    told.row("container", {"id": "KD-2-2", "lot": "KD-2", "content": "5 g"})
    told.row("container", {"id": "KD-2-3", "lot": "KD-2", "content": "5 g"})
    told.record.append(
        ev.Retired(register="container", id="KD-2-3", reason="broken"),
        person="k-1",
        subject="container:KD-2-3",
    )
    assert [s.container for s in lots.stock_of_lot(told.record, "KD-2")] == ["KD-2-1", "KD-2-2"]


def test_a_container_that_is_not_there_is_named_with_the_nearest(told: Story) -> None:
    with pytest.raises(NotFound, match="KD-2-1"):
        lots.stock(told.record, "KD-2-11")


def test_a_lot_is_traced_up_and_down_to_any_depth_with_the_masses(told: Story) -> None:
    first, one = told.whole(mg="10.00", solvent_mg="9990.00")
    second, two = told.whole(lot=one, content="aliquot", mg="500.00", solvent_mg="9500.00")
    third, three = told.whole(lot=two, content="aliquot", mg="250.00", solvent_mg="9750.00")

    up = lots.trace(told.record, three).up
    assert [(u.depth, u.parent, u.child, u.prep, u.content, u.net_mg) for u in up] == [
        (1, two, three, third, "aliquot", 250.0),
        (1, "W-1", three, third, "solvent", 9750.0),
        (2, one, two, second, "aliquot", 500.0),
        (2, "W-1", two, second, "solvent", 9500.0),
        (3, "KD-2", one, first, "solid", 10.0),
        (3, "W-1", one, first, "solvent", 9990.0),
    ]
    down = lots.trace(told.record, "KD-2").down
    assert [(d.depth, d.parent, d.child, d.net_mg) for d in down] == [
        (1, "KD-2", one, 10.0),
        (2, one, two, 500.0),
        (3, two, three, 250.0),
    ]
    middle = lots.trace(told.record, two)
    assert (middle.made_by, middle.concentration) == (second, "1.0003 mg/g")
    assert [d.child for d in middle.down] == [three]
    assert down[0].expiry == "2026-04-01"


def test_a_prep_that_made_nothing_still_shows_where_the_material_went(told: Story) -> None:
    prep = told.plan()
    _, dose = told.weigh(prep, "12.00")
    told.put(ev.Discarded(prep=prep, entry=dose, reason="spilt"))
    told.weigh(prep, "5.00")
    told.put(ev.Abandoned(prep=prep, reason="wrong vessel", material="to waste"))
    (link,) = lots.trace(told.record, "KD-2").down
    assert (link.child, link.prep_status, link.net_mg, link.discarded_mg, link.doses) == (
        "", "abandoned", 5.0, 12.0, 2,
    )  # fmt: skip


def test_a_lot_made_of_two_parents_is_named_once_below_each_and_cycles_end(told: Story) -> None:
    _, one = told.whole()
    _, two = told.whole(lot=one, content="aliquot")
    assert [d.child for d in lots.trace(told.record, "W-1").down if d.parent == "W-1"] == [one, two]
    # A record that contradicts itself: the daughter is weighed back into a prep that makes its own parent.
    prep = told.plan(lot=two)
    told.weigh(prep, "1.00", container=f"{two}-1")
    told.put(
        ev.PrepClosed(
            prep=prep,
            result={},
            lot={"id": one, "substance": "K2CR2O7"},
            container={"id": f"{one}-1"},
            label="",
        )
    )
    assert len(lots.trace(told.record, one).up) < 20


def test_what_rests_on_a_withdrawn_entry_shows_as_stale_however_far_down(told: Story) -> None:
    first, one = told.whole()
    second, two = told.whole(lot=one, content="aliquot")
    third, _ = told.whole(lot=two, content="aliquot")
    apart, _ = told.whole()
    assert not any(page_of(told.record, p).stale for p in (first, second, third, apart))
    dose = page_of(told.record, first).state.doses[0]
    told.put(
        ev.Corrected(
            prep=first, entry=dose.entry, shown="9.00 mg", net_mg="9.00", total_mg="9.00", reason="misread"
        )
    )
    assert page_of(told.record, first).stale == f"entry {dose.entry} was corrected"
    assert f"lot {one} is stale" in page_of(told.record, second).stale
    assert f"entry {dose.entry} was corrected" in page_of(told.record, third).stale
    assert not page_of(told.record, apart).stale
    stale = {d.child: bool(d.stale) for d in lots.trace(told.record, "KD-2").down}
    assert stale == {one: True, two: True, third.replace("P-", "S-"): True, apart.replace("P-", "S-"): False}

    told.close(first)  # computed anew
    assert not page_of(told.record, first).stale


def test_a_lot_that_nobody_knows_is_refused_with_the_nearest(told: Story) -> None:
    with pytest.raises(NotFound, match="near it: KD-2"):
        lots.trace(told.record, "KD-22")
