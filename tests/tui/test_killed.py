"""A real process killed at seeded moments of a prep, and started again: every accepted dose is there."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import pytest

from store.procedure.state import PrepState
from store.record.record import Record
from store.record.verify import verify
from tests import site
from tests.tui import audit
from tests.tui.prepared import moments
from tests.tui.pty_hand import Hand, tarebook

STARTS = (
    "0-pressure",
    "1-check",
    "2-vessel",
    "3-open",
    "3-dose",
    "4-open",
    "4-dose",
    "6-sealed",
    "8-open",
    "9-note",
)
"""Every kind of step, and both doses twice."""
KILLS = 3
"""From each start, one after the other: thirty in all."""


def _state(path: Path, prep: str) -> PrepState:
    with Record.open(path, now=lambda: datetime.now(UTC), terminal="7F3A", write=False) as record:  # noqa: TID251
        found = audit.of_prep(record, prep)
        assert found.faults == []
        return record.prep_state(prep)


def _resumed(hand: Hand, prep: str, state: PrepState) -> None:
    """Start again: the same step; what was open is asked first; what was accepted last is said in time."""
    hand.sign_in("11", site.PINS["op-1"])
    hand.open_prep(prep)
    assert f"step {state.step + 1} of" in hand.text or "all steps done" in hand.text
    if state.open_handlings:
        assert "is it open now" in " ".join(hand.text.split())


def _chain(folder: Path, name: str, seed: int, kills: int) -> int:
    chance = Random(f"{seed}/{name}")
    start = moments(now=True)[name]
    path = start.copy(folder / f"{name}.tarebook")
    state = _state(path, start.prep)
    accepted = [d.shown for d in state.doses]
    for _ in range(kills):
        with tarebook(path) as terminal:
            hand = Hand(terminal)
            _resumed(hand, start.prep, state)
            for _ in range(chance.randint(0, 4)):
                if "all steps done" not in hand.text:
                    hand.turn()
            if "all steps done" not in hand.text:
                hand.begin_a_turn(chance)
            terminal.kill()
        accepted += hand.doses
        state = _state(path, start.prep)
        shown = [d.shown for d in state.doses]
        # The key that was pressed last may have done its work, or not.
        assert shown[: len(accepted)] == accepted, name
        assert len(shown) <= len(accepted) + 1, name
        accepted = shown
        assert verify(path).ok
    with tarebook(path) as terminal:
        hand = Hand(terminal)
        _resumed(hand, start.prep, state)
    assert [d.shown for d in _state(path, start.prep).doses] == accepted
    return kills


def _all(folder: Path, seed: int, kills: int) -> int:
    moments(now=True)
    with ThreadPoolExecutor(2) as pool:
        return sum(pool.map(lambda name: _chain(folder, name, seed, kills), STARTS))


def test_killed_at_thirty_moments_it_comes_back_with_every_accepted_dose(tmp_path: Path) -> None:
    assert _all(tmp_path, seed=2026, kills=KILLS) == 30


@pytest.mark.long
@pytest.mark.parametrize("seed", range(10))
def test_killed_at_three_hundred_moments_it_comes_back_with_every_accepted_dose(
    tmp_path: Path, seed: int
) -> None:
    assert _all(tmp_path, seed=seed, kills=KILLS) == 30
