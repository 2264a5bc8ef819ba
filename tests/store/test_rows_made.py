"""Rows of long answers hold what they held when each was made by itself, and ask no more for being many."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from store import events as ev
from store.exchange import about
from store.exchange.cells import fields_of
from store.hazards import snapshot
from store.queries import duty, totals
from store.record.record import Record
from tests.store.asked_story import SUBSTANCES, Story, begin


@pytest.fixture
def told(tmp_path: Path) -> Iterator[Story]:
    story = begin(tmp_path)
    yield story
    story.record.close()


class Counting:
    """A record that counts what it is asked."""

    def __init__(self, record: Record) -> None:
        self.record, self.asked = record, list[tuple[str, dict[str, Any]]]()

    def __getattr__(self, name: str) -> Any:
        return getattr(self.record, name)

    def query(self, sql: str, /, **params: Any) -> Any:
        self.asked.append((sql, params))
        return self.record.query(sql, **params)


def test_each_figure_of_a_sum_stands_in_its_field() -> None:
    sums = {
        "handlings": 7, "net_mg": 12.3 - 12.2, "open_s": 90.5, "estimated": 2, "estimated_s": 30.1,
        "longest_s": 40,
    }  # fmt: skip
    assert totals._total("2026", sums, 3, 4) == totals.Total(
        key="2026", handlings=7, net_mg=0.1, open_s=60.4, estimated=2, estimated_s=30.1, longest_s=40.0,
        incidents=3, unusual=4,
    )  # fmt: skip
    nothing = totals._total("2026", None, 0, 5)
    assert fields_of(nothing) == {
        "key": "2026", "handlings": 0, "net_mg": 0.0, "open_s": 0, "estimated": 0, "estimated_s": 0.0,
        "longest_s": 0.0, "incidents": 0, "unusual": 5,
    }  # fmt: skip
    assert [type(value) for value in fields_of(nothing).values()][2:7] == [float, int, int, float, float]


def test_reviews_of_a_person_are_found_by_the_person(told: Story) -> None:
    prep, _ = told.whole()
    told.put(ev.Reviewed(prep=prep, verdict="accepted", reason="", meaning="read", head=""), by="rv-1")
    record = Counting(told.record)
    (found,) = about._reviews(record, about.About("rv-1"))  # type: ignore[arg-type]
    assert (found["prep"], found["meaning"]) == (prep, "read")
    ((sql, params),) = record.asked
    (plan,) = told.record.query(f"EXPLAIN QUERY PLAN {sql}", **params)
    assert plan["detail"] == "SEARCH review USING INDEX review_person (person=?)"


def test_the_register_of_cmr_takes_as_many_questions_for_many_substances_as_for_one(told: Story) -> None:
    told.whole(present=("op-2",))
    few = Counting(told.record)
    one = duty.cmr_register(few)  # type: ignore[arg-type]
    assert [(r.person, r.substance, r.name) for r in one] == [
        ("op-1", "K2CR2O7", "OP-1"), ("op-2", "K2CR2O7", "OP-2"),
    ]  # fmt: skip
    for n in range(5):
        told.row("substance", {**SUBSTANCES["K2CR2O7"], "id": f"CR-{n}", "name": f"chromate {n}", "cas": ""})
    told.row("person", {"id": "op-1", "name": "O. One", "roles": ["operator"], "fit_test": "mask 3"})
    hazards = {f"CR-{n}": _hazards(n) for n in range(5)}
    for n in range(5):
        told.put(
            ev.HandledApart(
                what="wipe-down", day="2026-03-02", enclosure="E-9", gloves="butyl", present=("op-1",),
                substances=(f"CR-{n}", "UNKNOWN"), hazards={**hazards, "UNKNOWN": hazards["CR-0"]},
                open_s="9",
            )
        )  # fmt: skip
    many = Counting(told.record)
    rows = {(r.person, r.substance): r for r in duty.cmr_register(many)}  # type: ignore[arg-type]
    assert len(rows) == len(one) + 6
    assert len(many.asked) <= len(few.asked) + 1
    for n in range(5):
        row = rows["op-1", f"CR-{n}"]
        assert (row.name, row.substance_name, row.statements) == ("O. One", f"chromate {n}", _codes(n))
        assert row.equipment == ("butyl", "fit tested: mask 3")
    unknown = rows["op-1", "UNKNOWN"]
    assert (unknown.substance_name, unknown.cas, unknown.form, unknown.handlings) == ("", "", "", 5)
    assert rows["op-2", "K2CR2O7"] == one[1]


def _codes(n: int) -> tuple[str, ...]:
    return ("H350", "H317") if n % 2 else ("H350",)


def _hazards(n: int) -> dict[str, Any]:
    return snapshot.take(("Carc. 1B H350", "Skin Sens. 1 H317") if n % 2 else ("Carc. 1B H350",))
