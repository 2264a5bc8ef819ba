"""What belongs to no prep stands in the same log and totals; a search finds words; verify holds both."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from store.record.record import Record
from store.record.verify import verify
from tests.store.record_story import Clock, new_record, story


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    clock = Clock()
    with new_record(tmp_path / "site.tarebook", clock) as made:
        story(made, clock)
        yield made


def test_a_handling_apart_counts_for_everybody_present_on_the_day_it_happened(record: Record) -> None:
    rows = record.query("SELECT person, handlings, open_s FROM daily_all WHERE day = '2026-03-01'")
    assert [(r["person"], r["handlings"], r["open_s"]) for r in rows] == [
        ("", 1, 600.0),
        ("op-1", 1, 600.0),
        ("op-2", 1, 600.0),
    ]


def test_one_that_never_happened_leaves_the_totals_and_stays_in_its_row(record: Record) -> None:
    rows = record.query("SELECT what, state, by_entry > 0 AS by FROM handling WHERE prep = '' ORDER BY entry")
    assert [(r["what"], r["state"], r["by"]) for r in rows] == [
        ("wipe-down", "stands", 0),
        ("visit", "never happened", 1),
        ("wipe-down", "never happened", 1),
    ]
    (day,) = record.query("SELECT handlings FROM daily_family WHERE person = '' AND day = '2026-03-01' "
                          "AND family = 'CMR1'")  # fmt: skip
    assert day["handlings"] == 1


def test_a_handling_apart_has_the_hazards_that_were_taken_with_it(record: Record) -> None:
    (row,) = record.query(
        "SELECT s.families FROM handling AS h JOIN hazard_snapshot AS s ON s.id = h.snapshot "
        "WHERE h.what = 'wipe-down' AND h.state = 'stands'"
    )
    assert row["families"] == '["CMR1","RESP_SENS"]'


def test_details_of_an_incident_stand_beside_what_was_first_said(record: Record) -> None:
    (row,) = record.query("SELECT * FROM incident WHERE what = 'contact'")
    assert (row["note"], row["body_part"], row["referred"], row["families"]) == (
        "torn glove", "left thumb", "yes", '["CMR1","RESP_SENS"]',
    )  # fmt: skip
    assert (row["closed_by"], row["closed_reason"]) == ("k-1", "edge ground")


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ('"dichromate"', ["substance"]),
        ('"P 7F3A 0001"', ["prep", "incident", "note"]),
        ('"yellow stain"', ["handling", "handling"]),
        ('"edge ground"', ["incident"]),
        ('"chromium VI"', ["prep"]),
        ('"thumb"', []),
    ],
)
def test_words_are_found_where_they_stand_and_a_part_of_a_body_nowhere(
    record: Record, words: str, found: list[str]
) -> None:
    rows = record.query("SELECT kind FROM search WHERE search MATCH :words ORDER BY rowid", words=words)
    assert [r["kind"] for r in rows] == found


def test_a_changed_row_is_found_by_what_it_says_now(record: Record) -> None:
    rows = record.query("SELECT id FROM search WHERE search MATCH '\"reviewer\"'")
    assert [r["id"] for r in rows] == ["op-2"]
    (n,) = record.query("SELECT count(*) AS n FROM search WHERE kind = 'person' AND id = 'op-2'")
    assert n["n"] == 1


@pytest.mark.parametrize(
    ("harm", "where"),
    [
        ("UPDATE search SET words = 'nothing' WHERE kind = 'prep'", "search"),
        ("INSERT INTO search (search) VALUES ('delete-all')", ""),
        ("DELETE FROM search_data WHERE id = (SELECT max(id) FROM search_data)", "search"),
        ("UPDATE incident SET cause = 'fate' WHERE cause <> ''", "incident"),
        ("UPDATE stocktake SET left_mg = 511", "stocktake"),
    ],
)
def test_a_changed_word_or_value_is_named_by_verify(record: Record, harm: str, where: str) -> None:
    path = record.path
    record.close()
    assert verify(path).ok
    with closing(sqlite3.connect(path)) as raw:
        if where:
            raw.execute(harm)
            raw.commit()
        else:
            with pytest.raises(sqlite3.Error):
                raw.execute(harm)
            return
    verdict = verify(path)
    assert not verdict.ok
    assert where in {f.where for f in verdict.faults} | {f.what.split()[0] for f in verdict.faults}
