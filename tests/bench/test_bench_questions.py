"""Questions over 1,000,000 doses against hand-written SQL on one file; run by hand: `pytest -m bench -s`.

`TAREBOOK_BENCH_FOLDER` keeps the record between runs; it takes some minutes and 1.2 GB to make. It has no
journal, so what reads lines of the journal is left to the laboratory of `test_bench_lab`.
"""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from store.record.record import Record
from tests.bench import wide_lot
from tests.bench.million import open_million
from tests.bench.questions import QUESTIONS, hold

pytestmark = pytest.mark.bench

JOURNAL = ("one prep's whole page", "revised certificate of a lot", *wide_lot.OF_LAB)
"""Questions that read the journal, or what only the laboratory has."""


@pytest.fixture(scope="module")
def million(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    kept = os.environ.get("TAREBOOK_BENCH_FOLDER")
    folder = Path(kept) if kept else tmp_path_factory.mktemp("million")
    folder.mkdir(parents=True, exist_ok=True)
    with open_million(folder) as record:
        yield record


@pytest.mark.parametrize("name", [name for name in QUESTIONS if name not in JOURNAL])
def test_a_question_takes_little_more_than_hand_written_sql(million: Record, name: str) -> None:
    hold(million, name)
