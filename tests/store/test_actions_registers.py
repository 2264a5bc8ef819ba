from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from store import events as ev
from store.actions.acting import Acting
from store.actions.imports import take
from store.actions.registers import check_row, register, retire
from store.errors import (
    BadField,
    BadInput,
    ImportRefused,
    MovedOn,
    NotAllowed,
    NotFound,
    Refused,
)
from store.exchange.raw import RawRow
from store.model.registers import Person
from store.queries import registers as ask
from tests.store.sample_site import as_typed, cells, empty, refused, rows, take_all


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Acting]:
    acting = empty(tmp_path / "site.tarebook")
    take_all(acting)
    yield acting
    acting.record.close()


# ---- entering and changing ----


def test_a_new_row_is_one_entry_and_an_unchanged_one_is_none(site: Acting) -> None:
    before = site.record.head().entry
    entry = register(site, "vessel", {"id": "V-90", "name": "vial", "capacity": "2 mL"})
    assert (entry.entry, entry.subject, entry.person) == (before + 1, "vessel:V-90", "re-1")
    assert isinstance(entry.event, ev.Registered)
    again = register(site, "vessel", {"id": "V-90", "name": " vial ", "capacity": "2 mL", "mass": ""})
    assert again == entry
    assert site.record.head().entry == before + 1


def test_a_change_needs_a_reason_and_keeps_the_row_whole(site: Acting) -> None:
    change = cells(site, "vessel", "V-17", mass="12.05 g")
    before = site.record.head()
    with pytest.raises(BadInput, match="write why"):
        register(site, "vessel", change)
    assert site.record.head() == before
    entry = register(site, "vessel", change, "weighed anew")
    assert entry.event.to_body()["reason"] == "weighed anew"
    assert ask.body(site.record, "vessel", "V-17") == change


def test_a_row_that_moved_on_since_it_was_seen_is_not_changed(site: Acting) -> None:
    seen = site.record.last_entry("vessel:V-17")
    register(site, "vessel", cells(site, "vessel", "V-17", mass="12.05 g"), "weighed anew", seen=seen)
    with pytest.raises(MovedOn):
        register(site, "vessel", cells(site, "vessel", "V-17", mass="12.07 g"), "again", seen=seen)


def test_only_a_keeper_writes_registers(site: Acting) -> None:
    before = site.record.head()
    for roles in ((), ("operator", "safety officer", "reviewer")):
        other = replace(site, person="op-1", roles=roles)
        with pytest.raises(NotAllowed, match="keeper"):
            register(other, "vessel", {"id": "V-90", "name": "vial", "capacity": "2 mL"})
        with pytest.raises(NotAllowed):
            retire(other, "vessel", "V-17", "broken")
        with pytest.raises(NotAllowed):
            take(other, "vessel", (), "none.csv")
    assert site.record.head() == before


def test_a_lot_that_a_prep_made_is_changed_by_its_prep_and_released_by_its_review(site: Acting) -> None:
    made = {
        "id": "S-7F3A-0001", "substance": "NAN3", "solvent": "WATER", "concentration": "1.000 mg/g",
        "concentration_u": "0.004 mg/g", "made_by": "P-7F3A-0001", "status": "quarantine",
        "expiry": "2026-04-01", "received": "2026-03-02",
    }  # fmt: skip
    register(site, "lot", made)
    for field, text in (
        ("concentration", "1.010 mg/g"), ("substance", "HGCL2"), ("made_by", ""), ("status", "released"),
        ("expiry", "2026-04-02"), ("expiry", ""),
    ):  # fmt: skip
        assert refused(site, "lot", "S-7F3A-0001", **{field: text}) == field
    changed = cells(
        site, "lot", "S-7F3A-0001", status="recalled", status_reason="vial cracked", expiry="2026-03-20"
    )
    register(site, "lot", changed, "cracked")
    assert ask.body(site.record, "lot", "S-7F3A-0001")["status"] == "recalled"


# ---- retiring ----


def test_a_retired_row_is_named_by_nothing_new_and_kept_by_what_used_it(site: Acting) -> None:
    with pytest.raises(Refused, match="container C-8 still stand on lot BP-5"):
        retire(site, "lot", "BP-5", "used up")
    retire(site, "container", "C-8", "used up")
    retire(site, "lot", "BP-5", "used up")
    with pytest.raises(BadField, match="lot BP-5 is retired"):
        check_row(site.record, "container", {"id": "C-99", "lot": "BP-5"})
    assert ask.row(site.record, "container", "C-8").retired
    with pytest.raises(Refused, match="already"):
        retire(site, "lot", "BP-5", "again")
    with pytest.raises(NotFound):
        retire(site, "lot", "BP-99", "no such")
    with pytest.raises(BadInput):
        retire(site, "lot", "AC-4", "  ")


def test_a_retired_row_comes_back_only_with_a_reason(site: Acting) -> None:
    again = cells(site, "vessel", "V-24")
    retire(site, "vessel", "V-24", "lost")
    with pytest.raises(BadInput, match="write why"):
        register(site, "vessel", again)
    register(site, "vessel", again, "found behind the isolator")
    assert not ask.row(site.record, "vessel", "V-24").retired


def test_the_number_of_somebody_who_left_is_never_given_to_another(site: Acting) -> None:
    retire(site, "person", "op-2", "left")
    with pytest.raises(BadField, match="choose a new number"):
        register(site, "person", {"id": "op-2", "name": "O. K."}, "new operator")
    register(site, "person", {"id": "op-2", "name": "L. M.", "trained_for": "all"}, "back again")


def test_a_record_never_loses_its_last_keeper(site: Acting) -> None:
    demoted = cells(site, "person", "re-1", roles="reviewer")
    with pytest.raises(Refused, match="Nobody would be keeper"):
        retire(site, "person", "re-1", "left")
    with pytest.raises(Refused, match="Nobody would be keeper"):
        register(site, "person", demoted, "no keeper any more")
    with pytest.raises(Refused, match="Nobody would be keeper"):
        take(site, "person", (RawRow(1, demoted),), "person.csv")
    register(site, "person", {"id": "ke-1", "name": "S. V.", "roles": "keeper"})
    retire(site, "person", "re-1", "left")
    assert ask.person(site.record, "ke-1") == Person(id="ke-1", name="S. V.", roles=("keeper",))


# ---- a whole file ----


def test_a_file_is_taken_whole_or_not_at_all_and_every_fault_is_told(site: Acting) -> None:
    before = site.record.head()
    good = RawRow(2, {"id": "V-91", "name": "vial", "capacity": "2 mL"})
    bad = RawRow(3, {"id": "V-92", "name": "vial", "capacity": "2 cups", "mass": "x"}, {"mass": 5})
    double = RawRow(6, {"id": "v-91", "name": "vial", "capacity": "2 mL"})
    with pytest.raises(ImportRefused) as caught:
        take(site, "vessel", (good, bad, double), "vessel.csv")
    assert [(f.line, f.column) for f in caught.value.faults] == [(3, "capacity"), (5, "mass"), (6, "id")]
    assert site.record.head() == before
    assert take(site, "vessel", (good,), "vessel.csv").new == ("V-91",)


def test_a_file_says_what_was_new_changed_and_unchanged_and_its_name_is_the_reason(site: Acting) -> None:
    rows_ = (
        RawRow(2, {"id": "V-91", "name": "vial", "capacity": "2 mL"}),
        RawRow(3, cells(site, "vessel", "V-17", mass="12.05 g")),
        RawRow(4, cells(site, "vessel", "V-18")),
    )
    taken = take(site, "vessel", rows_, "vessel.csv")
    assert (taken.new, taken.changed, taken.unchanged) == (("V-91",), ("V-17",), ("V-18",))
    changed = site.record.entry(site.record.last_entry("vessel:V-17")).event
    assert changed.to_body()["reason"] == "import of vessel.csv"
    again = take(site, "vessel", rows_, "vessel.csv", reason="once more")
    assert again.unchanged == ("V-91", "V-17", "V-18")


def test_what_stands_in_the_record_needs_no_leave_to_stay(site: Acting) -> None:
    # A review blocks a lot without a reason of its own; an export of it must still go in again.
    body = {**ask.body(site.record, "lot", "AC-4"), "status": "blocked"}
    site.record.append(
        ev.Registered(register="lot", id="AC-4", row=body, reason="returned"),
        person="re-1",
        subject="lot:AC-4",
    )
    (row,) = [RawRow(2, as_typed(row.to_body())) for row in rows(site.record, "lot") if row.id == "AC-4"]
    assert take(site, "lot", (row,), "lot.csv").unchanged == ("AC-4",)
    assert refused(site, "lot", "AC-4", storage="elsewhere") == "status_reason"
