"""A verification out of its limit asks for a decision, at the bench, at the plan and on the lot's page."""

import pytest
from click.testing import CliRunner

from store import events as ev
from store.actions import lot_status, planning
from store.errors import Refused
from store.queries import due, lot_checks, registers
from store.record.record import Record
from tests import site
from tests.store.test_actions_stock import verified
from tui.__main__ import main
from tui.screens import bench_rows

OUT = (
    "lot KD-2: verification out of limit: decide; ratio 0.995 against gravimetry on 2026-03-02, limit ± 0.4 %"
)


def named(record: Record) -> list[str]:
    """Give the lots that wait for a decision, which the bench and `due` have to name alike."""
    bench = [d.id for d in due.bench(record, "op-1").due if d.group == "decide"]
    assert [d.id for d in due.of(record) if d.group == "decide"] == bench
    assert [u.lot for u in lot_checks.undecided(record, "KD-2")] == bench
    return bench


def decide(record: Record, status: str, reason: str) -> None:
    lot_status.set_status(site.acting(record, "ke-1"), "KD-2", status, reason)


def test_a_lot_out_of_its_limit_is_named_until_a_later_verification_is_within(record: Record) -> None:
    assert named(record) == []
    verified(record, limit_percent="0.4")
    assert named(record) == ["KD-2"]
    verified(record)  # no limit: nothing is judged
    assert named(record) == ["KD-2"]
    verified(record, limit_percent="0.6")
    assert named(record) == []


@pytest.mark.parametrize("status", ["released", "quarantine", "blocked", "recalled"])
def test_a_decision_on_its_status_ends_it_that_it_stays_released_too(record: Record, status: str) -> None:
    with pytest.raises(Refused):
        decide(record, "released", "agreed before")
    verified(record, limit_percent="0.4")
    decide(record, status, "looked at")
    assert named(record) == []
    with pytest.raises(Refused):
        decide(record, status, "once more")
    if status == "released":
        verified(record, limit_percent="0.4")
        assert named(record) == ["KD-2"]


def test_another_change_of_its_row_is_no_decision(record: Record) -> None:
    verified(record, limit_percent="0.4")
    site.put(record, "lot", {**registers.body(record, "lot", "KD-2"), "storage": "in the dark"})
    assert named(record) == ["KD-2"]
    record.append(ev.Retired(register="lot", id="KD-2", reason="used up"), person="ke-1", subject="lot:KD-2")
    assert named(record) == []


def test_the_plan_says_it_and_goes_on(record: Record) -> None:
    verified(record, limit_percent="0.4")
    found = planning.explain(site.acting(record), site.PLAN)
    assert found.stops == ()
    assert OUT in [f.what for f in found.findings]


def test_the_bench_and_the_shell_say_it(record: Record) -> None:
    verified(record, limit_percent="0.4")
    bench = due.bench(record, "op-1")
    drawn = bench_rows.drawn(bench_rows.sections(bench, room=30, names={}, reviewer=False), 80)
    assert any("lot KD-2" in x and "verification out of limit" in x and x.endswith("decide") for x in drawn)
    text = CliRunner().invoke(main, ["--record", str(record.path), "due"]).stdout
    assert "verification out of limit: decide" in text
