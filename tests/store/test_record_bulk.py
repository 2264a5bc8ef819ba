"""Histories brought in whole: one transaction, the chain and the tables as if each entry came by itself."""

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from store import events as ev
from store.errors import BadInput
from store.queries import asked, choices, classified, exposures, register_ids, registers, totals
from store.record.record import Record
from store.record.verify import verify
from tests.bench import lab

DOSES = 40


def test_a_laboratory_in_bulk_verifies_and_counts_every_dose(tmp_path: Path) -> None:
    path = tmp_path / "lab.tarebook"
    with lab.make(path, doses=DOSES, chunk=3) as record:
        assert record.query("SELECT count(*) AS n FROM dose")[0]["n"] == DOSES
        (every,) = totals.totals(record, "all")
        assert every.handlings == 3 * DOSES // lab.DOSES
        dates = record.query("SELECT min(day) AS first, max(day) AS last FROM handling")[0]
        assert dates["last"] > "2024-12"
        assert dates["first"] == lab.FIRST.isoformat()
    found = verify(path)
    assert found.ok, found.faults


def test_in_bulk_or_one_by_one_gives_the_same_journal(tmp_path: Path) -> None:
    def started(name: str) -> tuple[Record, lab.Story]:
        clock = lab.Time()
        record = Record.create(tmp_path / name, now=clock, terminal="7F3A", site="River Laboratory")
        return record, lab.Story(record.head().entry, clock, 2)

    bulk, story = started("bulk.tarebook")
    bulk.append_all(story.told(range(2)))
    single, story = started("single.tarebook")
    for event, person, subject in story.told(range(2)):
        single.append(event, person=person, subject=subject)
    lines = "SELECT entry, line, digest FROM journal WHERE entry > 1"
    with bulk, single:
        assert [dict(r)["line"] for r in bulk.query(lines)] == [dict(r)["line"] for r in single.query(lines)]


def test_bulk_writes_all_or_nothing_and_never_back_in_time(tmp_path: Path) -> None:
    clock = lab.Time()
    with Record.create(tmp_path / "r.tarebook", now=clock, terminal="7F3A", site="") as record:
        before = record.head()
        note = ev.TextKept(digest="d", text="t", what="rule")

        def told() -> Iterator[lab.Happened]:
            yield note, "ke-1", "record"
            clock.at -= timedelta(minutes=5)
            yield note, "ke-1", "record"

        with pytest.raises(BadInput, match="earlier"):
            record.append_all(told())
        assert record.head() == before
        assert record.query("SELECT count(*) AS n FROM kept_text")[0]["n"] == 0


def test_a_register_is_read_a_page_at_a_time_and_found_by_any_word(tmp_path: Path) -> None:
    with lab.make(tmp_path / "lab.tarebook", doses=DOSES) as record:
        first = registers.page(record, "lot", limit=200)
        assert [r.id for r in first] == [r.id for r in registers.rows(record, "lot")][:200]
        beyond = registers.page(record, "lot", limit=200, offset=200)
        assert beyond[0].id == registers.rows(record, "lot")[200].id
        assert [r.id for r in registers.page(record, "substance", find="Substance 77", limit=3)] == [
            "S77", "S770", "S771",
        ]  # fmt: skip
        assert registers.page(record, "substance", find="no such word", limit=3) == ()
        assert [r.id for r in registers.page(record, "lot", find="l77-1", limit=3)] == ["L77-1"]
        assert [r.id for r in registers.page(record, "container", find="l77-1", limit=3)] == ["L77-1-1"]
        assert registers.counts(record)["substance"] == (lab.SUBSTANCES + 1, 0)


def test_a_register_that_grew_very_long_has_its_newest_entry_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with lab.make(tmp_path / "lab.tarebook", doses=DOSES) as record:
        assert not registers.newest_first(record, "lot")
        monkeypatch.setattr(registers, "MANY", 1000)
        assert registers.newest_first(record, "lot")
        assert not registers.newest_first(record, "substance")
        every = sorted(registers.rows(record, "lot", retired=True), key=lambda r: -r.entry)
        assert list(registers.page(record, "lot", limit=300)) == every[:300]
        assert list(registers.page(record, "lot", limit=50, offset=40)) == every[40:90]
        assert [r.id for r in registers.page(record, "lot", find="l77-1", limit=3)] == ["L77-1"]
        assert registers.page(record, "lot", find=" - ", limit=3) == ()


def test_the_bottles_are_the_containers_of_lots_that_were_bought(tmp_path: Path) -> None:
    with lab.make(tmp_path / "lab.tarebook", doses=DOSES) as record:
        lots = {r.id: r.row for r in registers.rows(record, "lot")}
        bought = [
            r.id for r in registers.rows(record, "container") if "concentration" not in lots[r.row["lot"]]
        ]
        assert [found.id for found, _, _ in choices.bottles(record, limit=-1)] == bought
        assert len(bought) == 1 + lab.SUBSTANCES * lab.LOTS
        of_777 = choices.bottles(record, ("Substance", "777"), limit=5)
        assert [(found.id, of["name"]) for found, _, of in of_777] == [
            ("L777-0-1", "substance 777"), ("L777-1-1", "substance 777"),
        ]  # fmt: skip
        assert choices.bottles(record, ("no-such-word",), limit=5) == ()


def test_a_solution_is_found_among_all_by_the_beginning_of_its_words(tmp_path: Path) -> None:
    with lab.make(tmp_path / "lab.tarebook", doses=DOSES) as record:
        made = [r["lot"] for r in record.query("SELECT lot FROM made ORDER BY entry DESC")]
        newest = choices.solutions(record, ("s-7f3a", "1.0003"), limit=3)
        assert [found[0] for found in newest] == [f"{lot}-1" for lot in made[:3]]
        (only,) = choices.solutions(record, (f"{made[4]}-1",), limit=3)
        assert only == choices.solution(record, f"{made[4]}-1")
        assert choices.solutions_of_lot(record, made[4]) == (only,)
        assert choices.solution(record, "L777-0-1") is None
        assert len(choices.solutions(record, limit=3)) == 3


def test_rows_are_found_by_all_their_words_and_by_how_the_id_begins_first(tmp_path: Path) -> None:
    with lab.make(tmp_path / "lab.tarebook", doses=DOSES) as record:
        found = choices.rows(record, "substance", ("s77",), limit=4)
        assert [r.id for r in found] == ["S77", "S770", "S771", "S772"]
        assert [r.id for r in choices.rows(record, "vessel", ("20", "vial"), limit=4)] == ["V-1"]
        assert [r.id for r in choices.rows(record, "lot", ("L77-1",), limit=4)] == ["L77-1"]
        assert choices.rows(record, "lot", ("-",), limit=4) == ()


def test_a_mistyped_id_is_held_against_those_around_its_place(tmp_path: Path) -> None:
    with lab.make(tmp_path / "lab.tarebook", doses=DOSES) as record:
        assert "L500-1" in register_ids.nearest(record, "lot", "L500-2")
        assert register_ids.alike(record, "lot", "l500-1") == "L500-1"
        assert register_ids.alike(record, "lot", "L500-1") == ""
        assert register_ids.between(record, "lot", "L500-0", "L501-0") == ("L500-0", "L500-1", "L501-0")
        assert register_ids.referring(record, "container", ("lot",), "L500-1") == (("L500-1-1",), 0)


def test_a_family_of_hundreds_of_substances_is_the_same_as_classified_then_and_now(tmp_path: Path) -> None:
    with lab.make(tmp_path / "lab.tarebook", doses=DOSES) as record:
        assert len(classified.now(record, "CMR_1")) > asked.FEW
        for by in ("month", "person", "substance"):
            then = totals.totals(record, by, family="CMR_1")
            assert then
            assert totals.totals(record, by, family="CMR_1", as_classified="now") == then
        held = [h.entry for h in exposures.of(record, family="CMR_1")]
        assert [h.entry for h in exposures.of(record, family="CMR_1", as_classified="now")] == held
        of_one = exposures.of(record, family="CMR_1", as_classified="now", person="op-3", since="2018")
        assert of_one == exposures.of(record, family="CMR_1", person="op-3", since="2018")
