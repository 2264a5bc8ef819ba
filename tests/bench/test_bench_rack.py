"""A key at a rack of thirty, half of it filled, against an empty app with one Input in the same run.

Run by hand: `pytest -m bench -s tests/bench/test_bench_rack.py`; see `test_bench_screen.py`.
"""

import statistics
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests import racks, site
from tests.bench.test_bench_screen import ENV, ONE_INPUT, TYPED_LINE, _keys, _p95
from tests.bench.test_bench_screen import lean as lean
from tests.tui.prepared import for_a_process
from tests.tui.pty_hand import Hand
from tests.tui.pty_terminal import Terminal

pytestmark = pytest.mark.bench


def _half_filled(path: Path) -> str:
    clock = site.TestClock()
    clock.time.now_s = (datetime.now(UTC) - site.START).total_seconds() - 2400.0  # noqa: TID251
    with site.begin(path, clock) as record:
        for_a_process(record)
        site.put(record, "setting", {"id": "tare_minutes", "value": "480"})
        prep = racks.planned(record)
        racks.player(record, prep, clock).play(until=lambda g: len(g.state.doses) == 15 and not g.on_page)
    return prep


def test_a_key_at_a_rack_shows_almost_as_soon_as_in_an_empty_app_with_one_input(
    lean: str, tmp_path: Path
) -> None:
    """With every place in words on the screen; the display is typed; each key in turn."""
    path = tmp_path / "r.tarebook"
    prep = _half_filled(path)
    with (
        Terminal([lean, "-c", ONE_INPUT], env=ENV) as empty,
        Terminal([lean, "-m", "tui", "--record", str(path)], env=ENV) as terminal,
    ):
        empty.wait_for("ready")
        hand = Hand(terminal)
        hand.sign_in("11", site.PINS["op-1"])
        hand.open_prep(prep)
        while "dose potassium" not in hand.text or "press" in hand.text:
            hand.turn()
        assert "Rack: here 16; filled 1 to 15; tared 17 to 30." in " ".join(hand.text.split())
        until = time.perf_counter() + 1.3  # a digit that acknowledged may still be held
        while time.perf_counter() < until:
            terminal.pump(0.1)
        ours, floor = [], []
        for n in range(150):
            digit = str(n % 9 + 1)
            ours += _keys(terminal, *TYPED_LINE, digit)
            floor += _keys(empty, r"▊ +{0} ", r"▊ {10}", digit)
    ratio = _p95(ours) / _p95(floor)
    print(
        f"\nkey to screen at a rack: median {1000 * statistics.median(ours):.1f}, "
        f"p95 {1000 * _p95(ours):.1f} ms; "
        f"one Input: {1000 * statistics.median(floor):.1f}, {1000 * _p95(floor):.1f} ms: "
        f"{ratio:.2f} x (reach 1.3)"
    )
    assert ratio <= 1.3
