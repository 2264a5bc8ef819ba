from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from store import events as ev
from store.errors import BadDate, BadInput
from store.queries import asked, exposures, incidents, totals
from store.queries.exposures import HandlingRow, may_see
from tests.store.asked_story import SUBSTANCES, Story, begin


@pytest.fixture
def told(tmp_path: Path) -> Iterator[Story]:
    story = begin(tmp_path)
    yield story
    story.record.close()


def rows(told: Story, **asked_for: Any) -> tuple[HandlingRow, ...]:
    return exposures.of(told.record, **asked_for)


def entries(told: Story, **asked_for: Any) -> set[int]:
    return {row.entry for row in rows(told, **asked_for)}


def test_a_handling_tells_who_what_where_how_long_and_how_it_was_classified(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep, "10.13", open_s="95.5", estimated=True)
    told.note(prep, opening, present=("op-1", "op-2"), unusual="a grain on the pan")

    (row,) = rows(told)

    assert (row.entry, row.prep, row.step_name, row.person) == (opening, prep, "weigh_solid", "op-1")
    assert row.present == ("op-1", "op-2")
    assert (row.what, row.container, row.lot, row.enclosure) == ("container", "KD-2-1", "KD-2", "E-1")
    assert (row.gloves, row.note, row.unusual, row.noted) == ("neoprene", "a grain on the pan", True, True)
    assert (row.net_mg, row.open_s, row.estimated, row.closed) == (10.13, 95.5, True, True)
    assert row.families == ("CMR_1", "RESP_SENS")
    assert row.statements == ("H350", "H334")
    assert row.signal_word == "Danger"
    assert row.day == "2026-03-02"


def test_handlings_come_newest_first_and_page_by_page(told: Story) -> None:
    for _ in range(3):
        told.whole()
    every = rows(told)
    assert [r.entry for r in every] == sorted((r.entry for r in every), reverse=True)
    assert len(every) == 9
    assert rows(told, limit=4) + rows(told, limit=4, offset=4) + rows(told, limit=4, offset=8) == every


def test_order_is_by_entry_when_the_clock_stood_back(told: Story) -> None:
    told.clock.set("2026-03-05")
    first, _ = told.whole()
    told.clock.set("2026-03-04")
    second, _ = told.whole()
    assert [r.prep for r in rows(told)] == [second] * 3 + [first] * 3
    assert [r.prep for r in rows(told, person="op-1")] == [second] * 3 + [first] * 3


def test_an_export_reads_the_same_rows_in_chunks_of_any_size(told: Story) -> None:
    for _ in range(3):
        told.whole()
    which = asked.asked(told.record, person="op-1")
    for chunk in (1, 2, 9, 10):
        assert tuple(exposures.each(told.record, which, chunk=chunk)) == rows(told, person="op-1")


def test_a_handling_counts_for_everybody_present_and_for_nobody_else(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep)
    told.note(prep, opening, present=("op-1", "op-2"))
    assert entries(told, person="op-1") == entries(told, person="op-2") == {opening}
    assert not rows(told, person="so-1")


def test_a_solution_counts_with_what_it_contains(told: Story) -> None:
    _, lot = told.whole()
    dilution, _ = told.whole(lot=lot, content="aliquot", by="op-2")
    of_dilution = {r.entry for r in rows(told) if r.prep == dilution}
    assert len(of_dilution) == 3
    assert of_dilution <= entries(told, substance="K2CR2O7")
    assert of_dilution <= entries(told, family="CMR_1")


def test_a_lot_is_found_in_what_was_made_of_it_and_not_the_other_way(told: Story) -> None:
    parent, lot = told.whole()
    child, second = told.whole(lot=lot, content="aliquot")
    grandchild, _ = told.whole(lot=second, content="aliquot")
    other = told.plan(lot="KD-9")
    told.weigh(other, container="KD-9-1")

    assert {r.prep for r in rows(told, lot="KD-2")} == {parent, child, grandchild}
    assert {r.prep for r in rows(told, lot=lot)} == {child, grandchild}
    assert {r.prep for r in rows(told, lot="KD-9")} == {other}


def test_a_solvent_lot_is_found_only_where_it_was_in_what_was_open(told: Story) -> None:
    told.whole()
    assert {r.step_name for r in rows(told, lot="W-1")} == {"add_solvent", "waste"}


def test_families_are_asked_as_classified_then_or_now(told: Story) -> None:
    before = told.plan(families=("CORROSIVE",))
    then, _ = told.weigh(before)
    told.row("substance", {**SUBSTANCES["K2CR2O7"], "classification": ["Carc. 1B H350"]})

    assert entries(told, family="CORROSIVE") == {then}
    assert not rows(told, family="CMR_1")
    assert entries(told, family="CMR_1", as_classified="now") == {then}
    assert not rows(told, family="CORROSIVE", as_classified="now")


def test_a_family_and_a_substance_asked_together_must_both_hold(told: Story) -> None:
    told.whole()
    azide = told.plan(lot="NA-1", substance="NAN3")
    opening, _ = told.weigh(azide, container="NA-1-1", substances=("NAN3",))
    assert entries(told, family="ACUTE_1_2", substance="NAN3") == {opening}
    assert not rows(told, family="CMR_1", substance="NAN3")
    assert not rows(told, family="CMR_1", substance="NAN3", as_classified="now")


@pytest.mark.parametrize(
    ("since", "until", "found"),
    [
        ("2026-03-02", "2026-03-02", 1),
        ("2026-03-03", "", 0),
        ("", "2026-03-01", 0),
        ("2026-03", "2026-03", 1),
        ("2026-04", "", 0),
        ("", "2026-02", 0),
        ("2026", "2026", 1),
        ("2027", "", 0),
    ],
)
@pytest.mark.parametrize("more", [{}, {"person": "op-1"}, {"family": "CMR_1"}, {"substance": "K2CR2O7"}])
def test_both_ends_of_a_period_are_in_it(
    told: Story, since: str, until: str, found: int, more: dict[str, str]
) -> None:
    told.weigh(told.plan())
    assert len(rows(told, since=since, until=until, **more)) == found


@pytest.mark.parametrize(
    "typed", ["yesterday", "2026-13", "2026-02-30", "26", "2026-W01-1", "20260302", "२०२६"]
)
def test_a_period_that_is_none_is_refused_with_what_to_type(told: Story, typed: str) -> None:
    with pytest.raises(BadDate, match="write a day as 2026-03-02"):
        rows(told, since=typed)


def test_the_local_day_counts_not_the_day_in_greenwich(told: Story) -> None:
    told.clock.set("2026-03-06", hour=0)  # 23:00 UTC of the day before
    told.weigh(told.plan())
    assert len(rows(told, since="2026-03-06")) == 1


def test_what_never_happened_leaves_the_totals_and_stays_in_the_list(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep)
    told.note(prep, opening)
    told.put(ev.NeverHappened(prep=prep, entry=opening, second="op-2", reason="another prep's"))

    assert [r.state for r in rows(told)] == ["never happened"]
    for by in ("all", "day", "person", "substance", "family"):
        assert totals.totals(told.record, by) == ()


def test_a_corrected_dose_changes_the_mass_and_not_the_exposure(told: Story) -> None:
    prep = told.plan()
    _, dose = told.weigh(prep, "12.50")
    (before,) = totals.totals(told.record, "all")
    told.put(
        ev.Corrected(prep=prep, entry=dose, shown="12.05 mg", net_mg="12.05", total_mg="12.05", reason="read")
    )
    (after,) = totals.totals(told.record, "all")
    assert (before.net_mg, after.net_mg) == (12.50, 12.05)
    assert (before.handlings, before.open_s) == (after.handlings, after.open_s) == (1, 60.0)


def test_a_discarded_dose_stays_in_the_exposure(told: Story) -> None:
    prep = told.plan()
    _, dose = told.weigh(prep, "12.50")
    told.put(ev.Discarded(prep=prep, entry=dose, reason="spilt"))
    (total,) = totals.totals(told.record, "all")
    assert (total.handlings, total.net_mg) == (1, 12.50)


def test_estimated_times_are_counted_apart(told: Story) -> None:
    prep = told.plan()
    told.weigh(prep, open_s="60.0")
    told.weigh(prep, open_s="300.0", estimated=True)
    (total,) = totals.totals(told.record, "all")
    assert (total.open_s, total.estimated, total.estimated_s, total.longest_s) == (60.0, 1, 300.0, 300.0)


def test_a_handling_with_two_people_is_one_handling_and_one_for_each(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep, "10.00")
    told.note(prep, opening, present=("op-1", "op-2"))
    questions: tuple[dict[str, Any], ...] = ({}, {"family": "CMR_1"}, {"substance": "K2CR2O7"})
    for more in questions:
        (total,) = totals.totals(told.record, "all", **more)
        assert (total.handlings, total.net_mg, total.open_s) == (1, 10.0, 60.0)
    assert [(t.key, t.handlings) for t in totals.totals(told.record, "person")] == [
        ("op-1", 1),
        ("op-2", 1),
    ]


def test_solvent_is_not_counted_as_mass_of_the_solute(told: Story) -> None:
    told.whole(mg="10.00", solvent_mg="9950.00")
    sums = {t.key: t for t in totals.totals(told.record, "substance")}
    assert sums["K2CR2O7"].net_mg == 10.0
    assert sums["WATER"].net_mg == 9950.0
    assert sums["K2CR2O7"].handlings == 3


def test_totals_are_the_sums_of_the_rows_that_the_same_question_lists(told: Story) -> None:
    day = date(2025, 12, 29)
    for n in range(8):
        told.clock.set(date.fromordinal(day.toordinal() + 5 * n).isoformat())
        told.whole(
            by=("op-1", "op-2")[n % 2],
            present=("op-2", "op-1", "so-1")[n % 3 : n % 3 + 1] if n % 4 else (),
            open_s=f"{50 + 7 * n}",
            estimated=n == 3,
        )
    keys: dict[str, Callable[[HandlingRow], tuple[str, ...]]] = {
        "all": lambda r: ("all",),
        "day": lambda r: (r.day,),
        "month": lambda r: (r.day[:7],),
        "week": lambda r: ("{}-W{:02d}".format(*date.fromisoformat(r.day).isocalendar()),),
        "person": lambda r: r.present,
        "substance": lambda r: r.substances,
        "family": lambda r: r.families,
    }
    questions: tuple[dict[str, Any], ...] = (
        {},
        {"person": "op-1"},
        {"family": "CMR_1"},
        {"family": "CMR_1", "as_classified": "now"},
        {"substance": "WATER"},
        {"person": "op-2", "family": "RESP_SENS"},
        {"person": "op-2", "substance": "K2CR2O7", "since": "2026-01-05", "until": "2026-01"},
        {"lot": "W-1"},
        {"what": "weigh_solid", "person": "so-1"},
        {"enclosure": "E-1", "person": "op-2"},
        {"enclosure": "E-1", "since": "2026"},
        {"family": "CMR_1", "substance": "K2CR2O7", "until": "2026-01-20"},
        {"family": "CMR_1", "substance": "K2CR2O7", "as_classified": "now"},
        {"lot": "W-1", "person": "op-1"},
        {"lot": "W-1", "family": "CMR_1"},
    )
    for question in questions:
        for by, key in keys.items():
            only = {"person": question.get("person"), "substance": question.get("substance")}.get(by)
            if by == "family":
                only = question.get("family")
            want: dict[str, list[float]] = defaultdict(lambda: [0, 0.0, 0.0, 0])
            for row in rows(told, **question):
                for name in key(row):
                    if only and name != only:
                        continue
                    if by == "substance" and question.get("family") and name == "WATER":
                        continue  # with a family only the substances that are in it are added up
                    sums = want[name]
                    sums[0] += 1
                    sums[1] += 0.0 if row.estimated else row.open_s
                    sums[2] = max(sums[2], row.open_s)
                    sums[3] += row.estimated
            got = {
                t.key: [t.handlings, t.open_s, t.longest_s, t.estimated]
                for t in totals.totals(told.record, by, **question)  # type: ignore[arg-type]
            }
            assert got == dict(want), (by, question)


def test_totals_refuse_a_key_that_is_none(told: Story) -> None:
    with pytest.raises(BadInput, match="add up by"):
        totals.totals(told.record, "colour")  # type: ignore[arg-type]


def test_incidents_are_counted_where_they_belong_and_found_without_a_prep(told: Story) -> None:
    prep, _ = told.whole()
    opening = rows(told)[-1].entry
    told.put(
        ev.IncidentNoted(
            prep=prep, what="spill", note="a grain", substances=("K2CR2O7",), handling=opening,
            enclosure="E-1", present=("op-1", "op-2"), step=1,
        )
    )  # fmt: skip
    told.put(ev.IncidentNoted(prep="", what="alarm", note="pressure", present=("op-2",)), by="op-2")

    def found(**asked_for: Any) -> list[str]:
        return [i.what for i in incidents.of(told.record, asked.asked(told.record, **asked_for))]

    assert found() == ["alarm", "spill"]
    assert found(person="op-1") == ["spill"]
    assert found(family="CMR_1") == found(substance="K2CR2O7") == found(lot="KD-2") == ["spill"]
    assert found(family="CMR_1", as_classified="now") == ["spill"]
    assert found(since="2026-03-03") == found(enclosure="E-9") == []
    assert {t.key: t.incidents for t in totals.totals(told.record, "person")} == {"op-1": 1, "op-2": 2}
    assert entries(told, incidents=True) == {opening}
    assert [r.incidents for r in rows(told, incidents=True)] == [1]


def test_an_incident_counts_for_its_kind_of_handling_and_for_each_lot_it_comes_from(told: Story) -> None:
    _, lot = told.whole()
    prep, _ = told.whole(lot=lot, content="aliquot")
    weighed, filled, bagged = (r.entry for r in reversed(rows(told)[:3]))
    spill: Any = {"prep": prep, "what": "spill", "note": "a drop", "substances": ("K2CR2O7",)}
    told.put(ev.IncidentNoted(**spill, handling=filled, enclosure="E-1", present=("op-1",), step=2))
    told.put(ev.IncidentNoted(**spill, enclosure="E-1", present=("op-1",), step=3))

    def counted(**asked_for: Any) -> int:
        return sum(t.incidents for t in totals.totals(told.record, "all", **asked_for))

    assert weighed < filled < bagged
    assert counted() == counted(lot="KD-2") == counted(lot=lot) == counted(lot="W-1") == 2
    assert counted(what="add_solvent") == counted(what="container") == counted(what="waste") == 1
    assert counted(what="weigh_solid") == counted(what="glove change") == 0


def test_an_unusual_note_is_found_with_the_incidents(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep)
    told.note(prep, opening, unusual="the glove felt wet")
    (found,) = incidents.of(told.record, asked.asked(told.record))
    assert (found.what, found.note, found.handling) == ("unusual", "the glove felt wet", opening)
    assert entries(told, incidents=True) == {opening}
    (total,) = totals.totals(told.record, "all")
    assert (total.incidents, total.unusual) == (0, 1)


def test_sums_by_week_name_a_week_across_the_turn_of_the_year_by_its_thursday(told: Story) -> None:
    told.clock.set("2025-12-31")
    told.weigh(told.plan(), open_s="90")
    told.clock.set("2026-01-12")
    told.weigh(told.plan(), open_s="60", estimated=True)
    weeks = totals.totals(told.record, "week", person="op-1")
    assert [(w.key, w.open_s, w.estimated_s, w.handlings) for w in weeks] == [
        ("2026-W01", 90.0, 0.0, 1),
        ("2026-W03", 0.0, 60.0, 1),
    ]


@pytest.mark.parametrize(
    ("roles", "person", "of", "may"),
    [
        (("operator",), "op-1", "op-1", True),
        (("operator",), "op-1", "op-2", False),
        (("operator",), "op-1", "", False),
        (("reviewer", "keeper"), "rv-1", "op-1", False),
        (("safety officer",), "so-1", "op-1", True),
        (("operator", "safety officer"), "op-1", "", True),
        ((), "", "", False),
    ],
)
def test_everybody_sees_their_own_exposure_and_a_safety_officer_everybodys(
    roles: tuple[str, ...], person: str, of: str, may: bool
) -> None:
    assert may_see(roles, person, of) is may
