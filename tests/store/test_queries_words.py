"""Words and letters find what plainly has them, whatever is looked up for it."""

import re
from collections.abc import Iterator
from random import Random

import pytest

from store import events as ev
from store.queries import choices, registers, search
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
