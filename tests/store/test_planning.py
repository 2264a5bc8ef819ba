"""What a plan is refused for, and what a review does to the lot."""

from dataclasses import replace
from random import Random

import pytest

from store import events as ev
from store.actions import closing, planning
from store.actions.acting import second_person
from store.errors import BadQuantity, MovedOn, NeedsSecondPerson, NotAllowed, NotFound, Refused, StoreError
from store.model.words import WARM
from store.procedure import limits_told
from store.queries import registers
from store.record.record import Record
from tests import racks, site
from tui.guide.player import Player


def closed(record: Record, clock: site.TestClock) -> str:
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play()
    return prep


def test_a_plan_says_what_it_aims_at(record: Record) -> None:
    found = planning.explain(site.acting(record), site.PLAN)
    # 10 g of 1.000 mg/g from 99.9 %: 10.010 mg true, less 0.3 mg/g of buoyancy against 8000 kg/m3
    assert abs(float(found.aims["solid_mg"]) - 10.010 * (1 - 1.2e-3 / 2.68 + 1.2e-3 / 8.0)) < 0.002
    assert found.stops == ()


@pytest.mark.parametrize(("target", "reached"), [("0.990 mg/g", False), ("1.010 mg/g", True)])
def test_a_plan_says_which_generic_limits_its_strength_reaches_and_lowers_nothing(
    record: Record, target: str, reached: bool
) -> None:
    """Carcinogens of category 1 count in a mixture from 0.1 % (CLP Annex I, 3.6.3.1.1, from memory)."""
    found = planning.explain(site.acting(record), replace(site.PLAN, target=target))
    text = " ".join(found.limits)
    assert text.startswith("potassium dichromate at 0.")
    assert ("reaches Carc. 1B from 0.1 %" in text) == reached
    assert ("below the limit of Carc. 1B from 0.1 %" in text) != reached
    assert "nothing is lowered" in found.limits[-1]
    assert "CMR_1" in found.basis["hazards"]["K2CR2O7"]["families"]


def test_a_rehearsal_and_a_class_entered_for_the_mixture_have_no_generic_limits(record: Record) -> None:
    basis = planning.explain(site.acting(record), site.PLAN).basis
    assert limits_told.told(basis, {"K2CR2O7": 0.01})
    entered = basis["hazards"]["K2CR2O7"] | {"entered": "MX-1: by so-1"}
    assert limits_told.told({**basis, "hazards": {"K2CR2O7": entered}}, {"K2CR2O7": 0.01}) == ()
    assert limits_told.told(basis, {"WATER": 1.0}) == ()


def test_a_solvent_that_is_a_solution_counts_whole_beside_its_own_classification(record: Record) -> None:
    site.put(record, "substance", {"id": "ACID-2", "name": "nitric acid 2 %", "form": "liquid",
                                   "classification": ["Skin Irrit. 2 H315"],
                                   "density": "1.009 g/mL"})  # fmt: skip
    site.put(record, "lot", {"id": "A-2", "substance": "ACID-2", "concentration": "20 mg/g",
                             "solvent": "WATER"})  # fmt: skip
    site.put(record, "container", {"id": "AB-2", "lot": "A-2", "content": "500 g"})
    found = planning.explain(site.acting(record), replace(site.PLAN, solvent_container="AB-2"))
    assert "nitric acid 2 % at 99.9 % by mass reaches Skin Irrit. 2 from 10 %" in found.limits
    mixed = [f.what for f in found.findings if f.group == "mixing"]
    assert not any("the rest of" in what for what in mixed)


def test_what_stands_against_every_vessel_of_a_rack_is_said_once_and_names_them(record: Record) -> None:
    racks.vials(record)
    found = planning.explain(site.acting(record), racks.plan(record, amount="1 mg"))
    (stop,) = [what for what in found.stops if "minimum weight" in what]
    assert stop.startswith("vessels R-01 to R-30: 1.00 mg of solid is below the minimum weight")


def test_what_stands_against_some_vessels_of_a_rack_names_those_alone(record: Record) -> None:
    racks.vials(record)
    row = registers.body(record, "vessel", "R-07")
    site.put(record, "vessel", {**row, "mass": "81.2 g", "tared": "81.2 g"})
    found = planning.explain(site.acting(record), racks.plan(record))
    (stop,) = [what for what in found.stops if "capacity" in what]
    assert stop.startswith("vessel R-07: ")


def test_what_takes_its_time_is_said_with_the_plan_before_anything_is_opened(record: Record) -> None:
    before = planning.explain(site.acting(record), site.PLAN)
    assert not any("before it" in f.what for f in before.findings)
    site.put(record, "balance", {**registers.body(record, "balance", "B-1"), "warm_up_minutes": "60"})
    cold = {"conditioning": ["protect from light", WARM], "warm_minutes": "30"}
    site.put(record, "container", {**registers.body(record, "container", "C-1"), **cold})
    found = planning.explain(site.acting(record), site.PLAN)
    said = [f.what for f in found.findings if not f.stop]
    assert "balance B-1: switched on for 60 min before it weighs" in said
    assert (
        "container C-1 before it is opened: to room temperature, closed, 30 min; protect from light" in said
    )
    (zero,) = [a.text for s in found.steps for a in s.acts if a.key == "zero"]
    assert zero.startswith("Switched on for 60 min or longer? Pan empty")


@pytest.mark.parametrize(("capacity", "stops"), [("31 g", False), ("21 g", True)])
def test_over_the_capacity_of_the_balance_is_stopped(record: Record, capacity: str, stops: bool) -> None:
    row = registers.body(record, "balance", "B-1")
    site.put(record, "balance", {**row, "capacity": capacity})
    found = planning.explain(site.acting(record), site.PLAN)
    assert any("capacity" in what for what in found.stops) == stops


@pytest.mark.parametrize(("amount", "stops"), [("9.01 g", False), ("8.98 g", True)])
def test_below_the_minimum_weight_is_stopped(record: Record, amount: str, stops: bool) -> None:
    found = planning.explain(site.acting(record), replace(site.PLAN, amount=amount))
    assert any("minimum weight of 9.00 mg" in what for what in found.stops) == stops


@pytest.mark.parametrize(("expiry", "stops"), [("2026-03-02", False), ("2026-03-01", True)])
def test_a_lot_past_its_expiry_is_stopped(record: Record, expiry: str, stops: bool) -> None:
    site.put(record, "lot", {**registers.body(record, "lot", "KD-2"), "expiry": expiry})
    assert bool(planning.explain(site.acting(record), site.PLAN).stops) == stops


@pytest.mark.parametrize("status", ["quarantine", "blocked", "recalled"])
def test_a_lot_that_is_not_released_is_stopped_until_a_second_person_lets_it_through(
    record: Record, status: str
) -> None:
    site.put(record, "lot", {**registers.body(record, "lot", "KD-2"), "status": status})
    acting = site.acting(record)
    with pytest.raises(NeedsSecondPerson, match=status):
        planning.write(acting, site.PLAN)
    let = second_person(acting, second="so-1", pin="3333", reason="checked", what=("status",))
    prep = planning.write(acting, site.PLAN, let_through=let)
    assert record.prep_state(prep).let_through[0]["second"] == "so-1"


def test_where_settings_let_nobody_through_the_plan_is_refused(record: Record) -> None:
    site.put(record, "setting", {"id": "second_person", "value": "no"})
    site.put(record, "lot", {**registers.body(record, "lot", "KD-2"), "status": "blocked"})
    with pytest.raises(Refused, match="blocked"):
        planning.write(site.acting(record), site.PLAN)


def test_a_retired_container_cannot_be_planned(record: Record) -> None:
    record.append(
        ev.Retired(register="container", id="C-1", reason="empty"), person="ke-1", subject="container:C-1"
    )
    with pytest.raises(NotFound, match="retired"):
        planning.explain(site.acting(record), site.PLAN)


@pytest.mark.parametrize("target", ["1 %", "1 ppm", "1 mg", "0 mg/g", "-1 mg/g", "nonsense"])
def test_a_target_that_is_no_concentration_is_refused_with_a_sentence(record: Record, target: str) -> None:
    before = record.head()
    with pytest.raises(StoreError):
        planning.write(site.acting(record), replace(site.PLAN, target=target))
    kinds = {e.event.kind for e in record.entries(after=before.entry)}
    assert kinds == {"signed_in"}


def test_an_amount_of_another_kind_is_refused(record: Record) -> None:
    with pytest.raises(BadQuantity):
        planning.explain(site.acting(record), replace(site.PLAN, amount="10 mol/L"))


def test_only_an_operator_plans(record: Record) -> None:
    with pytest.raises(NotAllowed):
        planning.write(site.acting(record, "so-1"), site.PLAN)


def test_an_accepted_prep_releases_its_lot_and_a_returned_one_blocks_it(
    record: Record, clock: site.TestClock
) -> None:
    prep = closed(record, clock)
    reviewer = site.acting(record, "re-1")
    seen = record.last_entry(f"prep:{prep}")
    closing.review(reviewer, prep, seen=seen, accept=False, reason="label unreadable", meaning="m")
    lot = registers.body(record, "lot", "S-7F3A-0001")
    assert (lot["status"], lot["status_reason"]) == ("blocked", "label unreadable")
    seen = record.last_entry(f"prep:{prep}")
    closing.review(reviewer, prep, seen=seen, accept=True, reason="", meaning="m")
    assert registers.body(record, "lot", "S-7F3A-0001")["status"] == "released"


def test_ones_own_prep_is_not_reviewed_and_a_moved_one_neither(record: Record, clock: site.TestClock) -> None:
    prep = closed(record, clock)
    site.put(record, "person", {"id": "op-1", "name": "A. B.", "roles": ["operator", "reviewer"]})
    seen = record.last_entry(f"prep:{prep}")
    with pytest.raises(Refused, match="somebody else"):
        closing.review(site.acting(record), prep, seen=seen, accept=True, reason="", meaning="m")
    with pytest.raises(MovedOn):
        closing.review(site.acting(record, "re-1"), prep, seen=seen - 1, accept=True, reason="", meaning="m")
