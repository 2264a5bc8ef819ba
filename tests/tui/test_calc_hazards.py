"""`tarebook calc label-elements` and `tarebook calc mixing`."""

import json
from typing import Any

import pytest
from click.testing import CliRunner

from store.errors import BadInput, StoreError
from tui.cli.calc_hazards import commands, item, label_elements, mixing


def answer(*words: str) -> Any:
    command = {"label-elements": label_elements, "mixing": mixing}[words[0]]
    result = CliRunner().invoke(command, [*words[1:], "--format", "json"], catch_exceptions=False)
    assert result.exit_code == 0
    return json.loads(result.stdout)


def test_label_elements_gives_its_keys_and_a_source() -> None:
    got = answer("label-elements", "Carc. 1B H350", "Skin Irrit. 2 H315")
    assert got.pop("source").startswith("Regulation (EC) No 1272/2008")
    assert got == {
        "signal_word": "Danger",
        "pictograms": ["GHS08", "GHS07"],
        "statements": ["H350", "H315"],
        "omitted": [],
    }


def test_label_elements_names_what_was_left_out_and_why() -> None:
    got = answer(
        "label-elements", "Acute Tox. 3 H301", "Skin Irrit. 2 H315", "Aquatic Chronic 1 H410", "H400"
    )
    assert [one["code"] for one in got["omitted"]] == ["GHS07", "H400"]
    assert all(set(one) == {"code", "why"} and one["why"] for one in got["omitted"])


def test_no_signal_word_is_null() -> None:
    assert answer("label-elements", "Aquatic Chronic 3 H412")["signal_word"] is None
    assert answer("label-elements", "not classified")["pictograms"] == []


def test_a_set_that_does_not_fit_is_pointed_out_beside_the_answer() -> None:
    result = CliRunner().invoke(label_elements, ["Skin Corr. 1B H314", "Eye Irrit. 2 H319"])
    assert result.exit_code == 0
    assert "Check: H314 holds eye damage" in result.stderr


def test_mixing_gives_its_keys_and_a_source() -> None:
    got = answer("mixing", "sodium azide:0.0005:20 g:water", "nitric acid:0.02:1 g:water")
    assert set(got) == {"level", "rule", "happens", "instead", "under", "unchecked", "source"}
    assert "Prudent Practices" in got["source"]
    assert (got["level"], got["rule"], got["unchecked"]) == ("stop", "azide-acid", [])


def test_mixing_hears_where_it_happens() -> None:
    words = ("nitric acid:0.02:1 g:water", "acetonitrile:1:1 g")
    assert answer("mixing", *words)["level"] == "not checked"
    assert answer("mixing", *words, "--where", "waste")["level"] == "remind"


def test_the_table_says_that_not_checked_is_not_compatible() -> None:
    result = CliRunner().invoke(mixing, ["blue powder:1:?", "water:1:3 g"], catch_exceptions=False)
    assert "not the same as compatible" in result.stdout
    assert "blue powder" in result.stdout
    assert "safety data sheet" in result.stdout


@pytest.mark.parametrize("typed", ["sodium azide", "sodium azide:1", ":1:2 g", "a:1:2 g:water:5"])
def test_a_thing_without_its_parts_is_refused(typed: str) -> None:
    with pytest.raises(BadInput, match="parted by colons"):
        item(typed)


@pytest.mark.parametrize(
    "typed", ["sodium azide:x:2 g", "sodium azide:1:2", "sodium azide:1:2 mL", "sodium azide:5 %:1 g"]
)
def test_a_part_that_cannot_be_read_is_refused(typed: str) -> None:
    with pytest.raises(StoreError):
        item(typed)


def test_the_comma_is_a_decimal_sign_and_a_question_mark_counts_as_the_most() -> None:
    assert item("sodium azide:0,0005:1,5 g:water").fraction == 0.0005
    assert item("sodium azide:0,0005:1,5 g:water").mass_mg == 1500
    assert (item("a:?:?").fraction, item("a:?:?").mass_mg) == (1.0, float("inf"))


def test_both_commands_are_given_to_the_group() -> None:
    assert [command.name for command in commands] == ["label-elements", "mixing"]
