import hashlib
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from store import events as ev
from store.errors import BadInput, NotFound
from store.queries import log, named, periods, preps, search, texts
from store.queries.page import PrepPage
from store.queries.page import page as page_of
from tests.store.asked_story import Story, begin
from tests.tui import desks

PAGE = "One container open at a time [b]µ[/b].\nFollow your site's safety rules."
DIGEST = hashlib.sha256(PAGE.encode()).hexdigest()


@pytest.fixture
def told(tmp_path: Path) -> Iterator[Story]:
    story = begin(tmp_path)
    yield story
    story.record.close()


def numbers(told: Story, **asked: Any) -> list[str]:
    return [p.prep for p in preps.past(told.record, **asked)]


def page(told: Story, prep: str) -> PrepPage:
    return page_of(told.record, prep)


def test_past_preps_come_newest_first_whatever_became_of_them(told: Story) -> None:
    done, _ = told.whole()
    given_up = told.plan()
    told.put(ev.Abandoned(prep=given_up, reason="wrong lot", material="nothing was opened"))
    under_way = told.plan()
    assert numbers(told) == [under_way, given_up, done]
    assert numbers(told, sort="oldest") == [done, given_up, under_way]
    assert [p.status for p in preps.past(told.record)] == ["open", "abandoned", "closed"]


def test_a_line_carries_the_result_and_what_made_it(told: Story) -> None:
    prep, lot = told.whole(mg="10.00", solvent_mg="9950.00", open_s="60")
    (row,) = preps.past(told.record)
    assert (row.prep, row.substance, row.lot, row.solvent, row.made_lot) == (
        prep,
        "K2CR2O7",
        "KD-2",
        "WATER",
        lot,
    )
    assert (row.value, row.unit, row.u, row.complete) == (1.0003, "mg/g", 0.003, True)
    assert (row.solid_mg, row.solvent_mg, row.open_s) == (10.0, 9950.0, 90.0)
    assert (row.step, row.steps, row.owed, row.rehearsal) == (4, 4, 0, False)


def test_preps_are_found_by_solute_and_by_solvent(told: Story) -> None:
    chromium, _ = told.whole()
    azide = told.plan(lot="NA-1", substance="NAN3")
    assert numbers(told, substance="K2CR2O7") == [chromium]
    assert numbers(told, substance="NAN3") == [azide]
    assert numbers(told, substance="WATER") == [azide, chromium]
    assert numbers(told, substance="NONE") == []


def test_preps_are_found_by_the_lots_that_went_in_and_the_one_that_came_out(told: Story) -> None:
    first, made = told.whole()
    second, _ = told.whole(lot=made, content="aliquot")
    assert numbers(told, lot="KD-2") == [first]
    assert numbers(told, lot=made) == [second, first]
    assert numbers(told, lot="W-1") == [second, first]


def test_done_means_closed_reviewed_or_not(told: Story) -> None:
    closed, _ = told.whole()
    accepted, _ = told.whole()
    told.plan()
    told.put(
        ev.Reviewed(prep=accepted, verdict="accepted", reason="", meaning="looked at", head="1:ab"), by="rv-1"
    )
    assert numbers(told, status="done") == [accepted, closed]
    assert numbers(told, status="accepted") == [accepted]
    assert numbers(told, status="closed") == [closed]


@pytest.mark.parametrize("asked", [{"status": "finished"}, {"sort": "colour"}])
def test_a_status_or_an_order_that_is_none_is_refused_with_those_there_are(
    told: Story, asked: dict[str, Any]
) -> None:
    with pytest.raises(BadInput, match=r"abandoned|newest"):
        preps.past(told.record, **asked)


@pytest.mark.parametrize(
    ("since", "until", "found"),
    [("2026-03-02", "2026-03-02", 1), ("2026-03-03", "", 0), ("", "2026-03-01", 0)],
)
def test_both_ends_of_the_period_of_planning_are_in_it(
    told: Story, since: str, until: str, found: int
) -> None:
    told.plan()
    assert len(numbers(told, since=since, until=until)) == found


@pytest.mark.parametrize("back", [0, 40], ids=["in step", "stood back"])
def test_a_period_holds_the_preps_planned_in_it_also_where_a_clock_stood_back(told: Story, back: int) -> None:
    first = date(2026, 3, 2)
    for n in range(24):
        told.clock.set((first + timedelta(days=9 * n - (back if n == 12 else 0))).isoformat())
        told.plan()
    every = preps.past(told.record)
    stepped = told.record.query("SELECT 1 FROM journal WHERE kind = 'clock_stepped'")
    assert bool(stepped) == bool(back)
    for since, until in (
        ("2026-04", "2026-05"),
        ("2026-05-10", "2026-05-10"),
        ("", "2026-03"),
        ("2026-08", ""),
    ):
        inside = [
            p.prep
            for p in every
            if periods.since(since) <= p.planned_day <= (periods.until(until) or "9999-12-31")
        ]
        assert numbers(told, since=since, until=until) == inside
        assert numbers(told, since=since, until=until, substance="K2CR2O7", sort="newest") == inside


def test_a_text_is_found_as_it_stands_signs_of_a_pattern_included(told: Story) -> None:
    prep, _ = told.whole()
    assert numbers(told, text="chromium s-7f3a") == [prep]
    assert numbers(told, text="V-17") == [prep]
    assert numbers(told, text="%") == numbers(told, text="chromium_s") == []


def test_lists_can_be_sorted_by_what_reviewers_look_at(told: Story) -> None:
    short, _ = told.whole(open_s="10")
    long, _ = told.whole(open_s="100")
    assert numbers(told, sort="open") == [long, short]
    for sort in ("substance", "status", "concentration", "uncertainty", "deviation"):
        assert set(numbers(told, sort=sort)) == {short, long}
    assert numbers(told, limit=1) == [long]
    assert numbers(told, limit=1, offset=1) == [short]


def test_open_preps_stand_with_the_last_touched_first_and_reviews_with_the_longest_waiting(
    told: Story,
) -> None:
    first, second = told.plan(), told.plan()
    told.check(first)
    assert [p.prep for p in preps.open_preps(told.record)] == [first, second]
    done = [told.whole()[0], told.whole()[0]]
    told.whole(rehearsal=True)
    assert [p.prep for p in preps.waiting_for_review(told.record)] == done


def test_the_page_shows_each_caution_as_it_was_acknowledged(told: Story) -> None:
    prep = told.plan()
    told.record.append(
        ev.TextKept(digest=DIGEST, text=PAGE, what="caution page"),
        person="op-1",
        subject=f"text:{DIGEST[:16]}",
    )
    for step, how in ((0, "page"), (1, "short")):
        told.put(
            ev.Acknowledged(prep=prep, step=step, digest=DIGEST, families=("CMR_1",), screens=2, how=how)
        )
    told.put(ev.Acknowledged(prep=prep, step=1, digest="f" * 64, families=()))
    kept, lost = page(told, prep).cautions
    assert (kept.text, kept.families) == (PAGE, ("CMR_1",))
    assert [(a.step, a.step_name, a.how, a.person) for a in kept.acknowledged] == [
        (0, "check_balance", "page", "op-1"),
        (1, "weigh_solid", "short", "op-1"),
    ]
    assert (lost.digest, lost.text) == ("f" * 64, "")


def test_the_page_hides_no_way_back(told: Story) -> None:
    prep = told.plan()
    handling, dose = told.weigh(prep, "12.50")
    for shown in ("12.05", "12.06"):
        told.put(
            ev.Corrected(
                prep=prep, entry=dose, shown=f"{shown} mg", net_mg=shown, total_mg=shown, reason="misread"
            )
        )
    told.put(ev.Discarded(prep=prep, entry=dose, reason="spilt"))
    told.put(ev.NeverHappened(prep=prep, entry=handling, second="op-2", reason="other prep"), by="op-1")

    changes = page(told, prep).changes
    assert [(c.how, c.of, c.was, c.now, c.second) for c in changes] == [
        ("corrected", dose, "12.50 mg", "12.05 mg", ""),
        ("corrected", dose, "12.05 mg", "12.06 mg", ""),
        ("discarded", dose, "12.06 mg", "", ""),
        ("never happened", handling, "", "", "op-2"),
    ]
    (shown_dose,) = page(told, prep).state.doses
    assert (shown_dose.shown, shown_dose.state) == ("12.06 mg", "discarded")


def test_the_page_keeps_a_result_that_was_computed_anew_beside_the_one_before(told: Story) -> None:
    prep, _ = told.whole()
    told.close(prep)
    both = page(told, prep)
    assert len(both.results) == 2
    assert both.result == both.results[-1]
    assert both.results[0].entry < both.results[1].entry


def test_the_page_carries_the_result_with_every_component_as_written(told: Story) -> None:
    prep, lot = told.whole()
    result = page(told, prep).result
    assert result is not None
    assert (result.value, result.unit, result.u, result.k, result.U) == (
        "1.0003",
        "mg/g",
        "0.003",
        "2.0",
        "0.006",
    )
    assert [(b.name, b.value, b.unit, b.u, b.share) for b in result.budget] == [
        ("repeatability of the solid", "10.0", "mg", "0.02", "0.9"),
        ("content of the lot", "0.995", "g/g", "0.001", "0.1"),
    ]
    assert (result.complete, result.lot["id"]) == (True, lot)
    assert (result.figures["content"], result.figures["solid_mass_g"]) == ("0.995", "0.010013")
    assert result.remarks == ("the solid's density was assumed",)


def test_the_page_of_a_prep_without_a_result_says_so(told: Story) -> None:
    prep = told.plan()
    assert page(told, prep).result is None
    assert page(told, prep).title == "potassium dichromate 1.000 mg/g in water"


def test_a_review_stands_with_what_signing_meant_and_how_far_it_saw(told: Story) -> None:
    prep, _ = told.whole()
    told.put(
        ev.Reviewed(
            prep=prep, verdict="returned", reason="check", meaning="I looked at all of it", head="9:ab"
        ),
        by="rv-1",
    )
    (review,) = page(told, prep).reviews
    assert (review.person, review.verdict, review.reason, review.head) == (
        "rv-1",
        "returned",
        "check",
        "9:ab",
    )


def test_every_entry_of_a_prep_is_a_line_of_its_page_and_the_head_is_the_last_one(told: Story) -> None:
    prep, _ = told.whole()
    shown = page(told, prep)
    entries = list(told.record.entries(subject=f"prep:{prep}"))
    assert [(x.entry, x.digest, x.kind) for x in shown.log] == [
        (e.entry, e.digest, e.event.kind) for e in entries
    ]
    assert shown.head == f"{entries[-1].entry}:{entries[-1].digest}"
    assert all(x.says for x in shown.log)


def test_every_kind_of_event_has_words() -> None:
    assert set(log._WORDS) == set(ev.KINDS)


def test_a_prep_that_is_not_there_is_named(told: Story) -> None:
    with pytest.raises(NotFound, match="P-0000-0001"):
        page_of(told.record, "P-0000-0001")


def test_a_kept_text_is_found_by_its_digest_and_by_the_digits_people_copy(told: Story) -> None:
    told.record.append(
        ev.TextKept(digest=DIGEST, text=PAGE, what="caution page"),
        person="op-1",
        subject=f"text:{DIGEST[:16]}",
    )
    kept = texts.kept(told.record, DIGEST)
    assert kept is not None
    assert kept.text == PAGE
    assert texts.shown(told.record, DIGEST[:8].upper()) == kept
    assert texts.kept(told.record, "0" * 64) is None
    for digits in (DIGEST[:7], "0" * 8, "", "zz" * 8):
        with pytest.raises(NotFound, match="eight or more"):
            texts.shown(told.record, digits)


def test_a_word_is_found_wherever_it_stands(told: Story) -> None:
    prep, _ = told.whole()
    slip = ev.IncidentNoted(prep=prep, what="near miss", note="the tweezers slipped", present=("op-1",))
    number = told.put(slip)
    opening, _ = told.weigh(told.plan())
    told.note("P-7F3A-0002", opening, unusual="static on the tweezers")

    def found(text: str) -> list[tuple[str, str]]:
        return [(h.kind, h.id) for h in search.find(told.record, text)]

    every = [("prep", "P-7F3A-0002"), ("prep", prep), ("substance", "K2CR2O7")]
    assert found("dichromate") == found("7778-50") == found("DICHROM") == every
    assert found("TWEEZERS") == [("note", "P-7F3A-0002"), ("incident", str(number))]
    assert ("prep", prep) in found(prep)
    assert found(" % - ") == found("  ") == []
    assert len(search.find(told.record, "K2CR2O7", limit=3)) == 3
    first, second, third = search.find(told.record, "K2CR2O7", limit=3)
    assert search.find(told.record, "K2CR2O7", limit=2, offset=1) == (second, third)
    assert first.entry > second.entry > third.entry


def test_notes_and_incidents_of_others_are_not_found_by_who_may_not_read_them(told: Story) -> None:
    told.put(ev.IncidentNoted(prep="", what="spill", note="tweezers", present=("op-1",)))
    opening, _ = told.weigh(told.plan())
    told.note("P-7F3A-0001", opening, unusual="tweezers", present=("op-1", "op-2"))

    def found(person: str) -> list[str]:
        return [h.kind for h in search.find(told.record, "tweezers", person=person)]

    assert found("") == found("op-1") == ["note", "incident"]
    assert found("op-2") == ["note"]
    assert found("rv-1") == []


@pytest.mark.parametrize(
    "text", ['"', '" OR 1', "NEAR(", "a AND", "id:x", "*", "^", "µg 12,5 \x1b", "(" * 40]
)
def test_whatever_is_typed_is_looked_for_and_never_an_error(told: Story, text: str) -> None:
    assert isinstance(search.find(told.record, text), tuple)


def test_generic_limits_stand_beside_the_strength_as_information_alone(tmp_path: Path) -> None:
    """0.1 % of a carcinogen 1B reaches its limit of 0.1 %; oxidisers have none (CLP Annex I, 3.6)."""
    record = desks.desk(tmp_path, story=desks.closed_prep).record
    shown = page_of(record, "P-7F3A-0001")
    assert float(shown.state.result["w"]) == pytest.approx(0.001, rel=0.01)
    reached, source = shown.limits
    assert reached.startswith("potassium dichromate at 0.101 % by mass reaches Carc. 1B from 0.1 %; Muta.")
    assert "Resp. Sens. 1 from 0.1 % to 1 % named on the label (EUH208)" in reached
    assert "Ox. Sol. 2" not in reached
    assert "nothing is lowered" in source
    assert "from memory" in source
    taken = shown.state.basis["hazards"]["K2CR2O7"]
    assert "H350" in [one["code"] for one in taken["statements"]]
    record.close()


def test_no_limit_is_said_before_anything_came_out(told: Story) -> None:
    assert page(told, told.plan()).limits == ()


def test_an_unknown_substance_is_refused_with_those_that_have_the_word_in_their_name(told: Story) -> None:
    with pytest.raises(NotFound, match="near it: K2CR2O7"):
        named.substance(told.record, "dichrom")


def test_those_that_wait_are_those_that_the_bench_counts(told: Story) -> None:
    told.whole()
    told.plan()
    waiting = preps.past(told.record, status="waiting")
    assert [p.prep for p in waiting] == [p.prep for p in preps.waiting_for_review(told.record)]
    assert len(waiting) == 1
