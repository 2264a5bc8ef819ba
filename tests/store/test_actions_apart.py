"""Handlings without a prep, measurements, and incidents from their first words to their end."""

from dataclasses import replace

import pytest

from store import events as ev
from store.actions import handlings, incidents, notes
from store.actions.acting import LetThrough
from store.actions.incidents import Details
from store.errors import BadField, BadInput, MovedOn, NotAllowed, NotFound, Owed, Refused
from store.queries import asked as question
from store.queries import due, duty, exposures, totals
from store.queries import incidents as asked
from store.record.record import Record
from tests import site


def test_a_wipe_down_counts_for_everybody_present_with_the_hazards_of_the_day(record: Record) -> None:
    handlings.handle_apart(
        site.acting(record), what="wipe-down", enclosure="E-1", gloves="nitrile", substances=["K2CR2O7"],
        present=["op-2", "op-1"], minutes="12.5", note="after a spill",
    )  # fmt: skip
    for person in ("op-1", "op-2"):
        (total,) = totals.totals(record, "family", person=person, family="CMR_1")
        assert (total.handlings, total.estimated_s, total.open_s) == (1, 750.0, 0.0)
    (row,) = exposures.of(record, family="RESP_SENS")
    assert (row.prep, row.person, row.present, row.noted) == ("", "op-2", ("op-1", "op-2"), True)
    (register,) = duty.cmr_register(record, person="op-1")
    assert (register.handlings, register.estimated_s) == (1, 750.0)


def test_one_entered_later_counts_on_the_day_it_happened_and_not_on_a_day_to_come(record: Record) -> None:
    op_1 = site.acting(record)
    handlings.handle_apart(op_1, what="filter change", enclosure="E-1", day="2026-02-27")
    assert [t.key for t in totals.totals(record, "day")] == ["2026-02-27"]
    assert len(exposures.of(record, since="2026-02-27", until="2026-02-27")) == 1
    assert exposures.of(record, since="2026-02-28") == ()
    handlings.handle_apart(op_1, what="visit", day="2026-03-02")
    with pytest.raises(BadField, match="still to come"):
        handlings.handle_apart(op_1, what="visit", day="2026-03-03")


@pytest.mark.parametrize(
    ("given", "error"),
    [
        ({"what": " "}, BadField),
        ({"minutes": "-1"}, BadField),
        ({"minutes": "1441"}, BadField),
        ({"minutes": "a while"}, BadField),
        ({"unusual": True}, BadField),
        ({"enclosure": "E-9"}, NotFound),
        ({"substances": ["NOTHING"]}, NotFound),
        ({"present": ["nobody"]}, NotFound),
        ({"day": "27.2.2026"}, BadField),
    ],
)
def test_a_handling_with_a_fault_is_not_written(
    record: Record, given: dict[str, object], error: type[Exception]
) -> None:
    before = record.head()
    words: dict[str, object] = {"what": "visit", **given}
    with pytest.raises(error):
        handlings.handle_apart(site.acting(record), **words)  # type: ignore[arg-type] # faults by keyword
    assert record.head().entry <= before.entry + 1  # the sign-in alone


def test_something_unusual_without_a_prep_stands_among_what_went_wrong(record: Record) -> None:
    entry = handlings.handle_apart(
        site.acting(record), what="wipe-down", substances=["K2CR2O7"], unusual=True, note="a yellow stain"
    ).entry
    from store.queries.asked import asked as which

    (row,) = asked.of(record, which(record, person="op-1", incidents=True))
    assert (row.entry, row.note, "CMR_1" in row.families) == (entry, "a yellow stain", True)
    (total,) = totals.totals(record, "all")
    assert total.unusual == 1


def test_a_handling_that_never_happened_leaves_the_totals_once(record: Record) -> None:
    op_1 = site.acting(record)
    entry = handlings.handle_apart(op_1, what="wipe-down", substances=["K2CR2O7"], minutes="5").entry
    agreed = LetThrough(second="op-2", reason="entered twice")
    handlings.never_happened(op_1, entry, let_through=agreed)
    assert totals.totals(record, "substance") == ()
    assert exposures.of(record)[0].state == "never happened"
    with pytest.raises(NotFound):
        handlings.never_happened(op_1, entry, let_through=agreed)


@pytest.mark.parametrize(
    ("what", "value", "kept"),
    [
        ("air", "0,12 ug/m3", "0.12 ug/m3"),
        ("air", "<0.050 ug/m3", "< 0.050 ug/m3"),
        ("wipe", "< 2.0 ng/cm2", "< 2.0 ng/cm2"),
    ],
)
def test_a_result_is_kept_as_it_was_reported(record: Record, what: str, value: str, kept: str) -> None:
    handlings.monitor(site.acting(record, "so-1"), what=what, substance="K2CR2O7", value=value)
    assert record.query("SELECT value FROM monitoring")[0]["value"] == kept


@pytest.mark.parametrize(
    "given",
    [
        {"value": "0.12"},
        {"value": "0.12 ug/cm2"},
        {"value": "-0.1 ug/m3"},
        {"value": "0.1 ug/m3", "limit": "1 ug/m3"},
        {"value": "0.1 ug/m3", "what": "personal air"},
        {"value": "0.1 ug/m3", "what": "smell"},
    ],
)
def test_a_result_that_says_too_little_is_refused(record: Record, given: dict[str, str]) -> None:
    words = {"what": "air", "substance": "K2CR2O7", **given}
    with pytest.raises(BadField):
        handlings.monitor(site.acting(record, "so-1"), **words)
    assert record.query("SELECT 1 FROM monitoring") == []


def test_an_operator_enters_no_laboratory_results(record: Record) -> None:
    with pytest.raises(NotAllowed):
        handlings.monitor(site.acting(record), what="air", substance="K2CR2O7", value="1 ug/m3")


# ---- incidents ----


def contact(record: Record) -> int:
    """op-1 notes a contact of op-1 and op-2 outside any prep."""
    return notes.note_incident(
        site.acting(record), "", what="contact", note="on the skin", present=("op-2",)
    ).entry


FULL = Details(
    route="skin", body_part="left hand", amount="a drop, 0.1 mL", first_aid="rinsed 15 min", referred="yes",
    cause="torn glove", follow_up="thicker gloves", substances=("K2CR2O7",), present=("op-1", "op-2"),
)  # fmt: skip


def test_an_incident_is_detailed_by_who_was_there_and_closed_by_an_officer_with_a_reason(
    record: Record,
) -> None:
    number = contact(record)
    entry = incidents.detail(site.acting(record, "op-2"), number, FULL, seen=0).entry
    officer = site.acting(record, "so-1")
    with pytest.raises(NotAllowed):
        incidents.close(site.acting(record), number, seen=entry, reason="done")
    with pytest.raises(BadInput):
        incidents.close(officer, number, seen=entry, reason=" ")
    incidents.close(officer, number, seen=entry, reason="gloves changed site-wide")
    page = asked.page(record, number)
    assert (page.body_part, page.referred, page.closed_by) == ("left hand", "yes", "so-1")
    assert "CMR_1" in page.families
    assert page.note == "on the skin"


def test_a_contact_is_closed_only_when_it_is_said_whether_somebody_was_referred(record: Record) -> None:
    number = contact(record)
    officer = site.acting(record, "so-1")
    with pytest.raises(Owed):
        incidents.close(officer, number, seen=0, reason="looked at")
    entry = incidents.detail(officer, number, Details(route="skin", referred="no"), seen=0).entry
    incidents.close(officer, number, seen=entry, reason="looked at")
    with pytest.raises(Refused):
        incidents.close(officer, number, seen=asked.page(record, number).last, reason="again")


def test_a_near_miss_needs_no_word_about_a_physician(record: Record) -> None:
    number = notes.note_incident(site.acting(record), "", what="near miss", note="nearly fell").entry
    incidents.close(site.acting(record, "so-1"), number, seen=0, reason="rack moved")
    assert asked.standing_open(record) == ()


def test_details_of_a_closed_incident_open_it_again_and_only_an_officer_writes_them(record: Record) -> None:
    number = contact(record)
    officer = site.acting(record, "so-1")
    entry = incidents.detail(officer, number, FULL, seen=0).entry
    incidents.close(officer, number, seen=entry, reason="done")
    seen = asked.page(record, number).last
    with pytest.raises(NotAllowed):
        incidents.detail(site.acting(record), number, FULL, seen=seen)
    incidents.detail(officer, number, FULL, seen=seen)
    assert [i.entry for i in asked.standing_open(record)] == [number]


def test_two_people_who_detail_at_once_do_not_overwrite_each_other(record: Record) -> None:
    number = contact(record)
    incidents.detail(site.acting(record), number, FULL, seen=0)
    with pytest.raises(MovedOn):
        incidents.detail(site.acting(record, "op-2"), number, Details(), seen=0)


def test_details_say_where_an_incident_outside_a_prep_happened(record: Record) -> None:
    number = contact(record)
    assert asked.page(record, number).enclosure == ""
    officer = site.acting(record, "so-1")
    entry = incidents.detail(officer, number, replace(FULL, enclosure="E-1"), seen=0).entry
    assert asked.page(record, number).enclosure == "E-1"
    assert [row.entry for row in asked.of(record, question.asked(record, enclosure="E-1"))] == [number]
    with pytest.raises(NotFound):
        incidents.detail(officer, number, replace(FULL, enclosure="E-9"), seen=entry)
    incidents.detail(officer, number, replace(FULL, enclosure=""), seen=entry)
    assert asked.page(record, number).enclosure == ""


def test_the_first_body_of_an_incidents_details_leaves_the_enclosure_that_was_noted(record: Record) -> None:
    number = record.append(
        ev.IncidentNoted(prep="", what="alarm", note="pressure", enclosure="E-1"),
        person="op-1",
        subject="record",
    ).entry
    old = {"incident": number, "route": "none", "cause": "a filter", "present": ["op-1"]}
    event = ev.load("incident_detailed", 1, old)
    record.append(event, person="op-1", subject=f"incident:{number}")
    assert (asked.page(record, number).enclosure, asked.page(record, number).cause) == ("E-1", "a filter")


def test_a_person_who_was_not_there_writes_no_details(record: Record) -> None:
    with pytest.raises(NotAllowed):
        incidents.detail(site.acting(record, "re-1"), contact(record), FULL, seen=0)


def test_an_open_incident_stands_on_the_bench_of_those_present_and_of_the_officer(record: Record) -> None:
    number = contact(record)
    for person in ("op-1", "op-2", "so-1"):
        assert [d.id for d in due.bench(record, person).incidents] == [str(number)]
    assert due.bench(record, "re-1").incidents == ()
    assert [d.what for d in due.of(record) if d.group == "incident"] == ["contact"]
