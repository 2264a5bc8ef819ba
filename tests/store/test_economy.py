"""Least powder, preps that one opening would serve, the question for CMR 1, and containers that run out."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from store.actions import planning
from store.calc.budget import BalanceData, Content, SolutionInputs, predicted
from store.calc.least import least_solid
from store.queries import lots, merging
from store.record.record import Record
from tests import site
from tests.tui import desks

GIVEN = SolutionInputs(
    unit="mg/g", solid_start_mg=0, solid_end_mg=10.0, solvent_start_mg=0, solvent_end_mg=1,
    balance=BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.01, linearity_mg=0.02),
    content=Content(assay=0.99, u_assay=0.001), solvent_density_kg_m3=998.2,
)  # fmt: skip


@pytest.mark.parametrize("u_rel", [0.002, 0.005, 0.02])
def test_the_least_solid_is_just_enough_and_a_little_less_is_not(u_rel: float) -> None:
    found = least_solid(GIVEN, target=1.0, u_rel=u_rel, minimum_mg=0.1)
    assert found.decides == "uncertainty"
    for mass_mg, enough in ((found.solid_mg, True), (found.solid_mg * 0.998, False)):
        u = predicted(replace(GIVEN, solid_end_mg=mass_mg), target=1.0)[1].u_rel
        assert (u <= u_rel) is enough


def test_for_a_pure_solid_it_is_the_closed_form_of_a_single_net() -> None:
    """u(m)/m = √(s² + 2·a²/3)/m (QUAM:2012 A2: linearity twice); the solvent adds nothing to speak of."""
    pure = replace(GIVEN, content=Content(assay=1.0, u_assay=0.0), solid_density_kg_m3=2000.0)
    found = least_solid(pure, target=1.0, u_rel=0.001, minimum_mg=0.1)
    assert found.solid_mg == pytest.approx(math.sqrt(0.01**2 + 2 * 0.02**2 / 3) / 0.001, rel=0.01)


def test_the_minimum_weight_decides_where_it_is_more() -> None:
    found = least_solid(GIVEN, target=1.0, u_rel=0.02, minimum_mg=20.0)
    assert (found.solid_mg, found.decides) == (20.0, "minimum weight")


def test_no_mass_makes_up_for_a_poor_certificate() -> None:
    found = least_solid(GIVEN, target=1.0, u_rel=0.0005, minimum_mg=20.0)
    assert found.decides == "not by mass"
    assert math.isinf(found.solid_mg)
    assert found.u_rel == pytest.approx(0.001 / 0.99, rel=0.1)


def said(record: Record, **other: str) -> list[str]:
    plan = replace(site.PLAN, **other)  # type: ignore[arg-type]
    return [f.what for f in planning.explain(site.acting(record), plan).findings if not f.stop]


def test_cmr_1_as_a_solid_raises_the_question_whether_a_solution_can_be_had(tmp_path: Path) -> None:
    record = desks.desk(tmp_path).record
    assert any("can it be had as a solution?" in what for what in said(record))
    found = [w for w in said(record) if "had as a solution" in w]
    assert len(found) == 1


def test_the_plan_names_the_least_powder_where_it_is_less(tmp_path: Path) -> None:
    record = desks.desk(tmp_path).record
    more = [w for w in said(record, amount="15 g", target="10 mg/g") if w.startswith("least powder")]
    assert len(more) == 1
    assert "± 1 %" in more[0]
    assert not [w for w in said(record) if w.startswith("least powder")]


def two_planned(record: Record, clock: site.TestClock) -> None:
    """Story: op-1 planned the same solution twice."""
    site.planned(record)
    site.planned(record)


def test_planned_preps_of_one_lot_are_one_opening(tmp_path: Path) -> None:
    record = desks.desk(tmp_path, story=two_planned).record
    (found,) = merging.merges(record)
    one = merging.waiting(record)[0]
    assert found.preps == ("P-7F3A-0001", "P-7F3A-0002")
    assert found.openings_saved == 1
    assert found.solid_mg == pytest.approx(2 * one.solid_mg)
    assert found.saved_mg == pytest.approx(2 * max(one.solid_mg, one.minimum_mg) - found.solid_mg)


def test_what_is_planned_beside_them_is_counted_in_and_the_weaker_is_diluted(tmp_path: Path) -> None:
    record = desks.desk(tmp_path, story=two_planned).record
    weaker = [w for w in said(record, target="0.95 mg/g") if w.startswith("one opening for several")]
    assert len(weaker) == 1
    assert "1 to 1.05" in weaker[0]
    assert "2 openings" in weaker[0]


def test_single_doses_below_the_minimum_weight_are_what_merging_spares(tmp_path: Path) -> None:
    group = [
        merging.Waiting(
            prep=f"P-{n}", container="C-1", lot="L", substance="S", solvent="W", target="1 mg/g",
            amount="5 g", solid_mg=5.0, solvent_mg=4995.0, minimum_mg=9.0,
        )
        for n in range(3)
    ]  # fmt: skip
    found = merging.merged(desks.desk(tmp_path).record, group, 7)
    assert (found.solid_mg, found.apart_mg, found.saved_mg, found.openings_saved) == (15.0, 27.0, 12.0, 2)


def test_a_prep_that_is_begun_is_not_merged_any_more(tmp_path: Path) -> None:
    def story(record: Record, clock: site.TestClock) -> None:
        desks.play(record, clock, until=lambda g: bool(g.state.acks))
        site.planned(record)

    assert merging.merges(desks.desk(tmp_path, story=story).record) == ()


def test_a_container_that_expires_before_is_not_merged_and_says_why(tmp_path: Path) -> None:
    record = desks.desk(tmp_path, story=two_planned).record
    (found,) = merging.merges(record, days=1000)
    assert "may be used until 2027-12-31 only" in found.why_not
    assert merging.merges(record, days=600)[0].why_not == ""


def test_the_plan_warns_before_a_container_runs_out(tmp_path: Path) -> None:
    record = desks.desk(tmp_path).record
    many = [w for w in said(record, amount="18 g", target="150 mg/g") if "runs out" in w]
    assert len(many) == 1
    assert "C-1 runs out" in many[0]
    assert not [w for w in said(record) if "runs out" in w]


def test_what_is_planned_from_a_container_counts_against_it(tmp_path: Path) -> None:
    def story(record: Record, clock: site.TestClock) -> None:
        from store.actions import planning as verbs

        verbs.write(site.acting(record), replace(site.PLAN, target="200 mg/g", amount="18 g"))

    record = desks.desk(tmp_path, story=story).record
    found = [w for w in said(record, target="90 mg/g", amount="18 g") if "runs out" in w]
    assert len(found) == 1
    assert "1 more planned from it" in found[0]


def test_stock_says_what_was_drawn_wasted_and_left(tmp_path: Path) -> None:
    record = desks.desk(tmp_path, story=desks.closed_prep).record
    stock = lots.stock(record, "C-1")
    assert stock.used_mg > 0
    assert stock.wasted_mg == 0
    assert stock.left_mg == pytest.approx(5000.0 - stock.used_mg)
    from store.actions import amend

    prep = "P-7F3A-0001"
    amend.discard(
        site.acting(record), prep, seen=record.prep_state(prep).last_entry, reason="dropped, not used"
    )
    after = lots.stock(record, "C-1")
    assert after.wasted_mg == pytest.approx(after.used_mg)
    assert after.left_mg == stock.left_mg
