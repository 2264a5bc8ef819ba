"""The spill card: from what is open, without data the strictest, and never without its first lines."""

from pathlib import Path

import pytest

from store.hazards import cautions
from store.model.words import ActKind
from store.queries import registers
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tests.tui.prepared import moments, opened
from tui.guide import keys, spill_card
from tui.screens.incident import IncidentScreen
from tui.screens.second import SecondScreen
from tui.screens.sign_in import SignInScreen
from tui.screens.spill import SpillScreen
from tui.screens.step import StepScreen


def powder_open(record: Record, clock: site.TestClock) -> None:
    """Story: the container of the solid is open."""
    desks.play(record, clock, until=lambda g: bool(g.state.act) and g.state.act.kind == ActKind.DOSE)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_the_card_says_what_to_do_now(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, person="", story=powder_open)
    app = desks.DeskApp(SpillScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "spill")
        assert spill_card.NO_NUMBERS[:40] in snap.text_of(app)
        await snap.press(pilot, "-")
    assert app.given == [None]


async def test_the_sites_own_numbers_stand_on_top(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="")
    site.put(desk.record, "setting", {"id": "emergency", "value": "inside [red] 112"})
    app = desks.DeskApp(SpillScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert snap.text_of(app).splitlines()[2].strip() == "inside [red] 112"


def test_the_card_holds_the_composed_page_and_names_what_is_open(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="", story=powder_open)
    card = spill_card.of(desk.record)
    text = " ".join(" ".join(spill_card.lines(desk.record, card, 76)).split())
    page = cautions.compose("spill", card.families)
    for block in page.blocks:
        for sentence in block.sentences:
            assert sentence in text
    assert cautions.note() in text
    assert "open now: container" in text
    assert "P304+P340" in text
    assert "potassium dichromate" in text


def test_with_nothing_open_the_strictest_text_stands(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="")
    card = spill_card.of(desk.record)
    assert (card.families, card.no_data) == (("UNKNOWN",), True)
    assert spill_card.NOTHING_OPEN in " ".join(" ".join(spill_card.lines(desk.record, card, 76)).split())


def test_a_local_rule_of_the_substance_stands_on_the_card(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="", story=powder_open)
    rule = {"id": "7", "text": "Call the second floor.", "since": "2026-01-01", "substances": ["K2CR2O7"]}
    site.put(desk.record, "rule", rule)
    assert "Local rule 7 (since 2026-01-01): Call the second floor." in list(
        spill_card.lines(desk.record, spill_card.of(desk.record), 76)
    )


async def test_who_is_signed_in_is_asked_for_the_incident(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=powder_open)
    app = desks.DeskApp(SpillScreen(desk, "P-7F3A-0001"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "+")
        await desks.settle(pilot)
        assert isinstance(app.screen, IncidentScreen)
        assert app.screen.prep == "P-7F3A-0001"
        await snap.press(pilot, "6")
        await desks.settle(pilot)
        assert not isinstance(app.screen, IncidentScreen)
    assert not desk.record.query("SELECT 1 FROM incident")


@pytest.mark.parametrize("name", ["planned", "0-pressure", "0-in", "1-zero", "3-open", "3-dose", "3-note"])
async def test_one_key_opens_the_card_from_any_step_and_it_asks_for_the_incident(
    tmp_path: Path, name: str
) -> None:
    start = moments()[name]
    clock = start.clock()
    with opened(start.copy(tmp_path / "r.tarebook"), clock) as record:
        desk = desks.beside(record, tmp_path / "r.tarebook", clock)
        app = desks.DeskApp(StepScreen(desk, desk.guide(start.prep)))
        async with app.run_test(size=(80, 24)) as pilot:
            await desks.settle(pilot)
            assert "F9" in snap.text_of(app)
            await snap.press(pilot, "f9")
            await desks.settle(pilot)
            assert isinstance(app.screen, SpillScreen)
            assert app.screen.prep == start.prep
            await snap.press(pilot, "-")
            await desks.settle(pilot)
            for key in ("1", "2", "enter"):
                await snap.press(pilot, key)
                await desks.settle(pilot)
            assert [r["prep"] for r in record.query("SELECT prep FROM incident")] == [start.prep]
            assert isinstance(app.screen, StepScreen)
            assert app.screen.guide.on_page, "cautions are shown in full again"


async def test_behind_the_lock_the_next_sign_in_is_asked_for_the_incident(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="", story=powder_open)
    app = desks.DeskApp(SignInScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "9", "enter")
        await desks.settle(pilot)
        assert isinstance(app.screen, SpillScreen)
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        for line in ("op-1", site.PINS["op-1"]):
            await snap.press(pilot, *line, "enter")
            await desks.settle(pilot)
        assert isinstance(app.screen, IncidentScreen)


def test_by_keypad_the_card_is_read_under_the_note_key_and_asks_for_the_incident(tmp_path: Path) -> None:
    start = moments()["3-dose"]
    clock = start.clock()
    with opened(start.copy(tmp_path / "r.tarebook"), clock) as record:
        guide = site.guide(record, start.prep, clock)
        guide.asks.clear()
        guide.take(keys.Note())
        card = next(n for n, c in enumerate(guide.asks[-1].choices, 1) if "spill card" in c)
        guide.take(keys.Chosen(card))
        assert spill_card.NO_NUMBERS[:40] in " ".join(guide.view().extra)
        for _ in range(20):
            guide.take(keys.Act())
        assert any("spill" in c for c in guide.asks[-1].choices)


@pytest.mark.parametrize(("left", "offered"), [("2026-03-02", True), ("2026-03-01", False)])
async def test_who_has_left_is_offered_neither_as_near_nor_as_second_person(
    tmp_path: Path, left: str, offered: bool
) -> None:
    desk = desks.desk(tmp_path)
    row = registers.body(desk.record, "person", "op-2")
    site.put(desk.record, "person", {**row, "left": left})
    assert ("op-2" in IncidentScreen(desk, "")._others) == offered
    suggest = SecondScreen(desk, ("a stop",)).form.fields[0].suggest
    assert suggest is not None
    assert ("op-2" in suggest("op")) == offered
