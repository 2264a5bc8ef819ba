"""Statements, classifications and families."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from store.errors import BadInput, UnknownCode
from store.hazards import catalogue, data, families, statements
from store.hazards.catalogue import check_set, classification, classifications, statement

EVERY = catalogue.statements()


def test_the_counts_are_those_of_the_checked_reference() -> None:
    plain = [c for c in EVERY if c.startswith("H") and "+" not in c]
    joined = [c for c in EVERY if "+" in c]
    supplemental = [c for c in EVERY if c.startswith("EUH")]
    assert (len(plain), len(joined), len(supplemental)) == (79, 12, 35)
    assert len(catalogue.precautions()) == 122


def test_every_row_has_text_source_and_how_far_it_was_checked() -> None:
    rows: list[catalogue.Statement | catalogue.Precaution] = [
        *EVERY.values(),
        *catalogue.precautions().values(),
    ]
    for row in rows:
        assert row.text
        assert row.source.startswith("CLP")
        assert row.checked in {
            "two or more independent sources",
            "two related secondary lists only",
            "four public lists agree; the law text itself was not seen",
        }
        assert row.edition == catalogue.EDITION


def test_every_h_statement_has_a_class_with_a_known_signal_word_and_pictograms() -> None:
    for row in EVERY.values():
        assert row.classes or row.code.startswith("EUH")
        for entry in row.classes:
            assert entry.signal_word in {"Danger", "Warning", ""}
            assert set(entry.pictograms) <= {f"GHS0{n}" for n in range(1, 10)}
            assert not entry.category or entry.code.endswith(entry.category) or entry.stem == entry.code


def test_a_code_that_is_not_there_is_refused_with_those_like_it() -> None:
    with pytest.raises(UnknownCode, match="H350"):
        statement("H35")
    with pytest.raises(UnknownCode, match="not in EU CLP"):
        statement("H227")
    with pytest.raises(UnknownCode, match="H230/H231"):
        statement("EUH006")


def test_case_and_blanks_in_a_code_do_not_matter_save_where_they_tell_two_apart() -> None:
    assert statement(" h350 I ").code == "H350i"
    assert statement("H360FD").text != statement("H360Fd").text
    with pytest.raises(UnknownCode):
        statement("h360fd")


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("Carc. 1B H350", "Carc. 1B H350"),
        ("carc 1b h350", "Carc. 1B H350"),
        ("Carc. 1B; H350", "Carc. 1B H350"),
        ("Acute Tox. 2* H330", "Acute Tox. 2* H330"),
        ("Acute Tox. 3*(oral) H301", "Acute Tox. 3* H301 (oral)"),
        ("STOT RE 1 H372 (lungs)", "STOT RE 1 H372 (lungs)"),
        ("Aquatic Acute 1 H400 (M=10)", "Aquatic Acute 1 H400 M=10"),
        ("Aquatic Chronic 1 H410 M = 100", "Aquatic Chronic 1 H410 M=100"),
        ("Press. Gas (Comp.) H280", "Press. Gas (Comp.) H280"),
        ("Acute Tox. 3 H301 + H311", "Acute Tox. 3 H301+H311"),
        ("EUH032", "EUH032"),
        ("H315", "Skin Irrit. 2 H315"),
    ],
)
def test_a_classification_is_read_and_written_back(typed: str, read: str) -> None:
    one = classification(typed)
    assert str(one) == read
    assert classification(str(one)) == one


@pytest.mark.parametrize("typed", ["H350", "H300", "Carc. 1B", "", "Foo 2 H350", "Carc. 1B H350 H351"])
def test_what_leaves_a_choice_is_refused_never_guessed(typed: str) -> None:
    with pytest.raises(BadInput):
        classification(typed)


@pytest.mark.parametrize("code", EVERY)
def test_every_class_of_every_statement_can_be_typed(code: str) -> None:
    for entry in EVERY[code].classes:
        one = classification(f"{entry.code} {code}")
        assert one.fits
        assert one.entries == (entry,)
        assert one.category == entry.category


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        (["Carc. 2 H350"], "Carc. 2 does not go with H350"),
        (["Skin Corr. 1B H314", "Eye Irrit. 2 H319"], "H319 does not stand beside it"),
        (["Skin Corr. 1B H314", "Skin Irrit. 2 H315"], "H315 does not stand beside it"),
        (["Eye Dam. 1 H318", "Eye Irrit. 2 H319"], "H319 does not stand beside it"),
        (["Carc. 1B H350", "Carc. 2 H351"], "H350 and H351 are degrees"),
        (["Acute Tox. 2 H330", "Acute Tox. 3 H331"], "H330 and H331 are degrees"),
        (["Acute Tox. 1 H300", "Acute Tox. 2 H300"], "one category is wrong"),
        (["STOT RE 1 H372", "STOT RE 2 H373"], "for the same organs"),
        (["Carc. 1B H350", "Carc. 1B H350"], "H350 stands twice"),
        (["Acute Tox. 3 H301 (dermal)"], "not the statement for the route dermal"),
        (["Aerosol 1 H222"], "H229, which is missing"),
        (["EUH001"], "no longer in force"),
    ],
)
def test_a_set_that_does_not_fit_is_pointed_out(texts: list[str], said: str) -> None:
    assert any(said in finding for finding in check_set(classifications(texts)))


@pytest.mark.parametrize(
    "texts",
    [
        ["Skin Corr. 1B H314", "Eye Dam. 1 H318"],
        ["STOT RE 1 H372 (lungs)", "STOT RE 2 H373 (kidney)"],
        ["Acute Tox. 2 H300", "Acute Tox. 3 H311", "Acute Tox. 2 H330"],
        ["Aquatic Acute 1 H400", "Aquatic Chronic 1 H410"],
        ["Carc. 1B H350", "Muta. 1B H340", "Repr. 1B H360FD"],
        ["STOT SE 3 H335", "STOT SE 3 H336"],
    ],
)
def test_a_set_that_fits_is_left_alone(texts: list[str]) -> None:
    assert check_set(classifications(texts)) == ()


def test_every_statement_has_a_family_or_is_listed_as_having_none() -> None:
    table = data.table("families.toml")
    listed = {
        code for part in ("codes", "codes_elsewhere") for codes in table[part].values() for code in codes
    }
    none = set(table["none"]["codes"])
    single = {code for code in EVERY if "+" not in code}
    assert single - listed - none == set()
    assert listed & none == set()
    assert {code for codes in table["codes"].values() for code in codes} <= single


def test_every_statement_has_hazard_words_of_its_own() -> None:
    for code, row in EVERY.items():
        texts = [f"{entry.code} {code}" for entry in row.classes] or [code]
        for words in families.hazard_words(classifications(texts)):
            assert words
            assert len(words) <= 45
            assert "{" not in words


def test_families_come_most_severe_first_and_flags_count() -> None:
    read = classifications(["Skin Irrit. 2 H315", "Carc. 1A H350", "Acute Tox. 1 H310"])
    assert families.of(read, hazardous_drug=True, inert_gas=True) == (
        "INERT_GAS", "ACUTE_1_2", "CMR_1", "HAZARDOUS_DRUG", "SKIN_ABSORPTION", "IRRITANT_NARCOTIC",
    )  # fmt: skip
    assert families.of([], no_data=True) == ("UNKNOWN",)
    assert families.of([]) == ()


def test_a_class_that_does_not_fit_its_statement_never_lowers_the_family() -> None:
    assert "CMR_1" in families.of(classifications(["Carc. 2 H350"]))
    assert "CMR_1" in families.of(classifications(["Carc. 1B H351"]))


def test_every_query_name_and_id_is_understood_and_another_is_refused() -> None:
    for name in families.queries():
        assert set(families.asked(name)) <= set(families.all_families())
    for id in families.all_families():
        assert families.asked(id.lower()) == (id,)
    reached = {id for name in families.queries() for id in families.asked(name)}
    assert reached == set(families.all_families())
    with pytest.raises(UnknownCode, match="CMR"):
        families.asked("cmr1")


@pytest.fixture
def second_edition(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    row = '[[statement]]\ncode = "H227"\ntext = "Combustible liquid"\nsource = "test"\nchecked = "test"\n'
    row += 'classes = [{ code = "Flam. Liq. 4", name = "Flammable liquids", category = "4", '
    row += 'signal_word = "Warning", pictograms = [] }]\n'
    (tmp_path / "statements_test.toml").write_text(f'edition = "test 1"\n{row}', encoding="utf-8")
    for name in ("statements.toml", "precautions.toml", "families.toml", "cautions.toml"):
        (tmp_path / name).write_bytes((Path(data.__file__).parent / name).read_bytes())
    caches = (data.table, data.tables, statements.statements, statements.precautions)
    for cached in caches:
        cached.cache_clear()
    monkeypatch.setattr(data, "files", lambda _: tmp_path)
    yield
    for cached in caches:
        cached.cache_clear()


@pytest.mark.usefixtures("second_edition")
def test_a_second_edition_is_a_file_and_no_code() -> None:
    assert catalogue.editions() == ("CLP 2025-09-01", "test 1")
    assert str(classification("H227", "test 1")) == "Flam. Liq. 4 H227"
    assert families.of([classification("H227", "TEST 1")]) == ("FLAMMABLE",)
    with pytest.raises(UnknownCode, match="test 1"):
        catalogue.edition_named("test 2")


def test_a_snapshot_is_plain_json_and_keeps_what_a_label_leaves_out() -> None:
    from store.hazards import snapshot

    taken = snapshot.take(["Aquatic Acute 1 H400", "Aquatic Chronic 1 H410"], skin_notation=True)
    assert json.loads(json.dumps(taken)) == taken
    assert [one["code"] for one in taken["statements"]] == ["H400", "H410"]
    assert taken["families"] == ["SKIN_ABSORPTION", "ENVIRONMENT"]
    assert taken["edition"] == catalogue.EDITION


def test_no_data_is_unknown_and_assessed_is_not() -> None:
    from store.hazards import snapshot

    nothing, assessed = snapshot.take([]), snapshot.take(["not classified"])
    assert (nothing["families"], nothing["no_data"]) == (["UNKNOWN"], True)
    assert (assessed["families"], assessed["no_data"], assessed["signal_word"]) == ([], False, None)
    with pytest.raises(BadInput, match="stands alone"):
        snapshot.take(["not classified", "Carc. 2 H351"])


def test_the_hazard_line_begins_with_the_strongest_signal_word_of_all_that_meet() -> None:
    from store.hazards import snapshot

    mild, severe = snapshot.take(["Skin Irrit. 2 H315"]), snapshot.take(["Carc. 1B H350"])
    assert families.hazard_line([mild, severe]) == ("DANGER", "skin irritant", "carcinogen 1B")
    assert families.hazard_line([mild])[0] == "WARNING"
    assert families.hazard_line([snapshot.take(["not classified"])]) == ("NO SIGNAL WORD",)
    assert families.hazard_line([snapshot.take([]), mild])[:2] == ("HAZARDS NOT KNOWN", "treat as the worst")
    assert "hazards not known: treat as the worst" in families.hazard_line([snapshot.take([]), severe])
    assert families.hazard_line([mild], ["INERT_GAS"])[-1] == families.short("INERT_GAS")
