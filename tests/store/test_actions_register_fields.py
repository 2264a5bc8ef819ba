from collections.abc import Iterator
from typing import Any

import pytest

from store.actions import registers, row_checks
from store.actions.acting import Acting
from store.actions.known import Known
from store.actions.registers import check_field, check_row, faults_of
from store.errors import BadField, UnknownCode
from store.model.registers import REGISTERS, Setting, columns, required
from tests.store.sample_site import cells, empty, refused, take_all


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Acting]:
    """The same site for tests that write nothing."""
    acting = empty(tmp_path_factory.mktemp("standing") / "site.tarebook")
    take_all(acting)
    yield acting
    acting.record.close()


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
        ("person", "op-1", "left", "2022-04-01", "2022-03-31"),
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


@pytest.mark.parametrize("register", REGISTERS)
def test_every_needed_field_of_every_register_is_missed_by_name_while_nothing_is_typed(
    standing: Acting, register: str
) -> None:
    missed = {fault.field for fault in faults_of(standing.record, register, {})}
    assert missed >= set(required(register))
    for column in columns(register):
        if column.name in required(register):
            with pytest.raises(BadField, match="this is missing"):
                check_field(Known(standing.record), register, column.name, "")
        else:
            check_field(Known(standing.record), register, column.name, "")


def test_a_classification_is_read_by_the_statements_and_one_that_cannot_be_read_is_refused(
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
        ("Carc. 1B H999",),
        ("not classified", "Carc. 1B H350"),
    ):
        assert refused(standing, "substance", "K2CR2O7", classification=wrong) == "classification"


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        (("Carc. 1B H300",), "Carc. 1B does not go with H300"),
        (("Skin Corr. 1B H314", "Skin Irrit. 2 H315"), "H315 does not stand beside it"),
        (("Skin Corr. 1B H314", "EUH071"), ""),
    ],
)
def test_classes_that_do_not_fit_together_are_taken_and_pointed_out(
    standing: Acting, texts: tuple[str, ...], says: str
) -> None:
    # A safety data sheet may say so: what is written there is what is entered, every statement counts.
    typed = cells(standing, "substance", "K2CR2O7", classification=texts)
    found = row_checks.remarks(check_row(standing.record, "substance", typed))
    assert any(says in remark for remark in found) if says else found == ()


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
