"""A classification entered for a solution: used below its ceiling alone, on the label and in plans."""

from dataclasses import replace
from datetime import date
from random import Random
from typing import Any

import pytest

from store.actions import planning
from store.actions.planning import gather
from store.actions.registers import faults_of
from store.model.decisions import Mixture
from store.procedure import entered
from store.queries import exposures, registers
from store.queries.asked import asked
from store.record.record import Record
from tests import several, site
from tui.guide.labels import data_of
from tui.guide.player import Player

ROW: dict[str, Any] = {
    "id": "MX-1", "substance": "K2CR2O7", "solvent": "WATER", "below": "0.2",
    "classification": ["Skin Sens. 1 H317"], "reason": "own patch data", "classified_by": "so-1",
    "since": "2026-01-01",
}  # fmt: skip


def played(record: Record, clock: site.TestClock, **plan: Any) -> str:
    prep = planning.write(site.acting(record), replace(site.PLAN, **plan))
    guide = site.guide(record, prep, clock)
    Player(guide, time=clock.time, chance=Random(3), show=None).play()
    assert guide.finished
    return prep


def covering(rows: list[dict[str, Any]], fraction: float) -> Mixture | None:
    """Look a solution of potassium dichromate in water up on the day of the tests."""
    return entered.covering(
        rows, substance="K2CR2O7", solvent="WATER", fraction=fraction, today=date(2026, 3, 2)
    )


def codes(record: Record, prep: str, kind: Any = "final") -> list[str]:
    return [code for code, _ in data_of(record, record.prep_state(prep), kind).statements]


@pytest.mark.parametrize(
    ("fraction", "holds"), [(0.0, True), (0.001999, True), (0.002, False), (0.002001, False), (1.0, False)]
)
def test_a_class_is_used_below_its_ceiling_and_neither_at_it_nor_above(fraction: float, holds: bool) -> None:
    assert (covering([ROW], fraction) is not None) == holds


@pytest.mark.parametrize(
    ("field", "value"), [("solvent", "ACN"), ("substance", "NAN3"), ("since", "2026-03-03")]
)
def test_a_class_is_for_its_substance_its_solvent_and_from_its_day(field: str, value: str) -> None:
    assert covering([{**ROW, field: value}], 0.001) is None


def test_of_two_ceilings_the_lower_one_that_fits_is_used() -> None:
    rows = [ROW, {**ROW, "id": "MX-2", "below": "0.05"}, {**ROW, "id": "MX-3", "below": "1"}]

    def id(fraction: float) -> str:
        found = covering(rows, fraction)
        return found.id if found is not None else ""

    assert [id(x) for x in (0.0004, 0.0005, 0.002, 0.01)] == ["MX-2", "MX-1", "MX-3", ""]


def test_the_final_label_takes_what_was_entered_and_says_who_answers_for_it(
    record: Record, clock: site.TestClock
) -> None:
    site.put(record, "mixture", ROW)
    prep = played(record, clock)
    assert codes(record, prep) == ["H317"]
    assert "H350" in codes(record, prep, "pre-label")  # nothing is known to be dilute before it is made
    label = data_of(record, record.prep_state(prep), "final")
    assert label.signal_word == "Warning"
    assert "MX-1 (entered by so-1)" in label.edition
    assert label.contains == ("potassium dichromate",)


@pytest.mark.parametrize("below", ["0.1", "0.05"])
def test_a_solution_that_is_not_below_the_ceiling_keeps_the_hazards_of_what_it_is_made_of(
    record: Record, clock: site.TestClock, below: str
) -> None:
    # Aimed at 1 mg/g of a substance of 99.9 %: the powder is 0.1001 % of the mass.
    site.put(record, "mixture", {**ROW, "below": below})
    prep = played(record, clock)
    assert {"H350", "H340", "H334"} <= set(codes(record, prep))


def test_without_an_entry_dilution_lowers_nothing(record: Record, clock: site.TestClock) -> None:
    prep = played(record, clock)
    assert {"H350", "H340", "H334"} <= set(codes(record, prep))


def test_the_powder_itself_keeps_its_families_in_the_plan(record: Record) -> None:
    site.put(record, "mixture", ROW)
    assert "CMR_1" in gather(record, site.PLAN)["hazards"]["K2CR2O7"]["families"]


@pytest.mark.parametrize(
    ("strength", "lowered"), [("1.000 mg/g", True), ("1.999 mg/g", True), ("2.000 mg/g", False)]
)
def test_a_stock_below_the_ceiling_is_handled_with_the_hazards_entered_for_it(
    record: Record, strength: str, lowered: bool
) -> None:
    site.put(record, "mixture", ROW)
    lot = {"id": "S-1", "substance": "K2CR2O7", "concentration": strength, "solvent": "WATER"}
    hazards = entered.of_lots([ROW], [lot], gather(record, site.PLAN)["substances"], date(2026, 3, 2))
    assert (hazards.get("K2CR2O7", {}).get("families") == ["SKIN_SENS"]) == lowered
    both = [lot, registers.body(record, "lot", "KD-2")]
    assert not entered.of_lots([ROW], both, gather(record, site.PLAN)["substances"], date(2026, 3, 2))


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [("classified_by", "op-1", "neither safety officer nor reviewer"), ("reason", "", "reason"),
     ("solvent", "K2CR2O7", "no solution"), ("classification", "Carc. 1B H999", "H999"),
     ("below", "-1", "below")],
)  # fmt: skip
def test_only_who_answers_for_it_may_enter_one_and_only_with_a_reason(
    record: Record, field: str, value: str, says: str
) -> None:
    cells = {k: v[0] if isinstance(v, list) else v for k, v in ROW.items()}
    assert faults_of(record, "mixture", cells) == ()
    found = faults_of(record, "mixture", {**cells, field: value})
    assert [f for f in found if f.field == field and says in str(f)]


def test_one_solution_has_one_class_below_one_strength(record: Record) -> None:
    site.put(record, "mixture", ROW)
    cells = {k: v[0] if isinstance(v, list) else v for k, v in ROW.items()}
    for below in ("0.2", "0,2", "0.200"):
        again = faults_of(record, "mixture", {**cells, "id": "MX-2", "below": below})
        assert [f.field for f in again] == ["below"]
    assert faults_of(record, "mixture", {**cells, "id": "MX-2", "below": "0.3"}) == ()


def test_of_two_classes_for_one_strength_neither_holds() -> None:
    other = {**ROW, "id": "MX-2", "below": "0,20", "classification": ["not classified"]}
    assert covering([ROW], 0.001) is not None
    assert covering([ROW, other], 0.001) is None
    nearer = covering([ROW, other, {**ROW, "id": "MX-3", "below": "0.15"}], 0.001)
    assert nearer is not None
    assert nearer.id == "MX-3"


@pytest.mark.parametrize(("below", "lowered"), [("0.1001", True), ("0.1", False)])
def test_a_dilution_from_a_stock_is_planned_and_logged_with_the_hazards_entered_for_the_stock(
    record: Record, clock: site.TestClock, below: str, lowered: bool
) -> None:
    # The stock holds 1.0003 mg/g, 0.10003 % by mass.
    several.begin(record)
    site.put(record, "mixture", {**ROW, "below": below})
    plan = several.series("100.0 ug/g")
    found = planning.explain(site.acting(record), plan)
    assert any("MX-1: K2CR2O7 in WATER" in f.what for f in found.findings) == lowered
    prep = planning.write(site.acting(record), plan)
    guide = site.guide(record, prep, clock)
    Player(guide, time=clock.time, chance=Random(3), show=None).play()
    assert guide.finished
    assert exposures.rows(record, asked(record, substance="K2CR2O7"), limit=-1)
    assert bool(exposures.rows(record, asked(record, family="CMR_1"), limit=-1)) != lowered
    assert bool(exposures.rows(record, asked(record, family="SKIN_SENS"), limit=-1)) == lowered
