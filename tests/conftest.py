"""The record of the small site and its clock, for every test that asks for no other."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from store.record.record import Record
from tests import site


@pytest.fixture
def clock() -> site.TestClock:
    return site.TestClock()


@pytest.fixture
def record(tmp_path: Path, clock: site.TestClock) -> Iterator[Record]:
    with site.begin(tmp_path / "r.tarebook", clock) as made:
        yield made
