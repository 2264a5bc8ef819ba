"""The sums of days and years answer as the handlings do, whatever is asked; the list finds any text."""

import json
import sqlite3
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import product
from pathlib import Path
from random import Random
from typing import Any

import pytest

from store import events as ev
from store.hazards import snapshot
from store.queries import asked, preps, reclassified, rolled, totals
from store.record.found_shape import PREP_TEXT
from store.record.verify import verify
from tests.store.asked_story import HAZARDS, SUBSTANCES, Story, begin

FIRST = date(2023, 11, 20)
DAYS = 800
KEYS: tuple[rolled.By, ...] = ("all", "day", "week", "month", "year", "person", "substance", "family")
TASKS = tuple(f"{period}_task{of}" for period in ("daily", "yearly") for of in ("", "_substance", "_family"))
KNOWN = {**HAZARDS, "ANILINE": snapshot.take(("Acute Tox. 3 H301",))}


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Story]:
    """Three years in which several substances are open together, alone, with others present, not at all."""
    story, chance = begin(tmp_path_factory.mktemp("told"), day=FIRST.isoformat()), Random(906)
    held = [
        ("K2CR2O7",), ("NAN3", "K2CR2O7"), ("K2CR2O7", "NAN3", "WATER"), ("WATER", "NAN3"), (),
        ("ANILINE",), ("WATER", "ANILINE"),
    ]  # fmt: skip
    people = ("op-1", "op-2", "so-1")
    withdrawn = []
    for n in range(60):
        day = FIRST + timedelta(days=n * DAYS // 60)
        story.clock.set(day.isoformat())
        if n % 5 == 0:
            story.whole(
                by="op-1", present=("op-2",) if n % 2 else (), open_s=f"{40 + n}.5", estimated=n == 10
            )
        substances = held[n % len(held)]
        what, enclosure = chance.choice(("wipe-down", "waste")), chance.choice(("E-1", "E-2", ""))
        apart = ev.HandledApart(
            what=what, day=(day - timedelta(days=chance.randrange(3))).isoformat(), enclosure=enclosure,
            gloves="", present=tuple(chance.sample(people, 1 + n % 3)), substances=substances,
            hazards={s: KNOWN[s] for s in substances if n % 9}, open_s=f"{chance.uniform(5, 90):.1f}",
        )  # fmt: skip
        entry = story.put(apart)
        if n % 11 == 0:
            withdrawn.append(entry)
        if n % 13 == 0:
            _elsewhere(story)
    for entry in withdrawn:
        story.put(ev.NeverHappened(prep="", entry=entry, second="so-1", reason="entered twice"))
    # All but water are in the family now, whatever they were then.
    story.row("substance", {**SUBSTANCES["NAN3"], "classification": ["Carc. 1A H350"]})
    # It came to a family in which nothing else is that it was open with.
    story.row("substance", {"id": "ANILINE", "name": "aniline", "classification": ["Resp. Sens. 1 H334"]})
    yield story
    story.record.close()


def _elsewhere(story: Story) -> None:
    """Open a container in one enclosure by the plan, and note that it was another."""
    prep = story.plan()
    opened, _ = story.weigh(prep, "7.00")
    note = ev.ExposureNoted(
        prep=prep, step=1, act="note", handlings=(opened,), enclosure="E-2", gloves="", unusual=False,
        note="", present=("op-1", "op-2"),
    )  # fmt: skip
    story.put(note)


QUESTIONS: tuple[dict[str, Any], ...] = (
    {},
    {"substance": "K2CR2O7"},
    {"substance": "WATER"},
    {"family": "CMR_1"},
    {"family": "CMR_1", "as_classified": "now"},
    {"family": "ACUTE_1_2", "as_classified": "now"},
    {"family": "CMR_1", "substance": "NAN3", "as_classified": "now"},
    {"family": "RESP_SENS", "as_classified": "now"},
    {"enclosure": "E-2"},
    {"what": "waste"},
    {"what": "weigh_solid"},
    {"enclosure": "E-1", "what": "container"},
    {"enclosure": "E-2", "substance": "K2CR2O7"},
    {"what": "wipe-down", "family": "CMR_1"},
    {"enclosure": "E-1", "family": "RESP_SENS", "as_classified": "now"},
    {"enclosure": "E-2", "family": "CMR_1", "as_classified": "now"},
)


PERIODS = (
    ("", ""),
    ("2024", "2024"),
    ("2024-03-05", ""),
    ("", "2025-06-30"),
    ("2023-12-05", "2025-11-02"),
    ("2024-02-01", "2024-07-31"),
    ("2024-12-20", "2025-01-15"),
)


def answers(question: dict[str, Any], person: str, by: rolled.By) -> bool:
    """Say whether sums answer: of what was handled at one task there are none of persons."""
    if by == "family" and "substance" in question and "family" not in question:
        return False
    if not {"enclosure", "what"} & question.keys():
        return True
    now = question.get("as_classified") == "now"
    if (
        now and question["family"] == "CMR_1" and by != "substance"
    ):  # what came to it was open with others of it
        return False
    of_kind = bool({"substance", "family"} & question.keys()) or by in ("substance", "family")
    return not (of_kind and (person or by == "person"))


@pytest.mark.parametrize("period", PERIODS, ids=" to ".join)
def test_sums_of_days_and_years_are_those_of_the_handlings(
    told: Story, monkeypatch: pytest.MonkeyPatch, period: tuple[str, str]
) -> None:
    answered = 0
    for question, person, by in product(QUESTIONS, ("", "op-2"), KEYS):
        which = asked.asked(told.record, **question, person=person, since=period[0], until=period[1])
        with monkeypatch.context() as patched:
            if answers(question, person, by):
                patched.setattr(totals, "_of_handlings", _walked)
            quick = totals.of(told.record, which, by)
        with monkeypatch.context() as patched:
            patched.setattr(rolled, "sql", lambda which, by, added: "")
            slow = totals.of(told.record, which, by)
        assert [t.key for t in quick] == [t.key for t in slow], (question, person, by)
        for one, other in zip(quick, slow, strict=True):
            assert (one.handlings, one.estimated, one.longest_s) == (
                other.handlings, other.estimated, other.longest_s,
            ), (question, person, by)  # fmt: skip
            assert (one.open_s, one.estimated_s) == pytest.approx((other.open_s, other.estimated_s))
            assert one.net_mg == pytest.approx(other.net_mg), (question, person, by)
        answered += len(quick)
    assert answered > 30


def _walked(*_: object) -> str:
    raise AssertionError("handlings were walked where sums answer")


@pytest.mark.parametrize("question", QUESTIONS, ids=str)
def test_after_the_last_year_there_is_nothing(told: Story, question: dict[str, Any]) -> None:
    """A mistyped year must not read as if all years had been asked for."""
    assert totals.totals(told.record, "all", **question, since="9999-05-01") == ()
    assert totals.totals(told.record, "year", **question, since="9999-02", until="9999-03") == ()
    until = totals.totals(told.record, "all", **question, until="9999-05")
    assert until == totals.totals(told.record, "all", **question)


def test_what_came_to_a_family_is_added_to_its_sums_and_nothing_is_where_that_would_be_wrong(
    told: Story,
) -> None:
    def added(family: str) -> str | None:
        return reclassified.added(told.record, asked.asked(told.record, family=family, as_classified="now"))

    snapshots = told.record.query("SELECT id FROM hazard_snapshot WHERE substance = 'ANILINE'")
    # Some was handled without anything said of its hazards: then it was in no family.
    want = [["ANILINE", 0], *(["ANILINE", s["id"]] for s in snapshots), ["K2CR2O7", 0]]
    assert json.loads(added("RESP_SENS") or "") == want
    # Sodium azide was open with dichromate, which was in this family then; it left the other one.
    assert added("CMR_1") is None
    assert added("ACUTE_1_2") is None


def test_what_several_substances_have_in_common_counts_once(told: Story) -> None:
    which = asked.asked(told.record, family="CMR_1", as_classified="now")
    (every,) = totals.of(told.record, which, "all")
    by_substance = {t.key: t.handlings for t in totals.of(told.record, which, "substance")}
    assert set(by_substance) == {"K2CR2O7", "NAN3"}
    both = told.record.query(
        "SELECT count(*) AS n FROM handling WHERE substances LIKE '%K2CR2O7%' AND substances LIKE '%NAN3%' "
        "AND state <> 'never happened'"
    )[0]["n"]
    assert both > 10
    assert every.handlings == sum(by_substance.values()) - both


def test_such_a_record_verifies_and_folds_anew_to_the_same_sums(told: Story) -> None:
    tables = ("yearly_all", "yearly_substance", "yearly_family", "together", "daily_together", *TASKS)

    def sums() -> list[Any]:
        found: list[Any] = [told.record.query(f"SELECT * FROM {table}") for table in tables]
        return [*found, told.record.query(f"SELECT rowid, text FROM {PREP_TEXT}")]

    before = sums()
    assert all(before)
    told.record.rebuild()
    assert sums() == before
    verdict = verify(told.record.path)
    assert verdict.ok, verdict.faults


class _Adds:
    """SQLite adds floats otherwise from one version to another: nothing that is kept may come from it."""

    def step(self, value: int, /) -> None:
        raise AssertionError(value)

    def finalize(self) -> int:
        return 0


def test_no_sum_that_is_kept_was_added_up_by_sqlite(tmp_path: Path) -> None:
    story = begin(tmp_path)
    for name in ("sum", "total", "avg"):
        story.record._conn.create_aggregate(name, 1, _Adds)
    with pytest.raises(sqlite3.OperationalError):
        story.record._conn.execute("SELECT sum(entry) FROM journal").fetchall()
    prep, _ = story.whole(present=("op-2",))
    story.put(
        ev.NeverHappened(
            prep=prep,
            entry=story.record.query("SELECT max(entry) AS n FROM handling")[0]["n"],
            second="so-1",
            reason="entered twice",
        )
    )
    assert story.record.query("SELECT handlings FROM yearly_all WHERE person = ''")[0]["handlings"] == 2
    story.record.rebuild()
    story.record.close()


def test_a_sum_of_a_year_that_another_program_changed_is_found(told: Story) -> None:
    with told.record.transaction():
        told.record._conn.execute("UPDATE yearly_substance SET open_s = open_s + 1 WHERE person = 'op-1'")
    verdict = verify(told.record.path)
    assert not verdict.ok
    assert "yearly_substance" in {fault.where for fault in verdict.faults}
    told.record.rebuild()


@pytest.mark.parametrize("few", [0, 4000], ids=["held by many", "held by few"])
def test_any_part_of_the_text_of_a_prep_finds_it(
    told: Story, monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    monkeypatch.setattr(preps, "FEW", few)
    chance = Random(907)
    texts = {r["prep"]: r["text"] for r in told.record.query(
        f"SELECT p.prep, t.text FROM {PREP_TEXT} AS t JOIN prep AS p ON p.entry = t.rowid"
    )}  # fmt: skip
    assert len(texts) == told.preps
    for text in texts.values():
        first = chance.randrange(len(text) - 9)
        part = text[first : first + chance.randrange(1, 9)].strip() or text[:3]
        want = {prep for prep, other in texts.items() if part.lower() in other.lower()}
        for sort in ("newest", "oldest", "deviation"):
            found = preps.past(told.record, text=part.upper(), sort=sort)
            assert {p.prep for p in found} == want, part
            if sort != "deviation":
                entries = [p.entry for p in found]
                assert entries == sorted(entries, reverse=sort == "newest")
        assert {p.prep for p in preps.past(told.record, text=part, substance="K2CR2O7")} == want
    assert preps.past(told.record, text="%") == preps.past(told.record, text="S_7F3A", sort="open") == ()
    assert len(preps.past(told.record, text="S-7F3A", limit=5, offset=10)) == 2


def test_the_text_of_a_prep_grows_when_it_is_closed(told: Story) -> None:
    prep = told.plan()
    assert [p.prep for p in preps.past(told.record, text=prep)] == [prep]
    assert preps.past(told.record, text=f"{prep} 1.000 mg/g")
    lot = prep.replace("P-", "S-")
    assert not preps.past(told.record, text=lot)
    told.close(prep)
    assert [p.prep for p in preps.past(told.record, text=f"chromium {lot}")] == [prep]
    assert verify(told.record.path).ok
