"""Questions over 1,000,000 doses against hand-written SQL on one file; run by hand: `pytest -m bench -s`.

`TAREBOOK_BENCH_FOLDER` keeps the record between runs; it takes some minutes and 1.2 GB to make.
"""

import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from store.queries import due, exposures, lots, preps, totals
from store.record.record import Record
from tests.bench.million import open_million

pytestmark = pytest.mark.bench

MOST = 1.2
"""Times the hand-written SQL."""
OVER_S = 0.008
"""What a question may take more in any case: up to 200 rows become objects, each with what belongs to it."""
LONGEST_S = 0.1


@pytest.fixture(scope="module")
def million(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Record]:
    kept = os.environ.get("TAREBOOK_BENCH_FOLDER")
    folder = Path(kept) if kept else tmp_path_factory.mktemp("million")
    folder.mkdir(parents=True, exist_ok=True)
    with open_million(folder) as record:
        yield record


@pytest.fixture
def raw(million: Record) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(f"{million.path.as_uri()}?mode=ro", uri=True)) as connection:
        yield connection


HANDLING = """
    SELECT h.*, p.rehearsal, (SELECT json_group_array(person) FROM handling_person WHERE handling = h.entry),
           (SELECT count(*) FROM incident AS i WHERE i.prep = h.prep AND i.handling = h.entry),
           (SELECT json_group_array(s.families) FROM json_each(h.substances) AS held
            JOIN prep_hazard AS ph ON ph.prep = h.prep AND ph.substance = held.value
            JOIN hazard_snapshot AS s ON s.id = ph.snapshot)
    FROM ({chosen}) AS c CROSS JOIN handling AS h ON h.entry = c.handling JOIN prep AS p ON p.prep = h.prep
"""

QUESTIONS: dict[str, tuple[Callable[[Record], Any], str]] = {
    "the newest 200 handlings": (
        lambda r: exposures.of(r),
        HANDLING.format(chosen="SELECT entry AS handling FROM handling ORDER BY entry DESC LIMIT 200"),
    ),
    "one person, a hazard family, 90 days": (
        lambda r: exposures.of(r, person="op-3", family="CMR_1", since="2025-09-28", until="2025-12-27"),
        HANDLING.format(
            chosen="SELECT handling FROM handling_family WHERE person = 'op-3' AND family = 'CMR_1' "
            "AND day BETWEEN '2025-09-28' AND '2025-12-27' ORDER BY handling DESC LIMIT 200"
        ),
    ),
    "one substance, the last 50": (
        lambda r: exposures.of(r, substance="S7", limit=50),
        HANDLING.format(
            chosen="SELECT DISTINCT handling FROM handling_substance WHERE substance = 'S7' "
            "ORDER BY handling DESC LIMIT 50"
        ),
    ),
    "everybody, one year, the newest 200": (
        lambda r: exposures.of(r, since="2015", until="2015"),
        HANDLING.format(
            chosen="SELECT entry AS handling FROM handling "
            "WHERE entry <= (SELECT max(last) FROM handling_day WHERE day <= '2015-12-31') "
            "AND day BETWEEN '2015-01-01' AND '2015-12-31' ORDER BY entry DESC LIMIT 200"
        ),
    ),
    "one person, ten years, by month": (
        lambda r: totals.totals(r, "month", person="op-3", since="2016", until="2025"),
        "SELECT substr(day, 1, 7) AS m, sum(handlings), sum(net_mg), sum(open_s), sum(estimated), "
        "sum(estimated_s), max(longest_s) FROM daily_all WHERE person = 'op-3' AND day >= '2016-01-01' "
        "AND day <= '2025-12-31' GROUP BY m",
    ),
    "everybody, one year, by family": (
        lambda r: totals.totals(r, "family", since="2015", until="2015"),
        "SELECT family, sum(handlings), sum(net_mg), sum(open_s), sum(estimated), sum(estimated_s), "
        "max(longest_s) FROM daily_family WHERE person = '' AND day BETWEEN '2015-01-01' AND '2015-12-31' "
        "GROUP BY family",
    ),
    "everybody, everything, by person": (
        lambda r: totals.totals(r, "person"),
        "SELECT person, sum(handlings), sum(net_mg), sum(open_s), sum(estimated), sum(estimated_s), "
        "max(longest_s) FROM daily_all WHERE person <> '' GROUP BY person",
    ),
    "past preps of a substance": (
        lambda r: preps.past(r, substance="S7"),
        "SELECT * FROM prep WHERE substance = 'S7' OR solvent = 'S7' ORDER BY entry DESC LIMIT 200",
    ),
    "past preps of a lot": (
        lambda r: preps.past(r, lot="L7-3"),
        "SELECT * FROM prep WHERE lot = 'L7-3' ORDER BY entry DESC LIMIT 200",
    ),
    "what was made of a lot": (
        lambda r: lots.trace(r, "L7-3"),
        "SELECT p.made_lot, d.prep, sum(d.net_mg) FROM dose AS d JOIN prep AS p ON p.prep = d.prep "
        "WHERE d.lot = 'L7-3' GROUP BY d.prep",
    ),
    "what is left of a container": (
        lambda r: lots.stock(r, "L7-3-1"),
        "SELECT sum(net_mg) FROM dose WHERE container = 'L7-3-1'",
    ),
    "the bench": (lambda r: due.bench(r, "op-3"), ""),
    "twelve weeks of a person": (
        lambda r: totals.totals(r, "week", person="op-3", since="2025-10-06", until="2025-12-28"),
        "",
    ),
}


def _best(of: Callable[[], Any], times: int = 15) -> float:
    best = float("inf")
    for _ in range(times):
        begun = time.perf_counter()
        of()
        best = min(best, time.perf_counter() - begun)
    return best


@pytest.mark.parametrize("name", list(QUESTIONS))
def test_a_question_takes_little_more_than_hand_written_sql(
    million: Record, raw: sqlite3.Connection, name: str
) -> None:
    ask, sql = QUESTIONS[name]
    ours = _best(lambda: ask(million))
    floor = _best(lambda: raw.execute(sql).fetchall()) if sql else 0.0
    ratio = f"{ours / floor:5.2f} x" if floor else "   no floor"
    print(f"\n{name:40} {ours * 1000:7.2f} ms   floor {floor * 1000:7.2f} ms   {ratio}")
    assert ours < LONGEST_S
    assert not floor or ours <= MOST * floor + OVER_S
