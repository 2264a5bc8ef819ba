"""A rack of thirty and a dilution to a ten-thousandth, each walked in a pseudo-terminal on the simulated
balance, killed half-way, taken up again in another process, and finished."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from store.actions import racks as verbs
from store.model.prep import Plan
from store.model.words import PrepStatus
from store.procedure import portions
from store.procedure.state import PrepState
from store.record.record import Record
from store.record.verify import verify
from tests import racks, several, site
from tests.tui.quick_hand import QuickHand, started

PREP = "P-7F3A-0001"
LATER_S = 300.0


def planned(path: Path, plan: Callable[[Record], Plan]) -> None:
    with site.begin(path, site.TestClock()) as record:
        several.begin(record)
        racks.vials(record)
        quick = {"act_gap_ms": "20", "lock_minutes": "480", "break_minutes": "480", "tare_minutes": "480"}
        for id, value in quick.items():
            site.put(record, "setting", {"id": id, "value": value})
        site.planned(record, plan(record))


def of(path: Path) -> tuple[PrepState, float]:
    """Give the prep as it stands, and the second of its last entry."""
    with Record.open(path, now=site.TestClock(), terminal="7F3A", write=False) as record:
        last = record.head().entry
        at = datetime.fromisoformat(record.entry(last).at)
        return record.prep_state(PREP), (at - site.START).total_seconds()


def walked(path: Path, *, half: Callable[[str], bool]) -> tuple[PrepState, PrepState]:
    """Walk it to the half, kill it, take it up in another process, and finish it."""
    with started(path, 60.0) as terminal:
        hand = QuickHand(terminal)
        hand.sign_in("op-1", site.PINS["op-1"], PREP)
        hand.play(half)
        terminal.kill()
    assert verify(path).ok
    before, at_s = of(path)
    with started(path, at_s + LATER_S) as terminal:
        hand = QuickHand(terminal)
        hand.sign_in("op-1", site.PINS["op-1"], PREP)
        terminal.wait_for(lambda text: "Taken up again" in text or "is it open now" in " ".join(text.split()))
        hand.play(lambda text: "Closed. Lot" in text)
    assert verify(path).ok
    after, _ = of(path)
    assert after.status == PrepStatus.CLOSED
    assert [d.entry for d in after.doses][: len(before.doses)] == [d.entry for d in before.doses]
    return before, after


def test_a_rack_of_thirty_is_walked_in_a_terminal_killed_half_way_and_finished(tmp_path: Path) -> None:
    path = tmp_path / "r.tarebook"
    planned(
        path,
        lambda record: verbs.plan(
            record, container="C-1", vessels_text="R-01 to R-30", amount="20 mg", balance="B-1",
            enclosure="E-1", tolerance_percent="40",
        ),
    )  # fmt: skip
    before, after = walked(path, half=lambda text: "here 16; filled 1 to 15" in text)
    assert len({d.part for d in before.doses}) == 15
    assert before.open_handlings, "the container was open when it was killed"
    assert len(after.made) == 30
    assert {d.part for d in after.doses if d.counts} == {str(n) for n in range(1, 31)}
    assert [p.word for p in portions.places(after)] == [portions.FILLED] * 30
    equal = portions.equal(after)
    assert equal is not None
    assert equal.acceptance is not None


def test_a_ten_thousandth_is_walked_in_a_terminal_killed_half_way_and_finished(tmp_path: Path) -> None:
    path = tmp_path / "r.tarebook"
    planned(path, lambda record: several.dilution())
    before, after = walked(path, half=lambda text: "step 7 of" in text)
    assert len(before.doses) >= 2
    values = [float(m["result"]["value"]) for m in after.made]
    assert values == pytest.approx([10.0, 0.1], rel=0.06)
