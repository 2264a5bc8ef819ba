"""The site's own waste streams and cleaning liquids: what is in them decides what may go into them."""

from dataclasses import replace
from typing import Any

import pytest

from store.actions import now_checks, planning
from store.actions.planning import Explained
from store.actions.registers import faults_of
from store.queries import registers
from store.record.record import Record
from tests import site

ROW: dict[str, Any] = {
    "id": "W-1", "name": "Chromium, aqueous", "kind": "waste", "approved_by": "so-1", "since": "2026-03-01",
    "holds": ["water: 40", "organic_solvent: 60"],
}  # fmt: skip
STRONG = replace(site.PLAN, target="80 mg/g")


def explained(record: Record) -> Explained:
    return planning.explain(site.acting(record), STRONG)


def of_waste(found: Explained) -> str:
    return " ".join(f.what for f in found.findings if "in waste stream" in f.what)


def test_a_stream_of_the_sites_own_is_not_checked_until_somebody_says_what_is_in_it(record: Record) -> None:
    before = explained(record)
    assert "Not checked, not in the list: chromium, aqueous" in of_waste(before)
    assert not before.stops
    site.put(record, "stream", ROW)
    after = explained(record)
    assert "must not meet" in of_waste(after)
    assert "chromate-organic" in of_waste(after)
    assert any("in waste stream chromium, aqueous" in stop for stop in after.stops)
    assert "not in the list" not in of_waste(after)


@pytest.mark.parametrize(("water", "told"), [("98", True), ("99.5", False)])
def test_what_a_stream_does_not_account_for_is_not_checked(record: Record, water: str, told: bool) -> None:
    site.put(record, "stream", {**ROW, "holds": [f"water: {water}"]})
    found = " ".join(f.what for f in explained(record).findings)
    assert ("the rest of Chromium, aqueous" in found) is told


def test_a_component_may_be_a_substance_of_the_register_known_by_its_statements(record: Record) -> None:
    site.put(record, "substance", {"id": "THINNER", "name": "thinner of the house", "form": "liquid",
                                   "classification": ["Flam. Liq. 2 H225"]})  # fmt: skip
    site.put(record, "stream", {**ROW, "holds": ["water: 40", "THINNER: 60"]})
    found = explained(record)
    assert "chromate-organic" in of_waste(found)
    assert "thinner of the house" in of_waste(found)  # its name is in no list, which is said beside it


def test_a_cleaning_liquid_of_the_sites_own_is_known_too(record: Record) -> None:
    row = registers.body(record, "enclosure", "E-1")
    site.put(record, "enclosure", {**row, "cleaning": ["yellow bottle"]})
    said = " ".join(f.what for f in explained(record).findings)
    assert "not in the list: yellow bottle, chromium, aqueous" in said
    site.put(record, "stream", {**ROW, "id": "L-1", "name": "yellow bottle", "kind": "cleaning",
                                "holds": ["ethanol: 60", "water: 40"]})  # fmt: skip
    assert any("yellow bottle when cleaning must not meet" in stop for stop in explained(record).stops)


def test_what_is_in_a_stream_by_now_counts_at_the_step_and_not_only_what_was_planned(record: Record) -> None:
    site.put(record, "stream", {**ROW, "holds": ["water: 100"]})
    prep = planning.write(site.acting(record), site.PLAN)
    site.put(record, "stream", ROW)
    state = record.prep_state(prep)
    assert [p["name"] for p in state.basis["streams"]["chromium, aqueous"]] == ["water"]
    now = now_checks.as_now(site.acting(record), state)
    assert [p["tags"] for p in now["streams"]["chromium, aqueous"]] == [[], ["organic_solvent"]]


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("holds", ("water: 40", "nitric acd: 5"), "nitric acid"),
        ("holds", ("water: 40", "water: 50"), "twice"),
        ("holds", ("water",), "colon"),
        ("holds", ("water: 101",), "percent"),
        ("approved_by", "op-1", "neither safety officer nor reviewer"),
        ("kind", "drain", "waste"),
    ],
)
def test_a_row_that_cannot_be_relied_on_is_refused_beside_its_field(
    record: Record, field: str, value: str | tuple[str, ...], sentence: str
) -> None:
    cells = {k: tuple(v) if isinstance(v, list) else v for k, v in ROW.items()}
    assert faults_of(record, "stream", cells) == ()
    (found,) = faults_of(record, "stream", {**cells, field: value})
    assert found.field == field
    assert sentence in found.what


def test_two_rows_of_one_name_are_refused(record: Record) -> None:
    site.put(record, "stream", ROW)
    cells = {k: tuple(v) if isinstance(v, list) else v for k, v in ROW.items()}
    (found,) = faults_of(record, "stream", {**cells, "id": "W-2", "name": "CHROMIUM, aqueous"})
    assert "W-1 has this name already" in found.what
