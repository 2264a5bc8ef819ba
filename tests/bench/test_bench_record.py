"""The record against a floor in the same run: a durable dose, and a walk of the chain.

Run by hand: `pytest -m bench -s tests/bench/test_bench_record.py`. TAREBOOK_BENCH_ENTRIES says how long the
chain is (200 000 unless told otherwise; 5 000 000 takes some 3 GB of disk and several minutes).
"""

import os
import sqlite3
import statistics
import time
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from store.record.journal import digest_of, line_of
from store.record.record import Record
from store.record.schema import GENESIS, JOURNAL, JOURNAL_SUBJECT
from store.record.verify import verify
from tests.store.record_story import Clock, dosed, new_record, prep_events, site

PREP = "P-7F3A-0001"
ENTRIES = int(os.environ.get("TAREBOOK_BENCH_ENTRIES", "200000"))

pytestmark = pytest.mark.bench


def _prep_with_an_opening(path: Path) -> Record:
    record = new_record(path, Clock())
    site(record)
    for event in list(prep_events(PREP))[:6]:
        assert not isinstance(event, tuple)
        record.append(event, person="op-1", subject=f"prep:{PREP}")
    return record


def _raw(path: Path) -> sqlite3.Connection:
    raw = sqlite3.connect(path, isolation_level=None)
    for pragma in (
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "recursive_triggers = ON",
    ):
        raw.execute(f"PRAGMA {pragma}")
    raw.execute(JOURNAL)
    raw.execute(JOURNAL_SUBJECT)
    raw.execute("CREATE TABLE dose (entry INTEGER PRIMARY KEY, prep TEXT, shown TEXT, net_mg REAL) STRICT")
    return raw


def test_an_accepted_dose_costs_at_most_twice_two_raw_inserts(tmp_path: Path) -> None:
    """All durable, in turn, so that what else the machine does hits each; a prep has some ten doses.

    The floor is two inserts that are durable each, as raw inserts are. Both in one transaction is told too.
    """
    ours_ms, floor_ms, together_ms = [], [], []
    with closing(_raw(tmp_path / "raw")) as raw:
        entry = 0
        for round in range(20):
            with _prep_with_an_opening(tmp_path / f"r{round}") as record:
                digest = record.head().digest
                line = line_of(
                    dosed(PREP, "10.13 mg", "4.03", "10.13"), at=record.now(), terminal="7F3A",
                    person="op-1", subject=f"prep:{PREP}",
                )  # fmt: skip
                for number in range(12):
                    entry += 1
                    floor_ms.append(_ms(_two_inserts, raw, entry, line, digest))
                    entry += 1
                    together_ms.append(_ms(_in_one, raw, entry, line, digest))
                    ours_ms.append(_ms(_one_dose, record, number + 1))
    ours, floor, together = map(statistics.median, (ours_ms, floor_ms, together_ms))
    print(
        f"\none dose {ours:.3f} ms; two raw inserts {floor:.3f} ms: {ours / floor:.2f} x (reach 2); "
        f"both in one transaction {together:.3f} ms: {ours / together:.2f} x"
    )
    assert ours <= 2 * floor


def _ms(act: Callable[..., None], *what: Any) -> float:
    start = time.perf_counter()
    act(*what)
    return (time.perf_counter() - start) * 1000


def _two_inserts(raw: sqlite3.Connection, entry: int, line: str, digest: str) -> None:
    raw.execute("INSERT INTO journal (entry, line, digest) VALUES (?, ?, ?)", (entry, line, digest))
    raw.execute("INSERT INTO dose VALUES (?, ?, ?, ?)", (entry, PREP, "10.13 mg", 4.03))


def _in_one(raw: sqlite3.Connection, entry: int, line: str, digest: str) -> None:
    raw.execute("BEGIN IMMEDIATE")
    _two_inserts(raw, entry, line, digest)
    raw.execute("COMMIT")


def _one_dose(record: Record, number: int) -> None:
    event = dosed(PREP, f"{number}.00 mg", "1.00", f"{number}.00")
    seen = record.prep_state(PREP).last_entry
    record.append(event, person="op-1", subject=f"prep:{PREP}", seen=seen)


def _long_chain(path: Path, entries: int) -> None:
    """Fill a journal with chained dose lines, quickly and without the derived tables."""
    clock = Clock()
    new_record(path, clock).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.create_function("tarebook_digest", 2, digest_of, deterministic=True)
        raw.execute("PRAGMA synchronous = OFF")
        (before,) = raw.execute("SELECT digest FROM journal").fetchone()
        raw.execute("BEGIN")
        line = line_of(
            dosed(PREP, "10.13 mg", "4.03", "10.13"), at=clock(), terminal="7F3A", person="op-1",
            subject=f"prep:{PREP}",
        )  # fmt: skip
        for number in range(2, entries + 1):
            text = line.replace("10.13", f"{number % 1000}.13")
            before = digest_of(before, text)
            raw.execute("INSERT INTO journal (entry, line, digest) VALUES (?, ?, ?)", (number, text, before))
        raw.execute("COMMIT")


def _floor_s(path: Path) -> float:
    start = time.perf_counter()
    with closing(sqlite3.connect(path)) as raw:
        raw.text_factory = bytes
        before = GENESIS.encode()
        for _, line, digest in raw.execute(
            "SELECT entry, line, digest FROM journal NOT INDEXED ORDER BY entry"
        ):
            assert sha256(before + b"\n" + line).hexdigest().encode() == digest
            before = digest
    return time.perf_counter() - start


def test_the_chain_is_walked_in_half_as_long_again_as_the_same_select_with_sha256(tmp_path: Path) -> None:
    path = tmp_path / "long"
    _long_chain(path, ENTRIES)
    floor_s, ours_s = [], []
    for _ in range(3):
        floor_s.append(_floor_s(path))
        start = time.perf_counter()
        assert verify(path, chain_only=True).entries == ENTRIES
        ours_s.append(time.perf_counter() - start)
    floor, ours = min(floor_s), min(ours_s)
    print(
        f"\n{ENTRIES} entries, {path.stat().st_size / 1e6:.0f} MB: verify --chain-only {ours:.2f} s; "
        f"SELECT with sha256 {floor:.2f} s: {ours / floor:.2f} x (reach 1.5)"
    )
    assert ours <= 1.5 * floor
