"""The spill card: from what is open, without data the strictest, and never without its first lines."""

from pathlib import Path

import pytest

from store.hazards import cautions
from store.model.words import ActKind
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tui.screens import spill
from tui.screens.incident import IncidentScreen
from tui.screens.spill import SpillScreen


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
        assert spill.NO_NUMBERS[:40] in snap.text_of(app)
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
    card = spill.of(desk)
    text = " ".join(" ".join(spill.lines(desk, card, 76)).split())
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
    card = spill.of(desk)
    assert (card.families, card.no_data) == (("UNKNOWN",), True)
    assert spill.NOTHING_OPEN in " ".join(" ".join(spill.lines(desk, card, 76)).split())


def test_a_local_rule_of_the_substance_stands_on_the_card(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="", story=powder_open)
    rule = {"id": "7", "text": "Call the second floor.", "since": "2026-01-01", "substances": ["K2CR2O7"]}
    site.put(desk.record, "rule", rule)
    assert "Local rule 7 (since 2026-01-01): Call the second floor." in list(
        spill.lines(desk, spill.of(desk), 76)
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
