"""What meets in a prep that is really played: at the plan, at the step, with an approved procedure."""

from dataclasses import replace
from random import Random
from typing import Any

import pytest

from store.actions import planning
from store.actions.acting import LetThrough
from store.errors import NeedsSecondPerson
from store.model.words import ActKind
from store.procedure import warned
from store.queries import registers
from store.record.record import Record
from tests import site
from tui.guide import keys
from tui.guide.guide import Guide
from tui.guide.player import Player

ACID = replace(site.PLAN, solvent_container="B-ACID", target="1.000 mg/g")
"""Finished, the solution holds 0.1 % of the solute by mass (1 mg/g), less what the assay lacks."""


def solute(record: Record, name: str, cas: str, classification: list[str]) -> None:
    """Let the container of the plan hold another substance."""
    row = dict(registers.body(record, "substance", "K2CR2O7")) | {"formula": "", "waste_stream": ""}
    site.put(record, "substance", row | {"name": name, "cas": cas, "classification": classification})


def solvent(record: Record, id: str, name: str, assay: str, form: str = "liquid") -> None:
    row = {
        "id": id,
        "name": name,
        "form": form,
        "density": "1.0 g/mL",
        "classification": ["Skin Irrit. 2 H315"],
    }
    site.put(record, "substance", row)
    site.put(
        record,
        "lot",
        {"id": f"L-{id}", "substance": id, "assay": assay, "basis": "as-is", "solvent": "WATER"},
    )
    site.put(record, "container", {"id": f"B-{id}", "lot": f"L-{id}", "content": "1 kg"})


def azide_and_acid(record: Record) -> None:
    solute(record, "sodium azide", "26628-22-8", ["Acute Tox. 2 H300"])
    solvent(record, "ACID", "nitric acid", "2")


def approve(record: Record, **more: Any) -> None:
    """Enter an approved procedure for azide in acid."""
    row = {
        "id": "SOP-9", "text": "Azide into cold dilute acid, in the hood, below a tenth of a percent.",
        "rules": ["azide-acid", "acid-gas-acid"], "up_to": ["K2CR2O7: 0.2"], "approved_by": "so-1",
        "since": "2026-01-01", "until": "2026-12-31",
    }  # fmt: skip
    site.put(record, "procedure", row | more)


def play(guide: Guide, clock: site.TestClock, until: str = "") -> None:
    """Play to the end, or until an act of that name is open."""

    def there(g: Guide) -> bool:
        return bool(until) and not g.on_page and g.state.act is not None and g.state.act.key == until

    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(until=there)


def of_mixing(guide: Guide) -> list[dict[str, str]]:
    """What the plan found where things meet in the vessel."""
    return [m for m in guide.state.basis["mixing"] if m["place"] == "vessel"]


# ---- nothing stops, and one acknowledgement where it warns ----


def test_dilute_nitric_acid_into_acetonitrile_is_played_to_its_end_without_a_second_person(
    record: Record, clock: site.TestClock
) -> None:
    # Nitric acid of 2 % is far below the strength at which it attacks organic solvents: common practice.
    solute(record, "nitric acid", "7697-37-2", ["Skin Irrit. 2 H315"])
    row = dict(registers.body(record, "substance", "K2CR2O7")) | {"form": "liquid", "density": "1.01 g/mL"}
    site.put(record, "substance", row)
    site.put(record, "lot", dict(registers.body(record, "lot", "KD-2")) | {"assay": "2", "assay_u": ""})
    solvent(record, "ACN", "acetonitrile", "99.9")
    plan = replace(
        site.PLAN, recipe="solution, solvent first", solvent_container="B-ACN", target="0.200 mg/g"
    )
    guide = site.guide(record, planning.write(site.acting(record), plan), clock)
    play(guide, clock)
    assert guide.finished
    assert not guide.state.let_through
    assert [m["level"] for m in of_mixing(guide)] == ["not checked"]


@pytest.mark.parametrize("chosen", [1, 2])
def test_a_warning_is_acknowledged_before_the_second_content_is_opened(
    record: Record, clock: site.TestClock, chosen: int
) -> None:
    solvent(record, "ACETONE", "acetone", "99.9")
    guide = site.guide(record, site.planned(record, replace(site.PLAN, solvent_container="B-ACETONE")), clock)
    assert [m["level"] for m in of_mixing(guide)] == ["warn"]
    play(guide, clock, until=warned.MET)
    assert guide.state.in_vessel(guide.state.solute)
    assert not guide.state.in_vessel("solvent")
    guide.take(keys.Chosen(chosen))
    assert any(k.endswith(f"/{warned.MET}") for k in guide.state.answers) == (chosen == 1)


def test_a_reminder_is_a_line_and_asks_nothing(record: Record, clock: site.TestClock) -> None:
    azide_and_acid(record)
    approve(record)
    guide = site.guide(record, planning.write(site.acting(record), ACID), clock)
    acts = [a for step in guide.state.steps for a in step.acts]
    lines = " ".join(str(v) for step in guide.state.steps for k, v in step.extra.items() if "line:" in k)
    assert not [a for a in acts if a.key == warned.MET]
    assert "procedure SOP-9" in lines
    assert "approved by so-1 until 2026-12-31" in lines
    assert "up to 0.2 %" in lines


# ---- a stop ----


def test_azide_into_acid_is_played_only_after_a_second_person_with_a_reason(
    record: Record, clock: site.TestClock
) -> None:
    azide_and_acid(record)
    with pytest.raises(NeedsSecondPerson) as refused:
        planning.write(site.acting(record), ACID)
    assert any("must not meet" in w for w in refused.value.what)
    assert any("(azide-acid, acid-gas-acid)" in w for w in refused.value.what)
    second = LetThrough("so-1", "a tenth of a percent, in the hood", refused.value.what)
    guide = site.guide(record, planning.write(site.acting(record), ACID, let_through=second), clock)
    decision = guide.state.let_through[0]
    assert (decision["second"], decision["reason"]) == ("so-1", "a tenth of a percent, in the hood")
    play(guide, clock, until=warned.MET)
    assert guide.state.act is not None
    assert guide.state.act.kind == ActKind.ANSWER
    assert "must not meet" in guide.state.act.text


def test_azide_into_acid_by_an_approved_procedure_is_played_to_its_end(
    record: Record, clock: site.TestClock
) -> None:
    azide_and_acid(record)
    approve(record)
    guide = site.guide(record, planning.write(site.acting(record), ACID), clock)
    assert [m["level"] for m in of_mixing(guide)] == ["remind"]
    play(guide, clock)
    assert guide.finished
    assert not guide.state.let_through


@pytest.mark.parametrize(("until", "stops"), [("2026-03-02", False), ("2026-03-01", True)])
def test_a_procedure_holds_through_its_last_day(record: Record, until: str, stops: bool) -> None:
    azide_and_acid(record)
    approve(record, until=until)
    assert stopped(record) == stops


@pytest.mark.parametrize(("since", "stops"), [("2026-03-02", False), ("2026-03-03", True)])
def test_a_procedure_holds_from_its_first_day(record: Record, since: str, stops: bool) -> None:
    azide_and_acid(record)
    approve(record, since=since)
    assert stopped(record) == stops


@pytest.mark.parametrize(("up_to", "stops"), [("0.101", False), ("0.099", True)])
def test_a_procedure_holds_up_to_its_strength(record: Record, up_to: str, stops: bool) -> None:
    azide_and_acid(record)
    approve(record, up_to=[f"K2CR2O7: {up_to}"])
    assert stopped(record) == stops


@pytest.mark.parametrize(
    ("field", "fits", "other"),
    [("people", ["op-1"], ["op-2"]), ("places", ["vessel"], ["waste"]), ("substances", ["ACID"], ["NACL"]),
     ("rules", ["azide-acid", "acid-gas-acid"], ["azide-acid"])],
)  # fmt: skip
def test_a_procedure_holds_for_its_people_places_substances_and_rules_alone(
    record: Record, field: str, fits: list[str], other: list[str]
) -> None:
    azide_and_acid(record)
    approve(record, **{field: fits})
    assert not stopped(record)
    approve(record, **{field: other})
    assert stopped(record)


@pytest.mark.parametrize(("until", "stops"), [("2026-03-02", False), ("2026-03-01", True)])
def test_a_procedure_that_ended_since_the_plan_stops_the_step_where_it_meets(
    record: Record, clock: site.TestClock, until: str, stops: bool
) -> None:
    azide_and_acid(record)
    approve(record)
    guide = site.guide(record, planning.write(site.acting(record), ACID), clock)
    approve(record, until=until)

    def opening(g: Guide) -> bool:
        step, act = g.state.current, g.state.act
        at = step is not None and step.name == "add_solvent" and act is not None and act.key == "open"
        return at and not g.on_page

    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(until=opening)
    guide.take(keys.Act())
    assert bool(guide.asks) == stops
    assert bool(guide.state.open_handlings) != stops
    if stops:
        assert "must not meet" in " ".join(guide.view().body)


def stopped(record: Record) -> bool:
    found = planning.explain(site.acting(record), ACID)
    return any("must not meet" in s for s in found.stops)
