"""A vessel that rests on a lot in more than one way is computed and called back once. Invented data."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from store import events as ev
from store.model.prep import Act, Part, Plan, Step
from store.model.words import ActKind, StepName
from store.queries import recalled, revised, spread, trace
from tests.store.asked_story import HAZARDS, RESULT, Story, begin


@pytest.fixture
def told(tmp_path: Any) -> Iterator[Story]:
    story = begin(tmp_path)
    yield story
    story.record.close()


@pytest.fixture
def many(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take every lot for one that many preps rest on, and read two preps at once."""
    monkeypatch.setattr(spread, "few", lambda *_, **__: False)
    monkeypatch.setattr(spread, "CHUNK", 2)


def _filled_from(story: Story, prep: str, lot: str) -> tuple[str, ...]:
    """Fill two vessels from one lot, which then thins both; give the lots that this made."""
    parts = tuple(
        Part(
            key=key, vessel=f"V-{key}", target="0.5 mg/g", amount="1 g", container=f"{lot}-1",
            solvent_container=f"{lot}-1", content="aliquot",
        )
        for key in ("1", "2")
    )  # fmt: skip
    plan = Plan(
        recipe="dilution, solute first", container=f"{lot}-1", solvent_container=f"{lot}-1", target="",
        amount="1 g", vessel="V-1", balance="B-2", enclosure="E-1", parts=parts,
    )  # fmt: skip
    contents = ("aliquot", "solvent")
    acts = tuple(
        Act(key=f"{content}:{part.key}", kind=ActKind.DOSE, text="Dose.", what=content, part=part.key)
        for content in contents
        for part in parts
    )
    of = {"id": lot, "substance": "K2CR2O7"}
    rows = {"lot": of, "container": {"id": f"{lot}-1"}, "solvent_lot": of}
    planned = ev.Planned(
        prep=prep,
        plan=plan.to_body(),
        steps=(Step(name=StepName.WEIGH_SOLID, acts=acts).to_body(),),
        basis={**rows, "parts": {part.key: rows for part in parts}, "hazards": HAZARDS},
        aims={},
    )
    story.put(planned)
    dosed = ev.Dosed(
        prep=prep, step=0, act="", content="", container=f"{lot}-1", vessel="V-1", shown="5.00 mg",
        net_mg="5.00", total_mg="5.00",
    )  # fmt: skip
    for act in acts:
        story.put(replace(dosed, act=act.key, content=act.what))
    made: list[dict[str, Any]] = []
    for part in parts:
        id = f"{prep.replace('P-', 'S-')}-{part.key}"
        row = {"id": id, "substance": "K2CR2O7", "status": "released", "made_by": prep}
        container = {"id": f"{id}-1", "lot": id, "content": "1 g"}
        story.row("lot", row)
        story.row("container", container)
        made.append({"part": part.key, "result": RESULT, "lot": row, "container": container, "label": id})
    story.put(ev.PrepClosed(prep=prep, result=RESULT, lot={}, container={}, label="", made=tuple(made)))
    return tuple(one["lot"]["id"] for one in made)


def _vessels(rows: tuple[revised.Revised, ...]) -> list[tuple[str, str]]:
    return [(row.prep, row.made_lot) for row in rows]


@pytest.mark.usefixtures("many")
def test_a_lot_that_is_solute_and_solvent_of_a_vessel_gives_it_once(told: Story) -> None:
    made = _filled_from(told, "P-7F3A-0001", "KD-2")
    links = [row["child"] for row in spread.each(told.record, "KD-2")]
    assert links == [*made, *made]
    assert [row.lot for row in recalled.each(told.record, "KD-2")] == ["KD-2", *made]
    assert _vessels(revised.of(told.record, "KD-2")) == [("P-7F3A-0001", lot) for lot in made]
    assert _vessels(revised.newest(told.record, "KD-2", 10)) == [("P-7F3A-0001", lot) for lot in made]


def test_the_newest_vessels_hold_one_once_that_rests_on_the_lot_through_two(told: Story) -> None:
    first, one = told.whole()
    second, two = told.whole(lot=one, content="aliquot")
    later = []
    lot = two
    for _ in range(2):
        prep = told.plan(lot=lot, content="aliquot")
        told.weigh(prep, "20.00", content="aliquot", container=f"{lot}-1")
        later.append(prep)
        lot = told.close(prep)
    assert not spread.few(told.record, "W-1", most=4)
    # The second prep took of the solvent, and of the solution that was made with it.
    links = [row["prep"] for row in spread.newest(told.record, "W-1", limit=4)]
    assert links == [second, first, later[0], second]
    rows = revised.newest(told.record, "W-1", 4)
    assert [(row.prep, row.depth) for row in rows] == [(second, 1), (first, 1), (later[0], 2)]


def test_what_is_stale_through_another_lot_is_said_in_the_trace_of_each_that_went_in(told: Story) -> None:
    told.row("lot", {"id": "AZ-1", "substance": "NAN3"})
    told.row("container", {"id": "AZ-1-1", "lot": "AZ-1", "content": "5 g"})
    first, one = told.whole()
    mixed = told.plan(lot=one, content="aliquot")
    told.weigh(mixed, "20.00", content="aliquot", container=f"{one}-1")
    told.weigh(mixed, "3.00", container="AZ-1-1", substances=("NAN3",))
    lot = told.close(mixed)
    below, _ = told.whole(lot=lot, content="aliquot")
    (dose,) = told.record.query("SELECT entry FROM dose WHERE prep = :prep AND content = 'solid'", prep=first)
    told.put(ev.Discarded(prep=first, entry=dose["entry"], reason="spilt"))
    near, far = trace.trace(told.record, "AZ-1").down
    assert (near.prep, far.prep) == (mixed, below)
    assert near.stale == f"made of lot {one}; {first}: entry {dose['entry']} was discarded"
    assert far.stale == f"made of lot {lot}; {near.stale}"
    assert list(trace.each(told.record, "AZ-1")) == [near, far]
