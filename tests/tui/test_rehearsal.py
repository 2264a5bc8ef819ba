"""Rehearsals: the same steps, a harmless powder, no stock, no exposure; it can count as training."""

import json
import statistics
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner

from store.actions import now_checks, planning
from store.errors import Refused
from store.model.words import StepName
from store.queries import lots, rehearsals, today, totals
from store.queries.asked import asked
from store.record.record import Record
from tests import site
from tests.tui import desks, rehearsed, snap
from tui.__main__ import main
from tui.cli import demo_site
from tui.guide.connected import guide_of
from tui.guide.player import OwnTime, Player
from tui.screens.register_row import RegisterRowScreen


@pytest.fixture
def record(tmp_path: Path, clock: site.TestClock) -> Iterator[Record]:
    with site.begin(tmp_path / "r.tarebook", clock) as made:
        rehearsed.harmless(made, clock)
        yield made


def test_a_rehearsal_walks_the_same_steps_and_acts_as_the_prep_it_stands_for(record: Record) -> None:
    who = site.acting(record)
    real = planning.explain(who, replace(rehearsed.SALT, rehearsal=False)).steps
    acts = [(s.name, [(a.key, a.kind) for a in s.acts]) for s in real]
    hazardous = planning.explain(who, site.PLAN).steps
    for one in (planning.explain(who, rehearsed.SALT).steps, hazardous):
        assert [(s.name, [(a.key, a.kind) for a in s.acts]) for s in one] == acts


def test_a_rehearsal_is_in_no_stock_no_total_and_no_shift_limit(
    record: Record, clock: site.TestClock
) -> None:
    before = lots.stock(record, "SC-1")
    rehearsed.walk(record, clock)
    assert lots.stock(record, "SC-1") == before
    assert sum(t.handlings for t in totals.of(record, asked(record), "all")) == 0
    assert today.open_s(record, "op-1") == 0.0
    assert not tuple(record.query("SELECT id FROM register_row WHERE register='lot' AND id LIKE 'S-7%'"))
    rehearsed.walk(record, clock, plan=replace(rehearsed.SALT, rehearsal=False))
    assert lots.stock(record, "SC-1") != before
    assert today.open_s(record, "op-1") > 0.0


@pytest.mark.parametrize(
    ("container", "solvent", "why"),
    [("C-1", "WB-1", "potassium dichromate is none: it is classified"), ("SC-1", "U-1", "nothing is known")],
)
def test_a_rehearsal_with_anything_that_can_hurt_is_refused_and_nobody_lets_it_through(
    record: Record, container: str, solvent: str, why: str
) -> None:
    site.put(record, "substance", {"id": "UNKNOWN-1", "name": "an unknown liquid", "form": "liquid"})
    site.put(record, "lot", {"id": "UL", "substance": "UNKNOWN-1", "density": "1.0 g/mL"})
    site.put(record, "container", {"id": "U-1", "lot": "UL", "content": "1 kg"})
    plan = replace(rehearsed.SALT, container=container, solvent_container=solvent)
    who = site.acting(record)
    before = record.head()
    with pytest.raises(Refused, match=why):
        planning.write(who, plan)
    assert record.head() == before


def test_time_open_and_scatter_of_each_person_are_shown(record: Record, clock: site.TestClock) -> None:
    for seed in (3, 5, 8):
        rehearsed.walk(record, clock, seed=seed)
    rehearsed.walk(record, clock, person="op-2", seed=4)
    rehearsed.walk(record, clock, plan=replace(rehearsed.SALT, rehearsal=False), seed=6)
    found = rehearsals.done(record)
    assert [r.person for r in found] == ["op-2", "op-1", "op-1", "op-1"]
    mine = rehearsals.done(record, person="op-1")
    for one in mine:
        # By hand, from the record: what the doses come to, against the aim of the plan.
        state = record.prep_state(one.prep)
        net = sum(d.net_mg for d in state.doses if d.content == "solid")
        aim = float(state.aims["solid_mg"])
        assert one.deviation_percent == pytest.approx((net / aim - 1) * 100)
        assert one.open_s > 0
        assert not one.estimated
    first, second = rehearsals.practice(found)
    assert (first.person, first.rehearsals, second.person, second.rehearsals) == ("op-1", 3, "op-2", 1)
    assert first.scatter_percent == pytest.approx(statistics.stdev(r.deviation_percent for r in mine))
    assert second.scatter_percent is None


def test_the_shell_lists_and_adds_up_rehearsals(
    record: Record, clock: site.TestClock, tmp_path: Path
) -> None:
    prep = rehearsed.walk(record, clock)
    for words, key in (((), "open_s"), (("--sums",), "scatter_percent")):
        done = CliRunner().invoke(
            main,
            ["--record", str(record.path), "rehearsals", "--person", "op-1", *words, "--format", "json"],
            env={"TAREBOOK_TERMINAL": "7F3A"},
        )  # fmt: skip
        assert done.exit_code == 0, done.output
        (row,) = json.loads(done.output)
        assert row["person"] == "op-1"
        assert key in row
    table = CliRunner().invoke(
        main, ["--record", str(record.path), "rehearsals"], env={"TAREBOOK_TERMINAL": "7F3A"}
    )
    assert prep in table.output
    head, line, *_ = table.output.splitlines()
    assert head[line.index(":") - 1 :].startswith("open"), "a time in minutes stands under no unit of seconds"


def test_a_rehearsal_does_not_ask_for_the_training_that_it_gives(
    record: Record, clock: site.TestClock
) -> None:
    site.put(record, "setting", {"id": "step_training", "value": "yes"})
    row = dict(next(r for k, r in site.ROWS if r["id"] == "op-1"))
    site.put(record, "person", row | {"trained_for": ["NACL"]})
    prep = rehearsed.walk(record, clock)
    assert not record.prep_state(prep).let_through
    state = record.prep_state(prep)
    opening = next(n for n, s in enumerate(state.steps) if s.name == StepName.WEIGH_SOLID)
    rehearsal = replace(state, step=opening)
    real = replace(rehearsal, plan=replace(state.plan, rehearsal=False))
    who = site.acting(record)
    assert now_checks.person(who, rehearsal) == ()
    (found,) = now_checks.person(who, real)
    assert found.what == "op-1 is not trained for weigh_solid"


async def test_the_persons_page_shows_rehearsals_and_how_they_become_training(tmp_path: Path) -> None:
    def story(record: Record, clock: site.TestClock) -> None:
        rehearsed.harmless(record, clock)
        rehearsed.walk(record, clock)
        rehearsed.walk(record, clock, seed=5)

    desk = desks.desk(tmp_path, person="ke-1", story=story)
    app = desks.DeskApp(RegisterRowScreen(desk, "person", "op-1"))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        shown = " ".join(snap.text_of(app).split())
        assert "2 rehearsals, the last on 2026-03-02: open " in shown
        assert "scatter" in shown
        assert "`weigh_solid: 2026-03-02 to`" in shown


def test_the_sample_site_can_rehearse_and_its_demo_has_one_to_look_at(tmp_path: Path) -> None:
    clock = demo_site.DemoClock(lambda: site.START)
    clock.fixed = site.START
    with demo_site.begin(tmp_path / "demo.tarebook", now=clock) as record:
        plans = [(person, plan) for person, _, plan in demo_site.plans() if plan.rehearsal]
        ((person, plan),) = plans
        prep = planning.write(demo_site.sign_in(record, person), plan)
        before = lots.stock(record, plan.container)
        time = OwnTime()
        guide = guide_of(demo_site.sign_in(record, person), prep, monotonic=time, chance=Random(3), seed=3)
        player = Player(guide, time=time, chance=Random(3), show=lambda view: None)
        while not guide.finished:
            clock.fixed = site.START + timedelta(seconds=time())
            player.turn()
        (done,) = rehearsals.done(record)
        assert (done.person, done.prep) == (person, prep)
        assert done.open_s > 0
        assert lots.stock(record, plan.container) == before
        assert rehearsals.practice((done,))[0].rehearsals == 1
