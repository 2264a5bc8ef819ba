"""Mixing rules: form of the tables, floors in pairs, and the worked cases."""

import json
import tomllib
from math import inf
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from store.errors import OutOfRange, UnknownCode
from store.hazards import mixing, mixing_list
from store.hazards.data import table
from store.hazards.mixing import Item, Part, meet
from store.hazards.statements import statements
from store.model.decisions import PLACES

DATA: dict[str, Any] = dict(table("mixing.toml"))
CASES: list[dict[str, Any]] = tomllib.loads(
    Path(__file__).with_name("mixing_cases.toml").read_text(encoding="utf-8")
)["case"]
RULES = DATA["rule"]
ORDERED = {rule["id"] for rule in RULES if "first" in rule}


def partners_of(rule: dict[str, Any]) -> list[dict[str, Any]]:
    return [rule[key] for key in "abc" if key in rule]


def item_of(row: dict[str, Any]) -> Item:
    parts = tuple(
        Part(p.get("name", ""), p["fraction"], tuple(p.get("tags", ()))) for p in row.get("parts", ())
    )
    return Item(
        row["name"],
        row.get("strength", 1.0),
        row.get("mass_mg", inf),
        row.get("in", ""),
        statements=tuple(row.get("h", ())),
        parts=parts,
    )


@pytest.mark.parametrize("case", CASES, ids=[f"{c['id']} {c['note']}" for c in CASES])
def test_a_worked_case_gives_its_verdict(case: dict[str, Any]) -> None:
    items = [item_of(row) for row in case["items"]]
    verdict = meet(items, case["where"])
    assert (verdict.level, verdict.rule) == (case["level"], case["rule"])
    assert set(case.get("also", ())) <= set(verdict.others)
    assert set(case.get("under", ())) <= set(verdict.under)
    assert len(verdict.unchecked) == case.get("unchecked", 0)
    if not ORDERED & {verdict.rule, *verdict.others}:
        turned = meet(items[::-1], case["where"])
        assert (turned.level, turned.rule) == (verdict.level, verdict.rule)


def test_no_case_stands_twice_and_each_rule_of_azide_and_cyanide_is_touched() -> None:
    assert len(CASES) == 69
    assert len({json.dumps([c["where"], c["items"]], sort_keys=True) for c in CASES}) == len(CASES)
    touched = set()
    for case in CASES:
        verdict = meet([item_of(row) for row in case["items"]], case["where"])
        touched |= {verdict.rule, *verdict.others, *verdict.under}
    assert {
        "azide-acid",
        "azide-heavy-metal",
        "azide-halogenated",
        "cyanide-acid",
        "hypochlorite-acid",
    } <= touched


@pytest.mark.parametrize("rule", RULES, ids=[rule["id"] for rule in RULES])
def test_a_rule_speaks_on_its_floors_and_not_a_hair_below(rule: dict[str, Any]) -> None:
    partners = partners_of(rule)
    if "first" in rule:
        partners.sort(key=lambda partner: bool(partner["tag"] != rule["first"]))

    def level(weak: str = "", light: str = "", turned: bool = False) -> str:
        pieces = []
        for number, partner in enumerate(reversed(partners) if turned else partners):
            fraction = partner["least_fraction"] * (0.99 if partner["tag"] == weak else 1)
            floor = max(partner["least_mg"], partner.get("ignore_mg", 0))
            mass = partner["least_mg"] * 0.99 if partner["tag"] == light else floor
            pieces.append(mixing.Piece(number, mixing_list.with_implied([partner["tag"]]), fraction, mass))
        return mixing.match(rule, pieces)[0]

    assert level() == rule["level"]
    assert level(turned=True) == rule.get("wrong_order", rule["level"])
    for partner in partners:
        assert level(weak=partner["tag"]) == ""
        if rule["level"] == "stop" and partner["least_mg"]:
            assert level(light=partner["tag"]) == "warn"


def test_names_resolve_lines_fit_and_floors_are_fractions() -> None:
    tags = {tag["name"] for tag in DATA["tag"]}
    for kind, key in (("tag", "name"), ("rule", "id"), ("substance", "name"), ("mixture", "name")):
        names = [row[key] for row in DATA[kind]]
        assert len(names) == len(set(names))
    for tag in DATA["tag"]:
        assert 0 < len(tag["means"]) <= 100
        assert set(tag.get("implies", ())) <= tags
    for rule in RULES:
        assert rule["level"] in mixing.LEVELS[1:]
        assert rule["source"]
        assert rule["from_memory"] is ("from memory" in rule["source"])
        assert set(rule["applies_in"]) <= set(PLACES)
        assert all(0 < len(rule[k]) <= 76 for k in ("happens", "instead"))
        assert len(rule.get("order", "")) <= 76
        assert rule.get("first", rule["a"]["tag"]) in [p["tag"] for p in partners_of(rule)]
        for partner in partners_of(rule):
            assert partner["tag"] in tags
            assert 0 < partner["least_fraction"] <= 1
            assert partner["least_mg"] >= 0
    for row in DATA["substance"]:
        assert set(row["tags"]) <= tags
    for row in DATA["mixture"]:
        assert all(0 < part["fraction"] <= 1 and set(part.get("tags", ())) <= tags for part in row["parts"])


def test_no_rule_calls_anything_safe() -> None:
    assert not [
        r["id"] for r in RULES if "safe" in (r["happens"] + r["instead"]).lower().replace("safety", "")
    ]


def test_a_rule_asks_for_every_tag() -> None:
    used = {partner["tag"] for rule in RULES for partner in partners_of(rule)}
    assert [tag["name"] for tag in DATA["tag"] if not mixing_list.with_implied([tag["name"]]) & used] == []


def test_every_statement_that_gives_a_tag_exists_or_belongs_to_another_edition() -> None:
    elsewhere = {"H209", "H210", "H211", "H227", "EUH006"}
    codes = {code for tag in DATA["tag"] for code in tag.get("from_h", ())}
    assert codes - set(statements()) <= elsewhere


def test_every_waste_stream_and_cleaning_liquid_is_there() -> None:
    assert set(mixing_list.mixtures("waste")) == {
        "halogenated waste", "non-halogenated waste", "aqueous acid waste", "aqueous base waste",
        "heavy-metal waste", "solid waste", "aqueous waste", "chromate waste", "azide waste", "mercury waste",
        "organic toxic waste",
    }  # fmt: skip
    assert {"70 % ethanol", "0.5 % hypochlorite", "detergent solution"} <= set(
        mixing_list.mixtures("cleaning")
    )


def test_dilute_nitric_acid_with_acetonitrile_does_not_stop_the_day() -> None:
    verdict = meet([Item("nitric acid", 0.02, 20_000, "water"), Item("acetonitrile", 1, 20_000)])
    assert verdict.level == "not checked"
    assert "nitric-organic" in verdict.under


def test_azide_with_acid_stops_the_day() -> None:
    verdict = meet([Item("sodium azide", 0.0005, 20_000, "water"), Item("nitric acid", 0.02, 1000, "water")])
    assert (verdict.level, verdict.rule) == ("stop", "azide-acid")
    assert verdict.happens.startswith("Hydrogen azide")


def test_below_the_mass_floor_a_stop_is_a_warning_and_on_it_a_stop() -> None:
    def level(mass_mg: float) -> str:
        return meet([Item("sodium azide", 1, mass_mg), Item("nitric acid", 0.02, 1000, "water")]).level

    assert (level(0.99), level(1.0)) == ("warn", "stop")


def test_an_unknown_name_is_reported_even_when_a_rule_speaks() -> None:
    verdict = meet([Item("sodium azide"), Item("nitric acid", 0.02), Item("blue powder")])
    assert verdict.level == "stop"
    assert verdict.unchecked == ("the rest of nitric acid", "blue powder")


def test_nothing_found_is_never_called_compatible() -> None:
    verdict = meet([Item("sodium chloride"), Item("water")])
    assert verdict.level == "not checked"
    assert "NOT CHECKED" in verdict.sentences[0]


def test_unknown_strength_and_mass_count_as_the_most() -> None:
    assert meet([Item("hydrogen peroxide"), Item("acetone")]).level == "stop"


def test_tags_of_the_register_make_a_name_known() -> None:
    own = Item("our cyanide standard", 0.001, 1000, "water", tags=("cyanide_salt",))
    verdict = meet([own, Item("nitric acid", 0.02, 1000, "water")])
    assert (verdict.level, verdict.unchecked) == ("stop", ())


def test_a_tag_or_place_that_there_is_not_is_refused() -> None:
    with pytest.raises(UnknownCode, match="cyanide_salt"):
        meet([Item("x", tags=("cyanide",)), Item("water")])
    with pytest.raises(UnknownCode, match="cleaning"):
        meet([Item("water")], "drain")


@pytest.mark.parametrize("fraction", [-0.001, 1.001, float("nan")])
def test_a_mass_fraction_outside_0_to_1_is_refused(fraction: float) -> None:
    with pytest.raises(OutOfRange, match="0 to 1"):
        meet([Item("water", fraction)])


NAMES = [row["name"] for row in DATA["substance"]] + [row["name"] for row in DATA["mixture"]]
ITEMS = st.builds(
    Item, st.sampled_from([*NAMES, "blue powder"]), st.sampled_from([1.0, 0.3, 0.01, 1e-4]),
    st.sampled_from([inf, 1000.0, 5.0]), st.just("water"),
)  # fmt: skip


@given(st.lists(ITEMS, min_size=2, max_size=3), st.sampled_from(PLACES))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_more_of_a_thing_never_lowers_the_level(items: list[Item], where: str) -> None:
    from dataclasses import replace

    more = [replace(item, mass_mg=inf) for item in items]
    before, after = meet(items, where).level, meet(more, where).level
    assert mixing.LEVELS.index(after) >= mixing.LEVELS.index(before)


@given(st.lists(ITEMS, min_size=1, max_size=3), ITEMS, st.sampled_from(PLACES))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_a_further_thing_never_lowers_the_level(items: list[Item], further: Item, where: str) -> None:
    before, after = meet(items, where).level, meet([*items, further], where).level
    assert mixing.LEVELS.index(after) >= mixing.LEVELS.index(before)
