"""What the screens and the shell ask of a large record, and SQL by hand for the same on the same indexes.

The records of `lab` and of `million` both know these people, substances, lots and preps.
"""

import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from typing import Any, NamedTuple

from store.exchange import about
from store.queries import (
    choices,
    due,
    duty,
    exposures,
    incidents,
    lots,
    preps,
    recalled,
    registers,
    revised,
    search,
    totals,
)
from store.queries.asked import asked
from store.queries.page import page
from store.queries.rolled import By
from store.record.record import Record
from tests.bench import wide_lot

LONGEST_S = 0.1
"""No question may take longer."""
MOST = 1.2
"""Times the hand-written SQL."""
OVER_S, OVER_EACH_S = 0.002, 100e-6
"""What a question may take more in any case, and for each row that becomes an object with all of it."""


class Question(NamedTuple):
    """What is asked; hand-written SQL for the same, where there is any."""

    ask: Callable[[Record], Any]
    sql: str = ""


def screen(record: Record, **which: Any) -> tuple[Any, ...]:
    """Ask what the exposure log asks when it is drawn: its sums, the last weeks, and its first page."""
    wanted = asked(record, **which)
    weeks = asked(record, **{"since": "2025-11-03", **which})
    return (
        totals.of(record, wanted, "all"),
        totals.of(record, wanted, "substance"),
        totals.of(record, weeks, "week"),
        exposures.rows(record, wanted, limit=201),
    )


def _sums(by: By, sql: str = "", **which: Any) -> Question:
    return Question(lambda r: totals.totals(r, by, **which), sql)


def _past(sql: str = "", **which: Any) -> Question:
    return Question(lambda r: preps.past(r, limit=201, **which), sql)


def _page_about(record: Record, person: str) -> list[list[Any]]:
    return [list(part.rows) for part in about.sections(record, about.About(person), newest=50)]


HANDLING = """
    SELECT h.*, p.rehearsal, (SELECT json_group_array(person) FROM handling_person WHERE handling = h.entry),
           (SELECT count(*) FROM incident AS i WHERE i.prep = h.prep AND i.handling = h.entry),
           (SELECT json_group_array(s.families) FROM json_each(h.substances) AS held
            JOIN prep_hazard AS ph ON ph.prep = h.prep AND ph.substance = held.value
            JOIN hazard_snapshot AS s ON s.id = ph.snapshot)
    FROM ({chosen}) AS c CROSS JOIN handling AS h ON h.entry = c.handling JOIN prep AS p ON p.prep = h.prep
"""
SUMS = (
    "sum(handlings), sum(net_mg), sum(open_s), sum(estimated), sum(estimated_s), max(longest_s) FROM {table}"
)
WRONG = "SELECT count(*) FROM incident UNION ALL SELECT count(*) FROM exposure_note WHERE unusual"
PREPS = "SELECT * FROM prep {} LIMIT 201"
STOCK = """
    SELECT c.row, l.row, d.mg, d.wasted, h.opened, h.times,
           (SELECT left_mg FROM stocktake WHERE container = c.id ORDER BY entry DESC LIMIT 1)
    FROM register_row AS c JOIN register_row AS l ON l.register = 'lot' AND l.id = c.row ->> '$.lot',
         (SELECT sum(net_mg) AS mg, sum(iif(d.state = 'discarded' OR NOT usable, net_mg, 0.0)) AS wasted
          FROM dose AS d JOIN prep AS p ON p.prep = d.prep
          WHERE d.container = 'L7-1-1' AND d.state <> 'never happened' AND NOT p.rehearsal) AS d,
         (SELECT min(h.day) AS opened, count(*) AS times FROM handling AS h JOIN prep AS p ON p.prep = h.prep
          WHERE h.container = 'L7-1-1' AND h.state <> 'never happened' AND NOT p.rehearsal) AS h
    WHERE c.register = 'container' AND c.id = 'L7-1-1'
"""

OF_LOG = {
    "the newest 201 handlings": Question(
        lambda r: exposures.of(r, limit=201),
        HANDLING.format(chosen="SELECT entry AS handling FROM handling ORDER BY entry DESC LIMIT 201"),
    ),
    "handlings of a person": Question(
        lambda r: exposures.of(r, person="op-3", limit=201),
        HANDLING.format(
            chosen="SELECT handling FROM handling_person WHERE person = 'op-3' "
            "ORDER BY day DESC, handling DESC LIMIT 201"
        ),
    ),
    "a person, a family, 90 days": Question(
        lambda r: exposures.of(r, person="op-3", family="CMR_1", since="2025-09-28", until="2025-12-27"),
        HANDLING.format(
            chosen="SELECT handling FROM handling_family WHERE person = 'op-3' AND family = 'CMR_1' "
            "AND day BETWEEN '2025-09-28' AND '2025-12-27' ORDER BY handling DESC LIMIT 200"
        ),
    ),
    "handlings of a substance": Question(
        lambda r: exposures.of(r, substance="S7", limit=50),
        HANDLING.format(
            chosen="SELECT DISTINCT handling FROM handling_substance WHERE substance = 'S7' "
            "ORDER BY handling DESC LIMIT 50"
        ),
    ),
    "handlings of a year": Question(
        lambda r: exposures.of(r, since="2020", until="2020"),
        HANDLING.format(
            chosen="SELECT entry AS handling FROM handling "
            "WHERE entry <= (SELECT max(last) FROM handling_day WHERE day <= '2020-12-31') "
            "AND day BETWEEN '2020-01-01' AND '2020-12-31' ORDER BY entry DESC LIMIT 200"
        ),
    ),
    "handlings of the solvent lot of all": Question(
        lambda r: exposures.of(r, lot="W", limit=201),
        HANDLING.format(
            chosen="SELECT handling FROM lot_handling WHERE lot = 'W' ORDER BY handling DESC LIMIT 201"
        ),
    ),
    "handlings of a lot and what was made of it": Question(lambda r: exposures.of(r, lot="L7-1")),
    "handlings of a family as classified now": Question(
        lambda r: exposures.of(r, family="CMR_1", as_classified="now", limit=201)
    ),
    "what went wrong": Question(lambda r: incidents.of(r, asked(r)), WRONG),
}

ALL: tuple[By, ...] = ("all", "day", "week", "month", "year", "person", "substance")
FAMILY: By = "family"

OF_SUMS = {
    **{f"sums by {by}": _sums(by) for by in ALL[:3]},
    "sums by month": Question(
        lambda r: totals.totals(r, "month"),
        f"SELECT substr(day, 1, 7) AS m, {SUMS.format(table='daily_all')} WHERE person = '' GROUP BY m",
    ),
    "sums by person": Question(
        lambda r: totals.totals(r, "person"),
        f"SELECT person, {SUMS.format(table='yearly_all')} WHERE person <> '' GROUP BY person",
    ),
    "sums by substance": Question(
        lambda r: totals.totals(r, "substance"),
        f"SELECT substance, {SUMS.format(table='yearly_substance')} WHERE person = '' GROUP BY substance",
    ),
    "sums by substance of a person": Question(
        lambda r: totals.totals(r, "substance", person="op-3"),
        f"SELECT substance, {SUMS.format(table='yearly_substance')} WHERE person = 'op-3' GROUP BY substance",
    ),
    "sums by family of a year": Question(
        lambda r: totals.totals(r, "family", since="2020", until="2020"),
        f"SELECT family, {SUMS.format(table='yearly_family')} WHERE person = '' AND year = '2020' "
        "GROUP BY family",
    ),
    "sums by month of a person, ten years": Question(
        lambda r: totals.totals(r, "month", person="op-3", since="2016", until="2025"),
        f"SELECT substr(day, 1, 7) AS m, {SUMS.format(table='daily_all')} WHERE person = 'op-3' "
        "AND day BETWEEN '2016-01-01' AND '2025-12-31' GROUP BY m",
    ),
    "sums by substance, a period with ragged ends": Question(
        lambda r: totals.totals(r, "substance", since="2016-03-05", until="2025-10-02")
    ),
    **{
        f"sums by {by}, CMR 1 as classified now": _sums(by, family="CMR_1", as_classified="now") for by in ALL
    },
    **{f"sums by {by}, the solvent of all": _sums(by, substance="WATER") for by in ALL},
    **{f"sums by {by}, an enclosure": _sums(by, enclosure="E-1") for by in (*ALL, FAMILY)},
    **{f"sums by {by}, a kind of handling": _sums(by, what="container") for by in (*ALL, FAMILY)},
    **{
        f"sums by {by}, both, a period with ragged ends": _sums(
            by, enclosure="E-1", what="weigh_solid", since="2016-03-05", until="2025-10-02"
        )
        for by in ("week", "person", "substance", FAMILY)
    },
    "sums by month, CMR 1 at an enclosure": _sums("month", family="CMR_1", enclosure="E-1"),
    "sums by month, a substance at an enclosure": _sums("month", substance="S7", enclosure="E-1"),
    "sums by substance of a person at an enclosure": _sums("substance", person="op-4", enclosure="E-1"),
    "without names": Question(lambda r: duty.without_names(r, "family")),
    "without names, by substance": Question(lambda r: duty.without_names(r, "substance")),
    "CMR register of a person and a year": Question(
        lambda r: duty.cmr_register(r, person="op-3", since="2020", until="2020")
    ),
    "screen of the log": Question(screen),
    "screen of the log, a person": Question(lambda r: screen(r, person="op-3")),
    "screen of the log, CMR 1 then": Question(lambda r: screen(r, family="CMR_1")),
    "screen of the log, CMR 1 now": Question(lambda r: screen(r, family="CMR_1", as_classified="now")),
    "screen of the log, an enclosure": Question(lambda r: screen(r, enclosure="E-1")),
    "screen of the log, an enclosure nobody works at": Question(lambda r: screen(r, enclosure="E-9")),
    "screen of the log, a kind of handling": Question(lambda r: screen(r, what="container")),
    "screen of the log, CMR 1 at an enclosure": Question(
        lambda r: screen(r, family="CMR_1", enclosure="E-1")
    ),
    "screen of the log, a person at an enclosure": Question(
        lambda r: screen(r, person="op-4", enclosure="E-1")
    ),
    "screen of the log, what went wrong": Question(lambda r: screen(r, incidents=True)),
    "screen of the log, a lot": Question(lambda r: screen(r, lot="L7-1")),
    "twelve weeks of a person": Question(
        lambda r: totals.totals(r, "week", person="op-3", since="2025-10-06", until="2025-12-28")
    ),
}

SORTS: dict[preps.Sort, str] = {
    "newest": "ORDER BY entry DESC",
    "substance": "ORDER BY substance, entry DESC",
    "concentration": "ORDER BY unit, value DESC, entry DESC",
    "deviation": "ORDER BY abs(deviation) DESC, entry DESC",
    "open": "ORDER BY open_s DESC, entry DESC",
}

TEXTS = ("7F3A-000700", "L77-1", "nowhere", "zq", "l7", "q", "1")

OF_PREPS = {
    **{f"past preps, {sort}": _past(PREPS.format(sql), sort=sort) for sort, sql in SORTS.items()},
    "past preps of a substance": Question(
        lambda r: preps.past(r, substance="S7", limit=201),
        PREPS.format("WHERE substance = 'S7' ORDER BY entry DESC"),
    ),
    "past preps of a lot": Question(
        lambda r: preps.past(r, lot="L7-1", limit=201), PREPS.format("WHERE lot = 'L7-1' ORDER BY entry DESC")
    ),
    "past preps of a year": Question(lambda r: preps.past(r, since="2018", until="2018", limit=201)),
    "past preps with the solvent of all": Question(lambda r: preps.past(r, substance="WATER", limit=201)),
    "past preps that wait": Question(lambda r: preps.past(r, status="waiting", limit=201)),
    **{f"past preps that hold {text!r}": _past(text=text) for text in TEXTS},
    "one prep's whole page": Question(lambda r: page(r, "P-7F3A-000100")),
    "what a person did, as a page": Question(lambda r: _page_about(r, "op-3")),
}

OF_LOTS = {
    "what was made of a lot": Question(
        lambda r: lots.trace(r, "L7-1"),
        "SELECT p.made_lot, d.prep, sum(d.net_mg) FROM dose AS d JOIN prep AS p ON p.prep = d.prep "
        "WHERE d.lot = 'L7-1' GROUP BY d.prep",
    ),
    "recall of a lot": Question(lambda r: recalled.newest(r, "L7-1", 200)),
    "revised certificate of a lot": Question(lambda r: revised.of(r, "L7-1")),
    "what is left of a container": Question(lambda r: lots.stock(r, "L7-1-1"), STOCK),
    "lots, first page": Question(lambda r: registers.page(r, "lot", limit=201)),
    "lots that hold a word": Question(lambda r: registers.page(r, "lot", find="L77-1", limit=201)),
    "lots that hold a digit": Question(lambda r: registers.page(r, "lot", find="9", limit=201)),
    "containers that hold no word of lots": Question(
        lambda r: registers.page(r, "container", find="P-7F3A-1", limit=201)
    ),
    "substances that hold a word": Question(lambda r: registers.page(r, "substance", find="77", limit=201)),
    "a bottle to choose": Question(lambda r: choices.bottles(r, ("substance", "77"), limit=50)),
    "a solution to choose": Question(lambda r: choices.solutions(r, ("s-7f3a",), limit=50)),
    "a lot to choose": Question(lambda r: choices.rows(r, "lot", ("s77",), limit=50)),
    "a word in the search": Question(lambda r: search.find(r, "substance 77")),
    "a prep in the search": Question(lambda r: search.find(r, "P-7F3A-000100")),
    "a digit in the search": Question(lambda r: search.find(r, "1")),
    "a beginning of old numbers in the search": Question(lambda r: search.find(r, "P-7F3A-00")),
    "the bench": Question(lambda r: due.bench(r, "op-3")),
    "what is due": Question(due.of),
}

ONE = ("what is left of a container", "what was made of a lot")
"""Their answer is one thing, not rows."""

OF_WIDE = {name: Question(ask) for name, ask in wide_lot.ASKED.items()}

QUESTIONS: dict[str, Question] = {**OF_LOG, **OF_SUMS, **OF_PREPS, **OF_LOTS, **OF_WIDE}


def best_s(of: Callable[[], Any], times: int = 7) -> float:
    """Give the shortest of several runs, in seconds of one core: other work beside it does not count."""
    best = float("inf")
    for _ in range(times):
        begun = time.process_time()
        of()
        best = min(best, time.process_time() - begun)
    return best


@contextmanager
def raw(record: Record) -> Iterator[sqlite3.Connection]:
    """Open the file again, without this program."""
    with closing(sqlite3.connect(f"{record.path.as_uri()}?mode=ro", uri=True)) as connection:
        yield connection


def hold(record: Record, name: str) -> None:
    """Print what a question takes, and what its SQL by hand takes; hold it up to both limits."""
    ask, sql = QUESTIONS[name]
    rows = len(ask(record)) if sql and name not in ONE else 0
    ours = best_s(lambda: ask(record))
    floor = 0.0
    if sql:
        with raw(record) as connection:
            floor = best_s(lambda: connection.execute(sql).fetchall())
    ratio = f"by hand {floor * 1000:7.2f} ms {ours / floor:6.2f} x" if floor else ""
    print(f"\n{name:46} {ours * 1000:7.2f} ms   {ratio}")
    assert ours < LONGEST_S
    assert not floor or ours <= MOST * floor + OVER_S + OVER_EACH_S * rows
