"""PINs: who has the right one passes, refusals slow down, and the journal never carries a PIN."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from hashlib import scrypt
from pathlib import Path

import pytest

from store import events as ev
from store.errors import BadInput, NotFound, PinRefused
from store.record import people
from store.record.people import check_pin, waits_s
from store.record.record import Record
from tests.store.record_story import LOW_N, ROWS, Clock, new_record

PIN = "4711"


@pytest.fixture
def clock() -> Clock:
    clock = Clock()
    clock.step = timedelta()
    return clock


@pytest.fixture
def record(tmp_path: Path, clock: Clock) -> Iterator[Record]:
    with new_record(tmp_path / "site.tarebook", clock) as made:
        for register, id, row in ROWS[:3]:
            event = ev.Registered(register=register, id=id, row=row)
            made.append(event, person="k-1", subject=f"{register}:{id}")
        people.set_pin(made, "op-1", PIN, by="k-1", n=LOW_N)
        yield made


def _refuse(record: Record, pin: str = "0000", person: str = "op-1") -> PinRefused:
    with pytest.raises(PinRefused) as refused:
        check_pin(record, person, pin)
    return refused.value


def test_scrypt_gives_the_published_vector() -> None:
    # RFC 7914, section 12, third vector (value from memory), at the cost used here: N = 2^14.
    found = scrypt(b"pleaseletmein", salt=b"SodiumChloride", n=16384, r=8, p=1, dklen=64)
    assert found.hex().startswith("7023bdcb3afd7348461c06cd81fd38eb")
    assert (people.N, people.R, people.P) == (16384, 8, 1)


def test_the_right_pin_passes_and_is_not_written_down(record: Record) -> None:
    head = record.head()
    check_pin(record, "op-1", PIN)
    assert record.head() == head


@pytest.mark.parametrize("pin", ["1234", "123456789012"])
def test_a_pin_has_4_to_12_digits(record: Record, pin: str) -> None:
    people.set_pin(record, "op-2", pin, by="op-2", n=LOW_N)
    check_pin(record, "op-2", pin)


@pytest.mark.parametrize("pin", ["", "123", "1234567890123", "12a4", "12 4", "-123", "１２３４"])
def test_anything_else_is_no_pin(record: Record, pin: str) -> None:
    head = record.head()
    with pytest.raises(BadInput, match="4 to 12 digits"):
        people.set_pin(record, "op-2", pin, by="op-2", n=LOW_N)
    assert record.head() == head


def test_nobody_outside_the_register_gets_a_pin(record: Record) -> None:
    with pytest.raises(NotFound):
        people.set_pin(record, "op-9", PIN, by="k-1", n=LOW_N)


def test_a_refusal_is_written_down_for_a_known_id_only(record: Record) -> None:
    head = record.head().entry
    _refuse(record, person="op-9")
    _refuse(record, person="4711")
    assert record.head().entry == head
    _refuse(record)
    event = record.entry(head + 1).event
    assert isinstance(event, ev.PinRefused)
    assert (event.who, event.purpose) == ("op-1", "sign in")


def test_the_text_does_not_tell_whether_the_id_is_known(record: Record) -> None:
    unknown, known = _refuse(record, person="op-9"), _refuse(record)
    assert str(known).startswith(str(unknown).rstrip("."))


def test_a_person_without_a_pin_cannot_pass(record: Record) -> None:
    _refuse(record, person="op-2", pin="")
    _refuse(record, person="op-2", pin="0000")


def test_a_person_who_left_cannot_pass(record: Record) -> None:
    gone = ev.Retired(register="person", id="op-1", reason="left")
    record.append(gone, person="k-1", subject="person:op-1")
    _refuse(record, pin=PIN)


def test_each_refusal_doubles_the_wait_up_to_30_s(record: Record, clock: Clock) -> None:
    waits = []
    for _ in range(7):
        waits.append(_refuse(record).wait_s)
        clock.at += timedelta(seconds=30)
    assert waits == [1, 2, 4, 8, 16, 30, 30]


def test_before_the_wait_is_over_not_even_the_right_pin_is_looked_at(record: Record, clock: Clock) -> None:
    _refuse(record)
    clock.at += timedelta(seconds=30)
    _refuse(record)
    head = record.head()
    clock.at += timedelta(seconds=1.999)
    assert _refuse(record, pin=PIN).wait_s == pytest.approx(0.001)
    assert record.head() == head
    clock.at += timedelta(seconds=0.001)
    check_pin(record, "op-1", PIN)


def test_the_wait_is_in_the_journal_and_survives_a_restart(record: Record, clock: Clock) -> None:
    _refuse(record)
    with Record.open(record.path, now=clock, terminal="00B2") as other:
        assert waits_s(other, "op-1") == 1.0


@pytest.mark.parametrize("event", [ev.SignedIn(who="op-1"), ev.PinSet(who="op-1")])
def test_getting_in_or_a_new_pin_ends_the_wait(record: Record, event: ev.Event) -> None:
    _refuse(record)
    record.append(event, person="op-1", subject="person:op-1")
    assert waits_s(record, "op-1") == 0.0


def test_one_persons_refusals_do_not_slow_another(record: Record) -> None:
    _refuse(record)
    assert waits_s(record, "op-2") == 0.0


def test_a_clock_that_steps_back_never_lengthens_the_wait(record: Record, clock: Clock) -> None:
    _refuse(record)
    clock.at -= timedelta(days=1)
    assert waits_s(record, "op-1") == 1.0


def test_a_keeper_resets_a_pin_and_the_old_one_is_void(record: Record) -> None:
    people.set_pin(record, "op-1", "9999", by="k-1", n=LOW_N)
    check_pin(record, "op-1", "9999")
    last = list(record.entries(subject="person:op-1"))[-1]
    assert (last.person, last.event.kind) == ("k-1", "pin_set")
    _refuse(record, pin=PIN)


def test_neither_the_journal_nor_its_digest_carries_the_pin_or_its_salt(record: Record) -> None:
    with closing(sqlite3.connect(record.path)) as raw:
        salt, hashed, n = raw.execute("SELECT salt, hash, n FROM credential").fetchone()
    lines = "\n".join(line for _, line, _ in record.lines())
    for secret in (salt.hex(), hashed.hex(), PIN):
        assert secret not in lines
    assert len(salt) == 16
    assert n == LOW_N


def test_the_same_pin_of_two_people_looks_different(record: Record) -> None:
    people.set_pin(record, "op-2", PIN, by="op-2", n=LOW_N)
    with closing(sqlite3.connect(record.path)) as raw:
        assert len(set(raw.execute("SELECT hash FROM credential").fetchall())) == 2
