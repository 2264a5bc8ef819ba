"""A laboratory of ten years through the record's own bulk path: make, verify, rebuild, ask; run by hand.

`pytest -m bench -s tests/bench/test_bench_lab.py`. TAREBOOK_BENCH_DOSES says how many doses (1 000 000 unless
told otherwise: 5.5 million entries), and TAREBOOK_BENCH_FOLDER keeps the record between runs. An entry takes
about 0.3 ms of one core to make and as much to verify whole, and 0.9 kB of disk: forty minutes and 4.9 GB.
"""

import io
import os
import time
import tracemalloc
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any

import pytest

from store.exchange import exports
from store.queries import recalled, trace
from store.record.record import Record
from store.record.verify import verify
from tests.bench import lab, wide_lot
from tests.bench.questions import QUESTIONS, hold

pytestmark = pytest.mark.bench

DOSES = int(os.environ.get("TAREBOOK_BENCH_DOSES", "1000000"))


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    kept = os.environ.get("TAREBOOK_BENCH_FOLDER")
    folder = Path(kept) if kept else tmp_path_factory.mktemp("lab")
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"lab-{DOSES}.tarebook"
    if not path.exists():
        part = path.with_suffix(".part")
        for end in ("", "-wal", "-shm"):
            part.with_name(part.name + end).unlink(missing_ok=True)
        begun = time.perf_counter()
        record = lab.make(part, doses=DOSES)
        entries = record.head().entry
        record.close()
        part.rename(path)
        print(f"\nmade {entries} entries in {time.perf_counter() - begun:.0f} s")
    return path


@pytest.fixture
def record(path: Path) -> Iterator[Record]:
    with Record.open(path, now=lab.Time(), terminal="7F3A", write=False) as record:
        yield record


@pytest.mark.parametrize("name", list(QUESTIONS))
def test_each_question_answers_within_100_ms(record: Record, name: str) -> None:
    hold(record, name)


def test_an_export_of_all_handlings_takes_no_more_memory_than_a_tenth_of_it(record: Record) -> None:
    def peak(since: str) -> tuple[int, int]:
        tracemalloc.start()
        rows = exports.write(
            record, "exposures", _Nowhere(), made_by="so-1", wanted=exports.Wanted(since=since)
        )
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return rows, most

    few, all_ = peak("2025"), peak("")
    print(f"\n{few[0]} rows {few[1] / 1e6:.1f} MB, {all_[0]} rows {all_[1] / 1e6:.1f} MB")
    assert all_[0] > 5 * few[0]
    assert all_[1] < 1.5 * few[1] + 2_000_000


def test_all_that_rests_on_the_solvent_of_all_takes_no_more_memory_than_its_first_page(
    record: Record,
) -> None:
    def peak(read: Callable[[Record, str], Iterator[Any]], rows: int | None) -> tuple[int, int]:
        tracemalloc.start()
        count = sum(1 for _ in islice(read(record, wide_lot.LOT), rows))
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return count, most

    for read in (trace.each, recalled.each):
        few, all_ = peak(read, 1000), peak(read, None)
        print(f"\n{few[0]} rows {few[1] / 1e6:.1f} MB, {all_[0]} rows {all_[1] / 1e6:.1f} MB")
        assert all_[0] >= DOSES // lab.DOSES
        assert all_[1] < 1.5 * few[1] + 2_000_000


class _Nowhere(io.StringIO):
    def write(self, text: str) -> int:
        return len(text)


def test_chain_and_tables_verify(path: Path) -> None:
    for chain_only in (True, False):
        begun = time.perf_counter()
        found = verify(path, chain_only=chain_only)
        took_s = time.perf_counter() - begun
        what = "chain" if chain_only else "chain and tables"
        print(
            f"\n{what}: {found.entries} entries in {took_s:.1f} s, {path.stat().st_size / 1e6:.0f} MB on disk"
        )
        assert found.ok


def test_the_tables_are_made_anew(path: Path) -> None:
    with Record.open(path, now=lab.Time(), terminal="7F3A") as record:
        begun = time.perf_counter()
        record.rebuild()
        print(f"\nrebuilt in {time.perf_counter() - begun:.0f} s")
        assert record.query("SELECT count(*) AS n FROM dose")[0]["n"] == DOSES // lab.DOSES * lab.DOSES
