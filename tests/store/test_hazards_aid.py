"""Response statements, bands and generic limits."""

import pytest

from store.errors import OutOfRange
from store.hazards import statements
from store.hazards.bands import band
from store.hazards.classification import Classification, classifications
from store.hazards.data import table
from store.hazards.limits import generic
from store.hazards.responses import first_aid, responses


def codes_of(*texts: str) -> list[str]:
    return [one.code for one in responses(classifications(texts))]


def test_every_response_is_worded_and_stands_in_the_order() -> None:
    data = table("responses.toml")
    used = {code for codes in data["of"].values() for code in codes} | set(data["no_data"]["codes"])
    assert used == set(data["order"]["codes"])
    parts = {part for code in used for part in code.split("+")}
    assert parts <= set(statements.precautions())
    assert set(data["of"]) <= set(statements.statements())


def test_no_gap_for_a_supplier_is_left_on_the_card() -> None:
    every = [f"{e.code} {c}" for c, s in statements.statements().items() for e in s.classes[:1]]
    for one in responses(classifications(every), no_data=True):
        assert "..." not in one.text
        assert one.text.endswith(".")
        assert one.because


def test_the_milder_act_goes_beside_the_stronger() -> None:
    assert "P312" in codes_of("Acute Tox. 4 H332")
    assert "P312" not in codes_of("Acute Tox. 4 H332", "Acute Tox. 2 H330")
    assert "P302+P352" not in codes_of("Skin Irrit. 2 H315", "Skin Corr. 1B H314")
    assert codes_of("Acute Tox. 2 H300")[0] == "P301+P310"


def test_water_reactive_grains_are_brushed_off_before_any_water() -> None:
    codes = codes_of("Water-react. 1 H260", "Acute Tox. 3 H311")
    assert codes.index("P302+P335+P334") < codes.index("P302+P352")


def test_without_data_every_way_in_is_covered() -> None:
    ways = " ".join(one.text for one in first_aid((), no_data=True))
    for way in ("IF IN EYES", "IF ON SKIN", "IF INHALED", "IF SWALLOWED", "POISON CENTRE or a doctor"):
        assert way in ways


def test_fire_and_spill_are_apart_from_first_aid() -> None:
    read = classifications(["Flam. Liq. 2 H225", "Aquatic Chronic 1 H410"])
    kinds = {one.code: one.kind for one in responses(read)}
    assert (kinds["P370+P378"], kinds["P391"]) == ("fire", "spill")
    assert all(one.kind == "first aid" for one in first_aid(read))


@pytest.mark.parametrize(
    ("texts", "group"),
    [
        (["Skin Irrit. 2 H315"], "A"),
        (["Acute Tox. 4 H302"], "B"),
        (["Eye Dam. 1 H318"], "C"),
        (["Acute Tox. 2 H300"], "D"),
        (["Repr. 1B H360FD"], "D"),
        (["Carc. 2 H351"], "D"),
        (["Carc. 1B H350i"], "E"),
        (["Resp. Sens. 1 H334", "Acute Tox. 4 H302"], "E"),
        (["Muta. 2 H341"], "E"),
    ],
)
def test_the_highest_group_of_the_scheme_wins(texts: list[str], group: str) -> None:
    """HSE COSHH Essentials, technical basis: lists A to E as another institute prints them."""
    found = band(classifications(texts))
    assert found.group == group
    assert found.text.startswith(f"COSHH Essentials hazard group {group}")


def test_no_data_gives_no_group_and_a_statement_that_the_scheme_lacks_is_named() -> None:
    assert band((), no_data=True).group == ""
    assert "treat as the worst" in band((), no_data=True).text
    assert band(classifications(["EUH071"])).not_in_scheme == ("EUH071",)


@pytest.mark.parametrize(
    ("text", "below", "on"),
    [
        ("Carc. 1B H350", 0.00099, 0.001),
        ("Muta. 2 H341", 0.0099, 0.01),
        ("Repr. 1B H360D", 0.0029, 0.003),
        ("Repr. 2 H361f", 0.029, 0.03),
        ("Resp. Sens. 1 H334", 0.0099, 0.01),
        ("Skin Sens. 1A H317", 0.00099, 0.001),
        ("STOT RE 2 H373", 0.099, 0.10),
        ("STOT SE 3 H335", 0.199, 0.20),
        ("Eye Dam. 1 H318", 0.029, 0.03),
        ("Skin Irrit. 2 H315", 0.099, 0.10),
        ("Eye Irrit. 2 H319", 0.099, 0.10),
        ("Lact. H362", 0.0029, 0.003),
        ("Asp. Tox. 1 H304", 0.099, 0.10),
        ("Aquatic Acute 1 H400", 0.249, 0.25),
        ("Aquatic Acute 1 H400 M=100", 0.00249, 0.0025),
        ("Aquatic Chronic 1 H410 M=10", 0.0249, 0.025),
        ("ED HH 2 EUH381", 0.0099, 0.01),
    ],
)
def test_the_generic_limit_of_the_class_is_reached_on_it_and_not_a_hair_below(
    text: str, below: float, on: float
) -> None:
    """CLP Annex I, parts 3 and 4, from memory; the limit after which the mixture is classified the same."""

    def same(fraction: float) -> list[bool]:
        of = generic(classifications([text]), fraction=fraction)
        return [one.reached for one in of if one.becomes.startswith("the same")]

    assert same(below) == [False]
    assert same(on) == [True]


def test_below_its_limit_a_sensitiser_is_named_on_the_label_from_a_tenth_of_it() -> None:
    """CLP Annex II, 2.8 (EUH208) with Annex I, table 3.4.6, from memory."""

    def named(fraction: float, text: str) -> list[str]:
        return [one.becomes for one in generic([text], fraction=fraction) if one.reached]

    assert named(0.0009, "Skin Sens. 1 H317") == []
    assert named(0.001, "Skin Sens. 1 H317") == ["named on the label (EUH208)"]
    assert named(0.0001, "Skin Sens. 1A H317") == ["named on the label (EUH208)"]
    assert named(0.01, "Skin Sens. 1 H317") == ["the same"]


def test_a_corrosive_becomes_an_irritant_between_one_and_five_percent() -> None:
    read = classifications(["Skin Corr. 1B H314"])

    def reached(fraction: float) -> list[str]:
        return [one.becomes for one in generic(read, fraction=fraction) if one.reached]

    assert [reached(f) for f in (0.0099, 0.01, 0.03, 0.0499, 0.05)] == [
        [],
        ["irritant"],
        ["irritant", "serious eye damage"],
        ["irritant", "serious eye damage"],
        ["corrosive"],
    ]


def test_a_milder_limit_that_a_stricter_one_ends_is_not_said_to_be_reached_or_missed() -> None:
    weak = next(one for one in generic(["STOT RE 1 H372"], fraction=0.5) if one.below < 1)
    assert (weak.reached, weak.passed) == (False, True)
    assert "(passed;" in weak.text


def test_a_limit_says_that_it_is_information_and_names_its_source() -> None:
    (one,) = generic(classifications(["Carc. 1B H350"]), fraction=0.0)
    assert "for information" in one.text
    assert "from memory" in one.source
    with pytest.raises(OutOfRange):
        generic((), fraction=1.1)


def test_every_class_that_has_a_limit_is_a_class_of_the_statements() -> None:
    known = {entry.code for one in statements.statements().values() for entry in one.classes}
    assert {code for row in table("limits.toml")["limit"] for code in row["classes"]} <= known


def test_the_text_of_a_classification_has_the_limits_of_the_classification() -> None:
    texts = [
        "Acute Tox. 2* H330 (inhalation)",
        "Aquatic Acute 1 H400 M=10",
        "STOT RE 2 H373 (brain)",
        "EUH032",
    ]
    assert generic(texts, fraction=0.01) == generic(classifications(texts), fraction=0.01)
    assert [one.class_code for one in generic(texts, fraction=0.01)] == [
        "Acute Tox. 2",
        "Aquatic Acute 1",
        "STOT RE 2",
    ]


def test_the_class_is_read_out_of_what_a_snapshot_holds_as_the_classification_has_it() -> None:
    """Every class that has a limit, with each of its statements and all that may be written behind."""
    limited = {code for row in table("limits.toml")["limit"] for code in row["classes"]}
    for code, stated in statements.statements().items():
        for name in limited & {entry.code for entry in stated.classes}:
            full = Classification(name, code, minimum=True, m_factor=10, detail="lungs")
            for one in (Classification(name, code), full):
                assert {limit.class_code for limit in generic([str(one)], fraction=0.01)} == {name}
