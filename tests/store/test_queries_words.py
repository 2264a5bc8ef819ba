"""Words and letters find what plainly has them, whatever is looked up for it."""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from random import Random
from typing import Any

import pytest

from store import events as ev
from store.queries import choices, letters, preps, registers, search
from store.record.found_shape import FINDABLE, PREP_LETTERS, PREP_TEXT
from store.record.record import Record
from tests.store.asked_story import RESULT, Story, begin

SIGNS = "aAqZ01.- %_\\\"'*\nk\N{KELVIN SIGN}s\u017fé\u00c9ß\u00b5\u03bcςσ\u03a3\u0130ı°"
"""Signs that mean something to LIKE or to FTS5, and letters whose capitals are not told by one rule."""
PREPS = 40


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Story]:
    """Preps with labels of odd signs, each with its lot and container; notes that speak of lots."""
    story, chance = begin(tmp_path_factory.mktemp("words")), Random(908)
    for n in range(PREPS):
        prep = story.plan(by=f"op-{n % 2 + 1}")
        if n % 5 == 4:
            continue
        lot = prep.replace("P-", "S-")
        label = "".join(chance.choice(SIGNS) for _ in range(chance.randrange(12)))
        row = {"id": lot, "substance": "K2CR2O7", "concentration": "1.0003 mg/g", "made_by": prep}
        bottle = {"id": f"{lot}-1", "lot": lot, "content": f"9.{n} g"}
        story.put(ev.PrepClosed(prep=prep, result=RESULT, lot=row, container=bottle, label=label))
        story.row("lot", row)
        story.row("container", bottle)
        story.put(ev.IncidentNoted(prep=prep, what="near miss", note=f"lot {n} and container {n + 1}"))
    yield story
    story.record.close()


def plainly(text: str) -> str:
    return "".join(c.lower() if c.isascii() else c for c in text)


def parts(texts: list[str], chance: Random) -> Iterator[str]:
    """Give every sign, every two, and some longer parts of texts; and as many that hardly any text has."""
    yield from SIGNS
    for text in texts:
        for size in (2, 3, 7):
            first = chance.randrange(len(text) - size)
            yield text[first : first + size]
            yield text[-(size // 2) :]
    for size in (2, 2, 3, 4):
        for _ in range(25):
            yield "".join(chance.choice(SIGNS) for _ in range(size))


@pytest.mark.parametrize("few", [0, 4000], ids=["held by many", "held by few"])
def test_a_part_of_any_length_finds_the_preps_that_plainly_have_it(
    told: Story, monkeypatch: pytest.MonkeyPatch, few: int
) -> None:
    monkeypatch.setattr(preps, "FEW", few)
    texts = {r["prep"]: r["text"] for r in told.record.query(
        f"SELECT p.prep, t.text FROM {PREP_TEXT} AS t JOIN prep AS p ON p.entry = t.rowid"
    )}  # fmt: skip
    assert len(texts) == PREPS
    found_none = 0
    for part in dict.fromkeys(parts([t.strip() for t in texts.values()], Random(909))):
        if not part.strip():
            continue
        want = {prep for prep, text in texts.items() if plainly(part.strip()) in plainly(text)}
        found_none += not want
        for asked in ({"sort": "newest"}, {"sort": "oldest"}, {"sort": "open"}, {"person": "op-1"}):
            found = preps.past(told.record, text=part, **asked)  # type: ignore[arg-type]
            wanted = {p for p in want if "person" not in asked or int(p[-4:]) % 2}
            assert {p.prep for p in found} == wanted, (part, asked)
    assert found_none > 20


def test_the_last_letters_of_a_label_are_found_and_no_text_with_a_sign_of_its_end(told: Story) -> None:
    prep = told.plan()
    lot = prep.replace("P-", "S-")
    row = {"id": lot, "substance": "K2CR2O7", "concentration": "1 mg/g", "made_by": prep}
    bottle = {"id": f"{lot}-1", "lot": lot, "content": "1 g"}
    told.put(ev.PrepClosed(prep=prep, result=RESULT, lot=row, container=bottle, label="made of xY"))
    for text in ("xy", "XY", "y", "of xy"):
        assert [p.prep for p in preps.past(told.record, text=text)] == [prep]
    assert preps.past(told.record, text="x\0") == ()


CASELESS = 0x20000
"""No sign from here on has capitals."""


def folded() -> dict[str, str]:
    """Give each sign as the index of letters keeps it, where that is not as it is written."""
    with closing(sqlite3.connect(":memory:")) as connection:
        for statement in FINDABLE:
            connection.execute(statement)
        signs = [chr(n) for n in range(1, CASELESS) if not 0xD800 <= n < 0xE000]
        rows = ((ord(sign), f"{sign}  ") for sign in signs)
        connection.executemany(f"INSERT INTO {PREP_TEXT} (rowid, text) VALUES (?, ?)", rows)
        kept = connection.execute(f"SELECT doc, term FROM {PREP_LETTERS}").fetchall()
    assert len(kept) == len(signs)
    return {chr(doc): term[0] for doc, term in kept if term[0] != chr(doc)}


def test_every_sign_there_is_may_stand_in_the_index_as_it_is_looked_up() -> None:
    other = folded()
    assert (other["Q"], other["É"], len(other) > 1000) == ("q", "é", True)
    assert {sign: kept for sign, kept in other.items() if kept not in letters._folds(sign)} == {}


def test_no_prep_is_read_for_letters_that_none_has(told: Story) -> None:
    assert letters.of(told.record, "zq") == letters.of(told.record, "~") == ""
    assert letters.of(told.record, "7F") == '"7f3"'
    walked = plan(told.record, lambda r: preps.past(r, text="7f"), of=PREP_TEXT)
    (found,) = [line for line in walked if "SCAN" in line]
    assert found.startswith("SCAN t VIRTUAL TABLE INDEX "), walked
    assert found.endswith(":M1"), walked


def plan(record: Record, ask: Any, *, of: str = "") -> list[str]:
    """Give how SQLite goes about the last question that is asked, of those that name a table."""
    asked: list[tuple[str, dict[str, Any]]] = []
    query = record.query

    class Listening:
        def __getattr__(self, name: str) -> Any:
            return getattr(record, name)

        def query(self, sql: str, **params: Any) -> Any:
            asked.append((sql, params))
            return query(sql, **params)

    ask(Listening())
    sql, params = [one for one in asked if of in one[0]][-1]
    return [r["detail"] for r in query(f"EXPLAIN QUERY PLAN {sql}", **params)]


# ---- words ----


def words_of(text: str) -> list[str]:
    return [w for w in re.split(r"[\W_]+", text.lower()) if w]


def has(text: str, looked_for: str) -> bool:
    """Say whether a text has every word, parted by blanks, the last one as a beginning."""
    there = words_of(text)
    *whole, last = [words_of(word) for word in looked_for.split()]
    runs = [[there[n : n + len(of)] for n in range(len(there))] for of in (*whole, last)]
    begun = any(
        run[:-1] == last[:-1] and run[-1].startswith(last[-1]) for run in runs[-1] if len(run) == len(last)
    )
    return begun and all(of in run for of, run in zip(whole, runs, strict=False))


LOOKED_FOR = (
    "S-7F3A-0001", "S-7F3A-000", "P-7F3A-001", "S-7F3A-0001-1", "s-7f3a", "1", "2", "9", "12", "9.1", "0",
    "00", "000", "lot", "l", "con", "container", "lot 1", "kd", "KD-2", "K2CR2O7 1", "1.0003 mg", "g 9",
    "w 1", "prep",
)  # fmt: skip


@pytest.mark.parametrize("text", LOOKED_FOR)
@pytest.mark.parametrize("many", [5, 5000], ids=["very long", "short"])
def test_a_word_finds_the_rows_that_plainly_have_it_and_no_thing_by_its_kind(
    told: Story, monkeypatch: pytest.MonkeyPatch, text: str, many: int
) -> None:
    monkeypatch.setattr(registers, "MANY", many)
    every = told.record.query("SELECT rowid AS entry, kind, id, words FROM search ORDER BY rowid DESC")
    held = [(r["kind"], r["id"]) for r in every if has(r["id"], text) or has(r["words"], text)]
    split = [(r["kind"], r["id"]) for r in every if has(f"{r['id']} | {r['words']}", text)]
    assert held or text in ("container", "prep", "g 9", "w 1"), text
    found = [(hit.kind, hit.id) for hit in search.find(told.record, text, limit=-1)]
    assert found == (held if len(text.split()) == 1 else split)
    for register in registers.GROWING:
        page = registers.page(told.record, register, find=text, limit=-1)
        assert {r.id for r in page} == {id for kind, id in found if kind == register}
        assert len(page) == len({r.id for r in page})


def test_of_rows_to_choose_only_those_of_the_register_are_found(told: Story) -> None:
    made = PREPS * 4 // 5
    for words in (("s-7f3a", "1"), ("s-7f3a",), ("1",)):
        for register in registers.GROWING:
            found = choices.rows(told.record, register, words, limit=1000)
            assert {r.register for r in found} == {register}
            assert len(found) >= made
    assert len(choices.solutions(told.record, ("s-7f3a",), limit=1000)) >= made
    assert choices.rows(told.record, "lot", ("container",), limit=9) == ()
