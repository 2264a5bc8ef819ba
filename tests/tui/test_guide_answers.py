"""Every key at a step is answered in one line: what it wrote, or why it did nothing, only while it holds."""

from random import Random

import pytest

from store.model.words import ActKind, StepName
from store.record.record import Record
from tests import site
from tests.tui import typed_hand
from tui.guide import keys, weigh
from tui.guide.guide import Guide
from tui.guide.player import Player


def at(record: Record, clock: site.TestClock, key: str, step: str = "") -> Guide:
    """Give the guide of a prep that stands at an act, its page read."""
    guide = site.guide(record, site.planned(record), clock)

    def there(g: Guide) -> bool:
        act = g.state.act
        return not g.on_page and act is not None and act.key == key and typed_hand.step_is(g, step)

    Player(guide, time=clock.time, chance=Random(3), show=None).play(until=there)
    return guide


def settled(guide: Guide, clock: site.TestClock) -> None:
    for _ in range(200):
        clock.time.pass_(0.25)
        guide.poll()
        if guide.fresh_sample is not None and guide.fresh_sample.steady:
            return
    raise AssertionError("it never came to rest")


def test_a_wrong_digit_and_enter_at_a_page_are_answered_and_acknowledge_nothing(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    for key in (str(guide.digit % 9 + 1), "enter"):
        guide.take(keys.Unmeant(key))
        assert guide.refused
        assert "does not acknowledge this page" in guide.view().said
    assert guide.on_page
    assert not guide.state.acks


def test_a_key_that_came_too_soon_is_answered(record: Record, clock: site.TestClock) -> None:
    guide = site.guide(record, site.planned(record), clock)
    guide.take(keys.NotTaken("1"))
    assert guide.view().said == "1 was not taken, it came too soon after the key before: press it again."


def test_a_check_that_passed_is_answered(record: Record, clock: site.TestClock) -> None:
    guide = at(record, clock, "check", StepName.CHECK_BALANCE)
    settled(guide, clock)
    guide.take(keys.Act())
    shown = guide.state.reads[-1].shown
    assert guide.view().answer == f"Check weight {shown}: passed."
    guide.take(keys.Help())
    assert guide.view().answer == ""


def test_a_correction_made_is_answered(record: Record, clock: site.TestClock) -> None:
    guide = at(record, clock, "return", StepName.WEIGH_SOLID)
    dose = guide.state.doses[-1]
    guide.take(keys.Back())
    offered = guide.asks[-1].choices
    guide.take(keys.Chosen(1 + next(n for n, c in enumerate(offered) if c.startswith("correct"))))
    guide.take(keys.Typed(f"{dose.total_mg + 0.1:.2f}"))
    guide.take(keys.Chosen(1))
    assert not guide.refused
    assert guide.view().answer.startswith(f"Corrected: entry {dose.entry} reads ")


@pytest.mark.parametrize(
    ("key", "step", "answer"),
    [
        ("open", StepName.WEIGH_SOLID, "Opened: its time open runs from here."),
        ("close", StepName.WEIGH_SOLID, "Closed after "),
        ("in", StepName.TRANSFER_IN, "Written: transfer in."),
        ("prelabel", StepName.TRANSFER_IN, "Written: pre-label."),
    ],
)
def test_an_act_that_was_done_is_answered(
    record: Record, clock: site.TestClock, key: str, step: str, answer: str
) -> None:
    guide = at(record, clock, key, step)
    for _ in range(9):  # a long label is read leaf by leaf
        if guide.view().answer.startswith(answer):
            return
        guide.take(keys.Act())
    raise AssertionError(guide.view())


def test_not_steady_yet_is_said_until_it_is_steady_and_no_longer(
    record: Record, clock: site.TestClock
) -> None:
    guide = at(record, clock, "check", StepName.CHECK_BALANCE)
    clock.time.pass_(0.5)
    guide.poll()
    assert guide.sample is not None
    assert not guide.sample.steady
    guide.take(keys.Act())
    assert guide.view().said == "Not steady yet: wait, then press Enter."
    clock.time.pass_(0.05)
    guide.poll()
    assert guide.view().said == "Not steady yet: wait, then press Enter."
    settled(guide, clock)
    assert guide.view().said == ""


def test_nothing_is_answered_twice(record: Record, clock: site.TestClock) -> None:
    guide = at(record, clock, "dose", StepName.WEIGH_SOLID)
    assert weigh.current(guide).kind == ActKind.DOSE
    guide.take(keys.Chosen(1))
    assert guide.view().answer == ""
