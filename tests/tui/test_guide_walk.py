"""A whole prep walked by the player, and what interrupts it."""

from random import Random

import pytest

from store import events as ev
from store.hazards.families import all_families
from store.hazards.news import NEW, News
from store.model.words import ActKind, PrepStatus, StepName
from store.queries import log, registers
from store.queries.page import page
from store.record.record import Record
from store.record.verify import verify
from tests import site
from tui.guide import keys
from tui.guide.guide import Guide
from tui.guide.player import Player


def player(guide: Guide, clock: site.TestClock) -> Player:
    return Player(guide, time=clock.time, chance=Random(3), show=lambda view: None)


def at(kind: ActKind, what: str = "") -> "object":
    def reached(guide: Guide) -> bool:
        act = guide.state.act
        return not guide.on_page and act is not None and act.kind == kind and (not what or act.what == what)

    return reached


def walk_to(guide: Guide, clock: site.TestClock, kind: ActKind, what: str = "") -> None:
    player(guide, clock).play(until=at(kind, what))  # type: ignore[arg-type]


def test_a_prep_is_walked_from_plan_to_a_lot_in_quarantine(record: Record, clock: site.TestClock) -> None:
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    player(guide, clock).play()
    state = record.prep_state(prep)
    assert state.status == PrepStatus.CLOSED
    assert state.owed == ()
    assert abs(float(state.result["value"]) - 1.0) < 0.02
    lot = registers.body(record, "lot", "S-7F3A-0001")
    assert (lot["status"], lot["made_by"], lot["solvent"]) == ("quarantine", prep, "WATER")
    assert lot["expiry"] == "2026-04-01"
    assert verify(record.path).ok


def test_every_step_was_acknowledged_before_its_first_act(record: Record, clock: site.TestClock) -> None:
    prep = site.planned(record)
    player(site.guide(record, prep, clock), clock).play()
    acknowledged: set[int] = set()
    for entry in record.entries(subject=f"prep:{prep}"):
        event = entry.event
        if isinstance(event, ev.Acknowledged):
            acknowledged.add(event.step)
        elif isinstance(event, ev.Read | ev.Opened | ev.Dosed | ev.Confirmed | ev.Handled):
            assert event.step in acknowledged, entry


def test_a_solution_asks_for_one_acknowledgement_of_each_step_and_repeats_none(
    record: Record, clock: site.TestClock
) -> None:
    """The figure stands in DEVELOPERS.md, beside those of the rack and of the dilution."""
    prep = site.planned(record)
    player(site.guide(record, prep, clock), clock).play()
    state = record.prep_state(prep)
    assert len(state.acks) == len(state.steps) == 10
    assert len({a.step_name for a in state.acks}) == 10


def test_the_text_that_was_acknowledged_is_in_the_record(record: Record, clock: site.TestClock) -> None:
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    shown = guide.before.page.text if guide.before else ""
    player(guide, clock).play(until=lambda g: bool(g.state.acks))
    digest = guide.state.acks[0].digest
    kept = [e.event for e in record.entries(kinds=["text_kept"])]
    assert any(isinstance(k, ev.TextKept) and k.digest == digest and k.text == shown for k in kept)


def test_another_digit_than_the_page_shows_does_not_acknowledge(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    mode = guide.expect()
    assert isinstance(mode, keys.Page)
    machine = keys.KeyMachine()
    machine.expect(mode)
    wrong = str(mode.digit % 9 + 1)
    assert machine.press(wrong, 1.0) == (keys.Unmeant(wrong),)
    assert machine.press("enter", 2.0) == (keys.Unmeant("enter"),)
    assert machine.press(str(mode.digit), 4.0) == (keys.Acknowledged(mode.digit),)


def test_an_incident_shows_the_cautions_in_full_again(record: Record, clock: site.TestClock) -> None:
    guide = site.guide(record, site.planned(record), clock)
    walk_to(guide, clock, ActKind.OPEN, "container")
    guide.take(keys.Note())
    guide.take(keys.Chosen(5))
    guide.take(keys.Chosen(1))
    assert guide.on_page
    guide.take(keys.Typed(""))
    assert guide.view().body == ("Again in full: after an incident; nothing on it is new",)
    assert len(guide.state.incidents) == 1


def test_on_the_page_of_the_next_step_what_is_new_stands_first_and_is_written_down(
    record: Record, clock: site.TestClock
) -> None:
    site.put(record, "substance", {"id": "WATER", "name": "methanol", "form": "liquid",
                                   "classification": ["Flam. Liq. 2 H225"]})  # fmt: skip
    site.put(record, "rule", {"id": "9", "text": "Read the box pressure aloud.", "since": "2026-03-02",
                              "steps": ["add_solvent"]})  # fmt: skip
    guide = site.guide(record, site.planned(record), clock)

    def at_solvent(g: Guide) -> bool:
        step = g.state.current
        return g.on_page and step is not None and step.name == StepName.ADD_SOLVENT

    player(guide, clock).play(until=at_solvent)
    view = guide.view()
    assert view.body == ("New to you: the step, 1 hazard, 1 local rule",)
    page = tuple(line for screen in guide.screens for line in screen)
    assert view.page == guide.screens[0]
    assert page[0].startswith("  1  NEW: ")
    new = next(n for n, line in enumerate(page) if "NEW: Vapour builds up" in line)
    rule = page.index("NEW: Local rule 9 (since 2026-03-02): Read the box pressure aloud.")
    assert new < rule < next(n for n, line in enumerate(page) if "Cancer" in line)
    step = guide.state.step
    player(guide, clock).play(until=lambda g: not g.on_page)
    (ack,) = [e.event for e in record.entries(kinds=["acknowledged"]) if getattr(e.event, "step", 0) == step]
    assert isinstance(ack, ev.Acknowledged)
    assert ack.news == "the step, 1 hazard, 1 local rule"
    assert len(guide.state.acks) == step + 1


def test_a_rule_that_changed_while_the_prep_rested_stands_first_and_the_line_above_stays_one_line(
    record: Record, clock: site.TestClock
) -> None:
    rule = {"id": "9", "text": "Read the box pressure aloud.", "since": "2026-03-01", "steps": []}
    site.put(record, "rule", rule)
    prep = site.planned(record)
    walk_to(site.guide(record, prep, clock), clock, ActKind.ANSWER)
    site.put(record, "rule", {**rule, "text": "Read it aloud, twice.", "since": "2026-03-02"})
    view = site.guide(record, prep, clock).view()
    assert view.page[0] == "CHANGED: Local rule 9 (since 2026-03-02): Read it aloud, twice."
    assert view.page[1].startswith("  1  Check the pressure")
    (why,) = view.body
    assert why == "Again in full: after an interruption or a step back; new parts are marked"
    assert len(why) <= 78
    assert len(NEWS_AT_MOST) <= 78


NEWS_AT_MOST = (
    "New to you: "
    + News(
        {"base": NEW, **{f"overlay {id}": NEW for id in all_families()}},
        {str(n): NEW for n in range(99)},
        NEW,
    ).words
)


def test_nothing_is_left_while_something_is_open(record: Record, clock: site.TestClock) -> None:
    guide = site.guide(record, site.planned(record), clock)
    walk_to(guide, clock, ActKind.DOSE, "solid")
    guide.take(keys.Pause())
    assert not guide.left
    assert "open" in guide.said


def test_after_a_restart_the_first_question_is_what_is_open_and_the_time_is_estimated(
    record: Record, clock: site.TestClock
) -> None:
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    walk_to(guide, clock, ActKind.DOSE, "solid")
    clock.time.pass_(60)
    again = site.guide(record, prep, clock)
    assert "is it open now" in " ".join(again.view().body)
    again.take(keys.Chosen(2))
    handling = again.state.handlings[-1]
    assert handling.estimated
    assert handling.open_s >= 60
    assert again.on_page


def test_an_accepted_portion_survives_a_restart_and_is_checked_for_continuity(
    record: Record, clock: site.TestClock
) -> None:
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    walk_to(guide, clock, ActKind.DOSE, "solid")
    play = player(guide, clock)
    for _ in range(2):
        play.turn()
    play._settle()
    guide.take(keys.Act())
    assert guide.asks
    guide.take(keys.Chosen(3))
    taken = guide.state.total_mg("solid")
    assert taken > 0

    again = site.guide(record, prep, clock)
    again.take(keys.Chosen(1))
    assert again.state.total_mg("solid") == taken
    player(again, clock).play(until=lambda g: not g.on_page)
    view = again.view()
    assert any("Last accepted reading" in line for line in view.body)
    player(again, clock).play()
    state = record.prep_state(prep)
    assert state.status == PrepStatus.CLOSED
    assert next(d.total_mg for d in state.doses if d.content == "solid") == taken
    assert any(r.what == "continuity" and r.within for r in state.reads)


def test_two_guides_on_one_prep_cannot_both_take_a_step(record: Record, clock: site.TestClock) -> None:
    prep = site.planned(record)
    one = site.guide(record, prep, clock)
    player(one, clock).play(until=lambda g: not g.on_page)
    two = site.guide(record, prep, clock, person="op-2")
    one.take(keys.Chosen(1))
    assert "moved on" in one.said
    assert two.state.last_person == "op-2"


def test_below_the_minimum_weight_a_second_person_is_asked(record: Record, clock: site.TestClock) -> None:
    guide = site.guide(record, site.planned(record), clock, live=False)
    typed = {"zero": "0.00", "check": "20000.03", "vessel": "12034.52", "tared": "0.00"}
    play = player(guide, clock)
    while not (guide.state.act and guide.state.act.kind == ActKind.DOSE and not guide.on_page):
        act = guide.state.act
        if act and act.kind == ActKind.READ and not guide.on_page:
            guide.take(keys.Typed(typed[act.what]))
        else:
            play.turn()
    guide.take(keys.Typed("8.99"))
    assert any("BELOW the minimum weight 9.00 mg" in line for line in guide.view().live.accepted)  # type: ignore[union-attr]
    guide.take(keys.Typed(""))
    guide.take(keys.Chosen(2))
    guide.take(keys.Chosen(1))
    assert "second person" in guide.view().body[0]
    people = guide.asks[-1].choices
    guide.take(keys.Chosen(people.index("so-1") + 1))
    guide.take(keys.Typed("3333"))
    guide.take(keys.Chosen(1))
    dose = guide.state.doses[-1]
    assert (dose.shown, dose.ends) == ("8.99 mg", True)
    assert guide.state.let_through[-1]["second"] == "so-1"


def test_a_reading_with_too_few_decimals_is_refused_and_nothing_is_written(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock, live=False)
    play = player(guide, clock)
    while not (guide.state.act and guide.state.act.kind == ActKind.READ and not guide.on_page):
        play.turn()
    before = record.head().entry
    guide.take(keys.Typed("0.0"))
    assert "2 decimals" in guide.said
    assert record.head().entry == before


def test_a_failed_balance_check_stops_until_it_passes_or_is_let_through(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock, live=False)
    play = player(guide, clock)
    while not (guide.state.act and guide.state.act.what == "check"):
        act = guide.state.act
        if act and act.kind == ActKind.READ and not guide.on_page:
            guide.take(keys.Typed("0.00"))
        else:
            play.turn()
    guide.take(keys.Typed("20000.11"))
    assert guide.asks
    guide.take(keys.Chosen(1))
    assert guide.state.act
    assert guide.state.act.what == "check"
    guide.take(keys.Typed("20000.10"))
    assert guide.state.act.what == "zero"


def test_what_is_discarded_asks_for_a_new_vessel_and_keeps_the_exposure(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    walk_to(guide, clock, ActKind.HANDLE, "transfer out")
    before = len(guide.state.handlings)
    guide.take(keys.Back())
    guide.take(keys.Chosen(guide.asks[-1].choices.index("discard what is in the vessel") + 1))
    guide.take(keys.Chosen(2))
    assert guide.state.total_mg("solid") == 0
    assert guide.state.current
    assert guide.state.current.name == "tare"
    assert len(guide.state.handlings) == before
    player(guide, clock).play()
    assert guide.state.status == PrepStatus.CLOSED


@pytest.mark.parametrize(
    ("told", "goes_on"), [("-120", True), ("-121", False), ("-40", True), ("-39,9", False)]
)
def test_a_pressure_outside_the_limits_stops_bringing_in(
    record: Record, clock: site.TestClock, told: str, goes_on: bool
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    walk_to(guide, clock, ActKind.TELL, "pressure")
    guide.take(keys.Typed(told))
    act = guide.state.act
    assert act is not None
    assert (act.kind == ActKind.CONFIRM) == goes_on
    assert bool(guide.asks) != goes_on


@pytest.mark.parametrize(("typed", "asks"), [("80", True), ("200", False)])
def test_a_sign_left_out_is_asked_about_before_anybody_else_is(
    record: Record, clock: site.TestClock, typed: str, asks: bool
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    walk_to(guide, clock, ActKind.TELL, "pressure")
    assert "Limits -120 to -40 Pa" in " ".join(guide.view().body)
    guide.take(keys.Typed(typed))
    assert (guide.asks[-1].choices[0] == "-80 Pa") is asks
    if asks:
        guide.take(keys.Chosen(1))
        assert guide.state.answers["0/pressure"] == "-80"


def test_who_is_not_trained_opens_nothing_without_a_second_person(
    record: Record, clock: site.TestClock
) -> None:
    site.put(
        record, "person", {"id": "op-2", "name": "C. D.", "roles": ["operator"], "trained_for": ["CMR 2"]}
    )
    prep = site.planned(record)
    walk_to(site.guide(record, prep, clock), clock, ActKind.OPEN, "container")
    guide = site.guide(record, prep, clock, person="op-2")
    walk_to(guide, clock, ActKind.OPEN, "container")
    guide.take(keys.Act())
    assert not guide.state.open_handlings
    assert "op-2 is not trained for K2CR2O7" in guide.view().body[1]
    guide.take(keys.Chosen(guide.asks[-1].choices.index("so-1") + 1))
    guide.take(keys.Typed("3333"))
    guide.take(keys.Chosen(1))
    assert guide.state.open_handlings
    assert guide.state.let_through[-1]["second"] == "so-1"


def test_a_plain_note_may_be_written_at_any_time_and_is_no_incident(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record), clock)
    walk_to(guide, clock, ActKind.DOSE, "solid")
    owed = guide.state.owed
    guide.take(keys.Note())
    guide.take(keys.Chosen(guide.asks[-1].choices.index("a note, nothing wrong") + 1))
    guide.take(keys.Typed("spatula of the second set"))
    assert guide.said == "Note written."
    assert guide.state.act is not None
    assert guide.state.act.kind == ActKind.DOSE
    assert guide.state.owed == owed
    found = page(record, guide.prep)
    assert [n.note for n in found.notes if n.note] == ["spatula of the second set"]
    assert not found.incidents
    assert "note: spatula of the second set" in " ".join(
        line.says for line in log.of_subject(record, f"prep:{guide.prep}")
    )
