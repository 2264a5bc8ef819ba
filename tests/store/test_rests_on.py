"""A solution is not taken as released while what it was made of was recalled, revised or leaked."""

from dataclasses import replace

import pytest
from click.testing import CliRunner

from store.actions import lot_status, now_checks, planning, revise, stock
from store.actions.planning import Explained
from store.queries import registers, rests_on, revised, storage
from store.record.record import Record
from tests import several, site
from tests.store.test_revised_since import diluted, made, purity
from tui.__main__ import main

__all__ = ["made"]


@pytest.fixture
def child(record: Record, made: str) -> str:
    """The container of a solution of KD-2, its review done with."""
    several.begin(record)
    lot = f"S{made[1:]}"
    row = {**registers.body(record, "lot", lot), "status": "released"}
    site.put(record, "lot", row)
    return f"{lot}-1"


def explained(record: Record, container: str) -> Explained:
    plan = several.series("10 ug/g", "20 ug/g")
    parts = tuple(replace(p, container=container) for p in plan.parts)
    return planning.explain(site.acting(record), replace(plan, container=container, parts=parts))


def recalled(record: Record, lot: str) -> None:
    lot_status.set_status(site.acting(record, "ke-1"), lot, "recalled", "the maker says so")


def test_nothing_stands_against_a_solution_of_lots_that_are_in_order(record: Record, child: str) -> None:
    assert rests_on.of(record, child) == ()
    assert explained(record, child).stops == ()


def test_a_recall_reaches_the_plan_of_whatever_was_made_of_the_lot(record: Record, child: str) -> None:
    recalled(record, "KD-2")
    said = f"lot {child[:-2]} was made of lot KD-2, which is recalled (the maker says so)"
    assert rests_on.of(record, child) == (said,)
    assert explained(record, child).stops == (said,)


def test_a_recalled_solvent_reaches_it_too(record: Record, child: str) -> None:
    solvent = str(registers.body(record, "container", "WB-1")["lot"])
    recalled(record, solvent)
    assert rests_on.of(record, child) == (
        f"lot {child[:-2]} was made of lot {solvent}, which is recalled (the maker says so)",
    )


def test_a_revised_certificate_stops_the_plan_until_the_result_is_written_anew(
    record: Record, made: str, child: str
) -> None:
    purity(record, "99.0")
    (said,) = explained(record, child).stops
    assert (
        said == f"lot {child[:-2]} rests on the old value: lot KD-2 was revised since: assay 99.9, now 99.0"
    )
    seen = record.prep_state(made).last_entry
    revise.write_anew(site.acting(record, "ke-1"), made, seen=seen, label=lambda s: "label")
    assert rests_on.of(record, child) == ()


def test_a_leak_stands_against_the_container(record: Record, child: str) -> None:
    gross = storage.weighings(record, child)[0].mass_mg
    stock.weigh_sealed(
        site.acting(record), child, when="before use", balance="B-1", shown=f"{gross - 1000:.2f} mg"
    )
    (said,) = explained(record, child).stops
    assert said.startswith(f"container {child}: what is in it is not known, it leaked by the weighing of ")


def test_a_recall_after_the_plan_is_found_before_the_container_of_a_series_is_opened(
    record: Record, child: str
) -> None:
    prep = site.planned(record, several.series("10 ug/g", "20 ug/g"))
    state = record.prep_state(prep)
    assert now_checks.material(site.acting(record), state) == ()
    recalled(record, "KS-1")
    (found,) = now_checks.material(site.acting(record), state)
    assert (found.stop, found.what) == (True, "lot KS-1 is in status recalled (the maker says so)")


@pytest.mark.parametrize("words", [(), ("--revised",), ("--recall",)])
def test_the_trace_of_what_was_made_says_what_became_of_what_is_above_it(
    record: Record, child: str, words: tuple[str, ...]
) -> None:
    def said() -> str:
        return CliRunner().invoke(main, ["--record", str(record.path), "trace", child[:-2], *words]).stdout

    assert "✗" not in said()
    recalled(record, "KD-2")
    purity(record, "99.0")
    lines = said().splitlines()
    assert [x for x in lines if x.startswith("✗")] == [f"✗ {x}" for x in rests_on.of(record, child)]
    assert len(rests_on.of(record, child)) == 2


def test_what_a_lot_takes_from_above_reaches_what_was_made_of_it(
    record: Record, made: str, child: str
) -> None:
    lot = child[:-2]
    diluted(record, made, "P-7F3A-0099", "S-99")
    (row,) = revised.of(record, lot)
    assert (row.how, row.changed) == ("unchanged", False)
    purity(record, "99.0")
    (row,) = revised.of(record, lot)
    assert row.was == 50.0
    assert row.now == pytest.approx(50.0 * 99.0 / 99.9, rel=1e-9)
    assert row.how == f"in proportion; first write anew {made} of lot {lot}"
    assert [r.how for r in revised.of(record, "KD-2")] == ["computed", "in proportion"]
    seen = record.prep_state(made).last_entry
    revise.write_anew(site.acting(record, "ke-1"), made, seen=seen, label=lambda s: "label")
    (row,) = revised.of(record, lot)
    assert not row.how.startswith(revised.ABOVE)
