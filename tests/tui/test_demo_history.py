"""The year of the demo: one stock solution made again and again, told after one that is really run."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from store.queries import control, due, lots, preps
from store.queries.page import page
from store.record.record import Record
from store.record.verify import verify
from tests import site
from tui.cli import demo_site

STOCK = "K2CR2O7"


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    path = tmp_path_factory.mktemp("demo") / "demo.tarebook"
    clock = demo_site.DemoClock(lambda: site.START)
    clock.fixed = site.START - timedelta(days=demo_site.DAYS)
    with demo_site.begin(path, now=clock) as record:
        person, days, plan = demo_site.plans()[0]
        start = site.START - timedelta(days=days)
        prep = demo_site.play(record, clock, person, plan, start=start, seed=1, hand=1)
        demo_site.tell_year(record, clock, prep, real=lambda: site.START)
        clock.fixed = site.START
        yield record


def test_the_year_verifies_and_no_clock_steps_back(told: Record) -> None:
    assert verify(told.path).ok
    assert not list(told.entries(kinds=("clock_stepped",)))


def test_the_stock_has_a_dozen_results_and_one_signal(told: Record) -> None:
    found = control.of(told, STOCK)
    assert len(found.points) == 13
    assert found.chart is not None
    (signal,) = found.chart.signals
    assert (signal.rule, found.points[signal.at - 1].prep) == (1, "P-7F3A-0011")


def test_each_result_is_that_of_its_own_readings(told: Record) -> None:
    after_the_first = preps.past(told, limit=50)[-2::-1]
    for row, of in zip(after_the_first, demo_site.history(lambda: site.START), strict=True):
        shown = page(told, row.prep)
        assert [d.shown for d in shown.state.doses] == [f"{of.solid_mg} mg", f"{of.solvent_mg} mg"]
        assert row.value == pytest.approx(997.7 * float(of.solid_mg) / float(of.solvent_mg), rel=1e-4)
        assert all(r.within for r in shown.state.reads)
        assert len(shown.state.acks) == 10
        assert {n for note in shown.notes for n in note.handlings} == {h.entry for h in shown.state.handlings}
        assert f"record    {row.prep}, entry" in shown.state.label


def test_what_was_used_up_is_not_due_and_the_powder_is_less(told: Record) -> None:
    waiting = [d for d in (*due.of(told), *due.reviews(told)) if d.id.startswith(("S-7F3A", "P-7F3A"))]
    assert {d.id for d in waiting} == {"S-7F3A-0013", "P-7F3A-0013"}
    drawn = sum(float(of.solid_mg) for of in demo_site.history(lambda: site.START))
    assert lots.stock(told, "C-1").used_mg == pytest.approx(drawn + 12.0, abs=1.0)
