from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from store import events as ev
from store.actions import registers
from store.actions.acting import Acting
from store.actions.registers import check_row, register, retire, take
from store.errors import (
    BadField,
    BadInput,
    ImportRefused,
    MovedOn,
    NotAllowed,
    NotFound,
    Refused,
    UnknownCode,
)
from store.exchange.raw import RawRow
from store.model.registers import Person, Setting
from store.queries import registers as ask
from tests.store.sample_site import empty, rows, take_all


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Acting]:
    acting = empty(tmp_path / "site.tarebook")
    take_all(acting)
    yield acting
    acting.record.close()


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Acting]:
    """The same site for tests that write nothing."""
    acting = empty(tmp_path_factory.mktemp("standing") / "site.tarebook")
    take_all(acting)
    yield acting
    acting.record.close()


def cells(site: Acting, kind: str, id: str, **changed: Any) -> dict[str, Any]:
    """Give a row as it would be typed, with some fields changed."""
    return registers_cells(ask.body(site.record, kind, id)) | changed


def registers_cells(body: dict[str, Any]) -> dict[str, Any]:
    return {k: "yes" if v is True else tuple(v) if isinstance(v, list) else v for k, v in body.items()}


def refused(site: Acting, kind: str, id: str, **changed: Any) -> str:
    """Give the field that a changed row is refused for."""
    with pytest.raises(BadField) as caught:
        check_row(site.record, kind, cells(site, kind, id, **changed))
    assert "\n" not in caught.value.what
    return caught.value.field


# ---- each field by its kind ----


@pytest.mark.parametrize(
    ("kind", "id", "field", "fits", "does_not"),
    [
        ("substance", "K2CR2O7", "cas", "7778-50-9", "7778-50-8"),
        ("substance", "K2CR2O7", "formula", "K2Cr2O7", "K2Cr2O7("),
        ("substance", "K2CR2O7", "form", "pellets", "dust"),
        ("substance", "K2CR2O7", "skin_notation", "YES", "perhaps"),
        ("substance", "K2CR2O7", "density", "2,676 g/cm3", "2.676"),
        ("substance", "K2CR2O7", "density", "2.7 g/mL", "0 g/mL"),
        ("substance", "K2CR2O7", "sds_date", "2026-02-28", "2026-02-29"),
        ("substance", "K2CR2O7", "tags", "chromate; acid_salt", "chromate; salty"),
        ("substance", "K2CR2O7", "edition", "clp 2025-09-01", "CLP 1999"),
        ("substance", "K2CR2O7", "name", "x" * 2000, "x" * 2001),
        ("substance", "K2CR2O7", "storage", "cool\u00a0and dry", "cool\tand dry"),
        ("substance", "K2CR2O7", "storage", "straße", "turned \u202e round"),
        ("substance", "K2CR2O7", "synonyms", ("a", "b"), ("a", "b", "a")),
        ("substance", "K2CR2O7", "synonyms", ("a, b",), ("a; b",)),
        ("lot", "KD-2", "substance", "NAN3", "NAN"),
        ("lot", "AZ-1", "assay", ">= 98", ">= 100"),
        ("lot", "KD-2", "assay", "100.5", "100.6"),
        ("lot", "KD-2", "assay_u", "U 0.2 k 2", "0.2"),
        ("lot", "KD-2", "assay_u", "± 0.3", "+- 0.3"),
        ("lot", "KD-2", "assay_u", "u 99", "u 100"),
        ("lot", "KD-2", "water", "99.9", "100"),
        ("lot", "KD-2", "expiry", "2026-01-14", "2026-01-13"),
        ("container", "C-1", "content", "5000 mg", "5 mL"),
        ("container", "C-1", "in_use_days", "1", "0"),
        ("container", "C-1", "in_use_days", "30", "30.5"),
        ("balance", "B-1", "readability", "0.02 mg", "0.03 mg"),
        ("balance", "B-1", "check_mass", "80 g", "80.001 g"),
        ("balance", "B-1", "repeatability", "0 mg", "-0.1 mg"),
        ("balance", "B-1", "repeatability_n", "10", "9"),
        ("balance", "B-1", "sensitivity_percent", "100", "100.1"),
        ("balance", "B-1", "check_u", "0.1 mg", "0.11 mg"),
        ("balance", "B-1", "check_limit", "0.2 mg", ""),
        ("balance", "B-1", "linearity_small", "0.05 mg", "0.06 mg"),
        ("balance", "B-1", "linearity_small_range", "80 g", ""),
        ("balance", "B-1", "calibration_due", "2026-02-09", "2026-02-08"),
        ("balance", "B-1", "enclosure", "", "E-9"),
        ("enclosure", "E-1", "pressure_high", "-119", "-120"),
        ("enclosure", "E-1", "gas", "argon", "freon"),
        ("enclosure", "E-1", "shift_minutes", "720", "721"),
        ("vessel", "V-17", "capacity", "20 ml", "20 g"),
        ("person", "op-1", "roles", "operator; reviewer", "operator; chief"),
        ("person", "op-1", "trained_for", "all", "everything"),
        ("person", "op-1", "left", "2024-04-01", "2024-03-31"),
        ("rule", "7", "steps", "tare", "taring"),
        ("rule", "7", "families", "CMR 1", "CMR 3"),
        ("rule", "7", "substances", "NAN3", "NAN4"),
        ("setting", "site", "value", "any words", "esc \x1b"),
        ("setting", "temperature_c", "value", "40", "40.1"),
        ("setting", "pressure_hpa", "value", "600", "599"),
    ],
)
def test_a_field_takes_what_fits_and_refuses_what_is_just_beyond(
    standing: Acting, kind: str, id: str, field: str, fits: Any, does_not: Any
) -> None:
    check_row(standing.record, kind, cells(standing, kind, id, **{field: fits}))
    assert refused(standing, kind, id, **{field: does_not}) == field


def test_a_required_field_that_is_empty_is_missing_and_an_unknown_one_is_refused(standing: Acting) -> None:
    for blank in ("", "   ", "\t"):
        assert refused(standing, "vessel", "V-17", name=blank) == "name"
    assert refused(standing, "vessel", "V-17", colour="blue") == "colour"
    with pytest.raises(UnknownCode):
        check_row(standing.record, "chemical", {"id": "x"})


def test_a_classification_is_read_by_the_statements_and_what_contradicts_itself_is_refused(
    standing: Acting,
) -> None:
    for right in (
        ("Carc. 1B H350",),
        ("not classified",),
        ("Not Classified",),
        (),
        ("Skin Corr. 1B H314", "EUH071"),
    ):
        check_row(standing.record, "substance", cells(standing, "substance", "K2CR2O7", classification=right))
    for wrong in (
        ("H350",),  # 1A or 1B: never guessed
        ("Carc. 1B H300",),
        ("Carc. 1B H999",),
        ("not classified", "Carc. 1B H350"),
        ("Skin Corr. 1B H314", "Skin Irrit. 2 H315"),
    ):
        assert refused(standing, "substance", "K2CR2O7", classification=wrong) == "classification"


def test_an_assay_needs_its_basis_and_a_hydrate_is_not_corrected_twice(standing: Acting) -> None:
    assert refused(standing, "lot", "AC-4", basis="") == "basis"
    assert refused(standing, "lot", "CD-7", assay_formula="") == "basis"
    assert refused(standing, "lot", "AC-4", assay="") == "assay_u"
    assert refused(standing, "lot", "AZ-1", assay_u="± 0.1") == "assay_u"
    assert refused(standing, "lot", "CD-7", water="", water_on="") == "water_u"
    assert refused(standing, "lot", "HG-3", status="blocked") == "status_reason"


def test_a_solution_has_a_concentration_in_a_solvent_with_an_uncertainty_in_the_same_unit(
    standing: Acting,
) -> None:
    stock = {
        "id": "ST-1", "substance": "NAN3", "solvent": "WATER", "concentration": "1.000 mg/g",
        "concentration_u": "0.004 mg/g",
    }  # fmt: skip
    check_row(standing.record, "lot", stock)
    for changed, field in (
        ({"solvent": ""}, "solvent"),
        ({"concentration": "", "concentration_u": ""}, "concentration"),
        ({"concentration": "1 %"}, "concentration"),
        ({"concentration_u": "4 ug/g"}, "concentration_u"),
        ({"concentration_u": "1.000 mg/g"}, "concentration_u"),
        ({"solvent": "NAN3"}, "solvent"),
        ({"assay": "99", "basis": "as-is"}, "assay"),
    ):
        with pytest.raises(BadField) as caught:
            check_row(standing.record, "lot", {**stock, **changed})
        assert caught.value.field == field


def test_a_row_may_refer_to_one_that_comes_in_beside_it(standing: Acting) -> None:
    new = {"id": "C-99", "lot": "NEW-1"}
    with pytest.raises(BadField, match="there is no lot 'NEW-1'"):
        check_row(standing.record, "container", new)
    assert check_row(standing.record, "container", new, beside={"lot": ["NEW-1"]}).id == "C-99"


def test_families_stand_by_their_ids_however_they_are_named(standing: Acting) -> None:
    row = check_row(standing.record, "rule", cells(standing, "rule", "7", families="acute 1-3; cmr_1"))
    assert row.to_body()["families"] == ["ACUTE_1_2", "ACUTE_3", "CMR_1"]


def test_a_setting_that_there_is_not_is_refused_with_the_nearest(standing: Acting) -> None:
    with pytest.raises(BadField, match="tolerance_percent"):
        check_row(standing.record, "setting", {"id": "tolerance", "value": "5"})
    for text, fits in (("30", True), ("30.5", False), ("0", False)):
        row = {"id": "expiry_days", "value": text}
        if fits:
            assert check_row(standing.record, "setting", row) == Setting(id="expiry_days", value="30")
        else:
            with pytest.raises(BadField):
                check_row(standing.record, "setting", row)


def test_capitals_alone_do_not_make_a_second_row(standing: Acting) -> None:
    with pytest.raises(BadField, match="K2CR2O7 is there already"):
        check_row(standing.record, "substance", {"id": "K2Cr2O7", "name": "again"})


def test_all_faults_of_a_row_are_given_for_a_form(standing: Acting) -> None:
    wrong = {"id": "a b", "name": "", "capacity": "20", "mass": "heavy"}
    assert [f.field for f in registers.faults_of(standing.record, "vessel", wrong)] == [
        "id",
        "name",
        "capacity",
        "mass",
    ]


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
    (row,) = [
        RawRow(2, registers_cells(row.to_body())) for row in rows(site.record, "lot") if row.id == "AC-4"
    ]
    assert take(site, "lot", (row,), "lot.csv").unchanged == ("AC-4",)
    assert refused(site, "lot", "AC-4", storage="elsewhere") == "status_reason"
