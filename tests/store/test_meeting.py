"""What a prep brings together is looked up before anything is opened."""

from dataclasses import replace
from typing import Any

import pytest

from store.actions import planning
from store.errors import NeedsSecondPerson
from store.queries import registers
from store.record.record import Record
from tests import site


def liquid(record: Record, id: str, name: str, *, assay: str = "", **more: Any) -> None:
    """Enter a solvent with one lot and one container."""
    row = {"id": id, "name": name, "form": "liquid", "density": "1.0 g/mL", **more}
    site.put(record, "substance", {"classification": ["not classified"], **row})
    lot = {"id": f"L-{id}", "substance": id, **({"assay": assay, "basis": "as-is"} if assay else {})}
    site.put(record, "lot", lot)
    site.put(record, "container", {"id": f"B-{id}", "lot": f"L-{id}", "content": "1 kg"})


def azide(record: Record) -> None:
    """Enter sodium azide as the solute."""
    row = registers.body(record, "substance", "K2CR2O7")
    name = {"name": "sodium azide", "cas": "26628-22-8", "formula": "NaN3"}
    site.put(record, "substance", {**row, **name, "classification": ["Acute Tox. 2 H300"]})


def said(record: Record, solvent: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Give what stops the plan and what is only said, of what meets."""
    found = planning.explain(site.acting(record), replace(site.PLAN, solvent_container=f"B-{solvent}"))
    met = [f for f in found.findings if f.group == "mixing"]
    return tuple(f.what for f in met if f.stop), tuple(f.what for f in met if not f.stop)


def test_azide_in_acid_stops_the_plan_until_a_second_person_lets_it_through(record: Record) -> None:
    # Hydrazoic acid from azide and acid: common practice, see the source in mixing.toml.
    azide(record)
    liquid(record, "ACID", "nitric acid", assay="2")
    stops, _ = said(record, "ACID")
    assert any("must not meet" in s for s in stops)
    with pytest.raises(NeedsSecondPerson, match="must not meet"):
        planning.write(site.acting(record), replace(site.PLAN, solvent_container="B-ACID"))


def test_azide_in_water_does_not_stop_the_plan(record: Record) -> None:
    azide(record)
    found = planning.explain(site.acting(record), site.PLAN)
    assert not [s for s in found.stops if "meet" in s]


@pytest.mark.parametrize(("target", "stops"), [("1.000 mg/g", False), ("200 mg/g", True)])
def test_an_oxidiser_in_an_organic_solvent_warns_in_milligrams_and_stops_in_grams(
    record: Record, target: str, stops: bool
) -> None:
    liquid(record, "ACETONE", "acetone")
    plan = replace(site.PLAN, solvent_container="B-ACETONE", target=target)
    met = [f for f in planning.explain(site.acting(record), plan).findings if f.group == "mixing"]
    assert any(f.stop for f in met) == stops
    assert any(f.what.startswith("warning") for f in met) != stops


def test_no_rule_says_not_checked_and_never_compatible(record: Record) -> None:
    liquid(record, "ODD", "a liquid that nobody listed")
    stops, notes = said(record, "ODD")
    assert not stops
    assert any("not checked" in n for n in notes)
    assert not any("compatible" in n for n in notes)
