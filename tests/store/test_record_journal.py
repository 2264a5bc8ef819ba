"""The journal: what is appended stays, in its order and chained; nothing else gets in, and nothing half."""

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from store import events as ev
from store.errors import (
    BadInput,
    MovedOn,
    NotFound,
    RecordTooNew,
)
from store.record import schema
from store.record.journal import canonical, digest_of, line_of, local_day, read_line
from store.record.record import Record
from tests.store.record_story import SITE_TIME, Clock, new_record, planned, site

VECTOR = json.loads((Path(__file__).parents[1] / "vectors" / "journal.json").read_text(encoding="utf-8"))
VISIT = ev.SignedIn(who="op-1")
PERSON = "person:op-1"


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def record(tmp_path: Path, clock: Clock) -> Iterator[Record]:
    with new_record(tmp_path / "site.tarebook", clock) as made:
        yield made


def _visit(record: Record, seen: int | None = None) -> ev.Entry:
    return record.append(VISIT, person="op-1", subject=PERSON, seen=seen)


# ---- lines and chain ----


@pytest.mark.parametrize("case", VECTOR["entries"], ids=lambda case: f"entry {case['entry']}")
def test_the_published_vector_comes_out_byte_for_byte(case: dict[str, str]) -> None:
    # Computed once with coreutils: printf '%s\n%s' BEFORE LINE | sha256sum (FIPS 180-4).
    assert digest_of(case["before"], case["line"]) == case["digest"]
    entry = read_line(int(case["entry"]), case["line"], case["digest"])
    at = datetime.fromisoformat(entry.at).astimezone(
        datetime.fromisoformat(f"2026-01-01T00:00{entry.offset}").tzinfo
    )
    again = line_of(entry.event, at=at, terminal=entry.terminal, person=entry.person, subject=entry.subject)
    assert again == case["line"]


def test_the_chain_is_sha256_of_the_digest_before_a_newline_and_the_line(record: Record) -> None:
    site(record)
    before = schema.GENESIS
    for number, (entry, line, digest) in enumerate(record.lines(), 1):
        assert entry == number
        assert digest == hashlib.sha256(before.encode() + b"\n" + line.encode()).hexdigest()
        before = digest
    assert str(record.head()) == f"{number}:{before}"


def test_a_line_says_all_of_an_entry(record: Record) -> None:
    _visit(record)
    line = json.loads(list(record.lines())[-1][1])
    assert line == {
        "at": "2026-03-02T06:00:02.250000+00:00",
        "offset": "+02:00",
        "terminal": "7F3A",
        "person": "op-1",
        "kind": "signed_in",
        "subject": "person:op-1",
        "v": 1,
        "body": {"how": "sign in", "who": "op-1"},
    }


TEXT = st.text(st.characters(exclude_categories=["Cs"]))
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | TEXT,
    lambda inner: st.lists(inner) | st.dictionaries(TEXT, inner),
)


@given(PLAIN)
@settings(derandomize=True, deadline=None)
def test_plain_data_comes_back_from_its_canonical_text(data: object) -> None:
    assert json.loads(canonical(data)) == data
    assert canonical(json.loads(canonical(data))) == canonical(data)


def test_half_a_character_is_refused_before_anything_is_written(record: Record) -> None:
    with pytest.raises(BadInput, match="half a character"):
        record.append(ev.SignedIn(who="op-1", how="\ud800"), person="op-1", subject=PERSON)
    assert record.head().entry == 1


@pytest.mark.parametrize(
    ("utc", "offset", "day"),
    [
        ("2026-03-01T21:59:59.999999+00:00", "+02:00", "2026-03-01"),
        ("2026-03-01T22:00:00.000000+00:00", "+02:00", "2026-03-02"),
        ("2026-03-02T03:29:59.999999+00:00", "-03:30", "2026-03-01"),
        ("2026-03-02T03:30:00.000000+00:00", "-03:30", "2026-03-02"),
    ],
)
def test_the_day_of_an_entry_is_the_local_one(utc: str, offset: str, day: str) -> None:
    entry = ev.Entry(
        entry=1, at=utc, offset=offset, terminal="7F3A", person="op-1", subject=PERSON, event=VISIT, digest=""
    )
    assert local_day(entry) == day


def test_a_kind_or_a_version_from_later_asks_for_the_newer_program() -> None:
    at = datetime(2026, 3, 2, tzinfo=SITE_TIME)
    line = json.loads(line_of(VISIT, at=at, terminal="7F3A", person="op-1", subject=PERSON))
    for change in ({"kind": "teleported"}, {"v": 2}):
        with pytest.raises(RecordTooNew, match="newer Tarebook"):
            read_line(7, json.dumps({**line, **change}), "")


# ---- what the file refuses ----


def _raw(record: Record) -> sqlite3.Connection:
    """A connection with our function but none of our care."""
    raw = sqlite3.connect(record.path, isolation_level=None)
    raw.create_function("tarebook_digest", 2, digest_of, deterministic=True)
    return raw


@pytest.mark.parametrize("recursive", ["ON", "OFF"])
@pytest.mark.parametrize(
    ("sql", "says"),
    [
        ("UPDATE journal SET line = '{}'", "append-only"),
        ("UPDATE journal SET digest = digest", "append-only"),
        ("UPDATE OR REPLACE journal SET entry = 1 WHERE entry = 2", "append-only"),
        ("DELETE FROM journal WHERE entry = 2", "append-only"),
        ("INSERT OR REPLACE INTO journal (entry, line, digest) VALUES (2, '{}', :second)", "one after"),
        ("INSERT INTO journal (entry, line, digest) VALUES (4, '{}', :first)", "one after"),
        ("INSERT INTO journal (entry, line, digest) VALUES (0, '{}', :first)", "one after"),
        ("INSERT INTO journal (line, digest) VALUES ('{}', :first)", "one after"),
        ("INSERT INTO journal (entry, line, digest) VALUES (3, '{}', :wrong)", "does not follow"),
        ("INSERT INTO journal (entry, line, digest) VALUES (3, '{ }', :right)", "does not follow"),
        (
            "INSERT INTO journal (entry, line, digest) VALUES (2, '{}', :second) "
            "ON CONFLICT (entry) DO UPDATE SET line = '{}'",
            "one after",
        ),
    ],
)
def test_the_file_refuses(record: Record, sql: str, says: str, recursive: str) -> None:
    _visit(record)
    right = digest_of(record.head().digest, "{}")
    second = digest_of(record.entry(1).digest, "{}")
    digests = {
        "right": right, "wrong": right[::-1], "second": second, "first": digest_of(schema.GENESIS, "{}"),
    }  # fmt: skip
    before = list(record.lines())
    raw = _raw(record)
    raw.execute(f"PRAGMA recursive_triggers = {recursive}")
    with pytest.raises(sqlite3.IntegrityError, match=says):
        raw.execute(sql, digests)
    raw.close()
    assert list(record.lines()) == before


def test_another_program_cannot_append_at_all(record: Record) -> None:
    line = "{}"
    raw = sqlite3.connect(record.path)
    with pytest.raises(sqlite3.OperationalError, match="tarebook_digest"):
        raw.execute(
            "INSERT INTO journal (entry, line, digest) VALUES (2, ?, ?)",
            (line, digest_of(record.head().digest, line)),
        )
    raw.close()


def test_the_journal_has_no_second_unique_key(record: Record) -> None:
    assert record.query("SELECT name FROM pragma_index_list('journal') WHERE \"unique\"") == []


# ---- appending ----


def test_an_append_and_its_tables_come_together_or_not_at_all(record: Record) -> None:
    with pytest.raises(ValueError, match="before the prep was planned"):
        record.append(ev.StepDone(prep="P-7F3A-0009", step=0), person="op-1", subject="prep:P-7F3A-0009")
    assert record.head().entry == 1
    assert record.query("SELECT 1 FROM prep") == []


def test_what_failed_inside_immediate_takes_all_of_it_back(record: Record) -> None:
    class Stop(Exception):
        pass

    with pytest.raises(Stop), record.immediate():  # noqa: PT012 - the block is what is tested
        _visit(record)
        record.append(planned(), person="op-1", subject="prep:P-7F3A-0001")
        assert record.prep_state("P-7F3A-0001").step == 0
        raise Stop
    assert record.head().entry == 1
    with pytest.raises(NotFound):
        record.prep_state("P-7F3A-0001")


def test_an_inner_failure_takes_back_the_inner_part_only(record: Record) -> None:
    with record.immediate():
        _visit(record)
        with pytest.raises(MovedOn), record.immediate():  # noqa: PT012 - the block is what is tested
            _visit(record)
            _visit(record, seen=1)
        _visit(record)
    assert record.head().entry == 3


def test_who_saw_the_last_entry_may_go_on_and_who_did_not_may_not(record: Record) -> None:
    first = _visit(record, seen=0)
    second = _visit(record, seen=first.entry)
    with pytest.raises(MovedOn, match="op-1 has moved on"):
        _visit(record, seen=first.entry)
    assert record.last_entry(PERSON) == second.entry
    assert record.last_entry("person:op-2") == 0


def test_a_prep_is_filed_under_its_own_subject(record: Record) -> None:
    with pytest.raises(ValueError, match="filed under"):
        record.append(planned("P-7F3A-0001"), person="op-1", subject="prep:P-7F3A-0002")


def test_prep_ids_carry_the_terminal_and_count_up(record: Record, clock: Clock) -> None:
    assert record.next_prep_id() == "P-7F3A-0001"
    record.append(planned("P-7F3A-0041"), person="op-1", subject="prep:P-7F3A-0041")
    assert record.next_prep_id() == "P-7F3A-0042"
    with Record.open(record.path, now=clock, terminal="00B2") as other:
        assert other.next_prep_id() == "P-00B2-0001"


def test_entries_are_found_by_subject_by_kind_and_from_an_entry_on(record: Record) -> None:
    site(record)
    of_person = [e.entry for e in record.entries(subject=PERSON)]
    assert of_person == [e.entry for e in record.entries() if e.subject == PERSON]
    assert [e.event.kind for e in record.entries(kinds=("retired", "text_kept"))] == [
        "retired", "retired", "text_kept",
    ]  # fmt: skip
    assert [e.entry for e in record.entries(after=record.head().entry - 2)] == [
        record.head().entry - 1, record.head().entry,
    ]  # fmt: skip
    with pytest.raises(NotFound, match="the journal ends at"):
        record.entry(record.head().entry + 1)


# ---- time ----


@pytest.mark.parametrize(("back", "entries"), [(timedelta(seconds=60), 1), (timedelta(seconds=61), 2)])
def test_a_clock_that_steps_back_over_a_minute_is_an_entry(
    record: Record, clock: Clock, back: timedelta, entries: int
) -> None:
    _visit(record)
    head = record.head().entry
    clock.step = timedelta()
    clock.at -= back
    _visit(record)
    _visit(record)
    assert record.head().entry == head + entries + 1
    if entries == 2:
        stepped = record.entry(head + 1).event
        assert isinstance(stepped, ev.ClockStepped)
        assert stepped.back_s == "61"


def test_due_is_judged_by_the_later_of_now_and_the_last_entry(record: Record, clock: Clock) -> None:
    _visit(record)
    last = clock.at
    clock.at -= timedelta(days=3)
    assert record.due_now() == last
    clock.at += timedelta(days=6)
    assert record.due_now() == clock.at
    assert record.now().tzinfo == SITE_TIME
