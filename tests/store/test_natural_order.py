"""Ids stand in the order of the numbers in them, wherever rows are listed."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from store.actions import racks
from store.actions import registers as verbs
from store.errors import BadField
from store.queries import choices, lots, register_ids, registers
from store.record.record import Record
from tests import site

ORDER = ["N-1", "N-2", "N-9", "N-10", "N-11", "N-100"]


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with site.begin(tmp_path / "r", site.TestClock()) as made:
        for id in sorted(ORDER):
            site.put(made, "vessel", {"id": id, "name": "vial", "capacity": "7 mL", "mass": "3 g"})
            site.put(made, "container", {"id": f"KD-2-{id}", "lot": "KD-2", "content": "1 g"})
        yield made


def test_a_register_lists_its_rows_in_natural_order_page_by_page(record: Record) -> None:
    assert [r.id for r in registers.page(record, "vessel", find="7 mL", limit=4)] == ORDER[:4]
    assert [r.id for r in registers.page(record, "vessel", find="7 mL", limit=4, offset=4)] == ORDER[4:]
    assert [r.id for r in registers.rows(record, "vessel") if r.id in ORDER] == ORDER


def test_rows_out_of_use_stand_after_those_in_use(record: Record) -> None:
    verbs.retire(site.acting(record, "ke-1"), "vessel", "N-2", "cracked")
    found = [r.id for r in registers.page(record, "vessel", find="7 mL", limit=9)]
    assert found == [*(id for id in ORDER if id != "N-2"), "N-2"]


def test_a_field_offers_vessels_and_containers_in_natural_order(record: Record) -> None:
    assert [r.id for r in choices.rows(record, "vessel", ["n-"], limit=9)] == ORDER
    assert [r.id for r, _, _ in choices.bottles(record, ["kd-2-n"], limit=9)] == [
        f"KD-2-{id}" for id in ORDER
    ]


def test_the_containers_of_a_lot_stand_in_natural_order(record: Record) -> None:
    found = [s.container for s in lots.stock_of_lot(record, "KD-2")]
    assert [c for c in found if c.startswith("KD-2-N")] == [f"KD-2-{id}" for id in ORDER]


def test_a_run_of_vessels_goes_by_their_numbers(record: Record) -> None:
    assert register_ids.between(record, "vessel", "N-2", "N-11") == ("N-2", "N-9", "N-10", "N-11")
    assert racks.vessels(record, "N-9 to N-11") == ("N-9", "N-10", "N-11")
    with pytest.raises(BadField, match="runs backwards"):
        racks.vessels(record, "N-10 to N-9")


def test_what_names_a_row_is_told_by_its_first_and_by_how_many_more(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    for n in range(12):
        solvent = "K2CR2O7" if n == 3 else "WATER"
        site.put(record, "lot", {"id": f"NL-{n}", "substance": "K2CR2O7", "solvent": solvent})
    found = register_ids.referring(record, "lot", ("solvent",), "WATER", most=4)
    assert (found.ids, found.more) == (("NL-0", "NL-1", "NL-2", "NL-4"), 7)
    assert found.said == " and 7 more"
    both = register_ids.referring(record, "lot", ("substance", "solvent"), "K2CR2O7", most=100)
    assert {f"NL-{n}" for n in range(12)} <= set(both.ids)
    assert len(set(both.ids)) == len(both.ids)
    assert (both.more, both.said) == (0, "")
    monkeypatch.setattr(register_ids, "MANY", 5)
    assert (
        register_ids.referring(record, "lot", ("solvent",), "WATER", most=4).said == " and more than 5 more"
    )
    plan = record.query(
        "EXPLAIN QUERY PLAN SELECT id FROM register_row WHERE register = 'lot' AND NOT retired "
        "AND row ->> '$.substance' = 'X'"
    )
    assert "register_row_substance" in plan[0]["detail"]
