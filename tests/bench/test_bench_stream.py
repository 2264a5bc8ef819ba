"""An hour of a balance at 20 lines a second: the memory does not grow with it.

Run by hand: `pytest -m bench -s tests/bench/test_bench_stream.py`.
"""

import tracemalloc
from random import Random

import pytest

from store.model.registers import Balance
from tui.balance.settings import Manner
from tui.balance.stream import Splitter, Steadiness, sample, understand
from tui.guide.stream import Stream

pytestmark = pytest.mark.bench

HZ = 20
ROW = Balance(id="B-1", name="x", readability="0.01 mg", capacity="80 g", repeatability="0.01 mg")


def test_the_memory_after_an_hour_of_lines_is_that_after_ten_minutes() -> None:
    chance, cut, rest, stream = Random(1), Splitter(0.0, whole_from_start=True), Steadiness(), Stream(ROW, {})
    kept = {}
    tracemalloc.start()
    for n in range(3600 * HZ + 1):
        at_s = n / HZ
        line = f"{10 + chance.gauss(0, 0.01):.2f} mg\r\n".encode()
        for raw in cut.feed(line, at_s):
            heard = understand(raw, Manner(unit="mg"), at_s)
            assert heard.reading is not None
            stream.take(sample(heard, steady=rest.take(heard.reading, at_s)))
        if n in (600 * HZ, 3600 * HZ):
            kept[n] = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    ten_minutes, hour = kept.values()
    print(f"\nheld after ten minutes {ten_minutes / 1024:.0f} KiB, after an hour {hour / 1024:.0f} KiB")
    assert hour < 1.1 * ten_minutes
    assert hour < 2 * 1024 * 1024
