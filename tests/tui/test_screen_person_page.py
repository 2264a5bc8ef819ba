"""Everything about a person is read by that person and by a safety officer, and printed whole."""

import re
from pathlib import Path

import pytest

from store.errors import NotAllowed
from tests.tui import desks, snap
from tui.screens.bench import BenchScreen
from tui.screens.person_page import PersonPageScreen


@pytest.mark.parametrize("size", desks.SIZES)
async def test_everybody_reads_all_that_is_held_about_oneself(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(BenchScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "m")
        await desks.settle(pilot)
        assert isinstance(app.screen, PersonPageScreen)
        snap.check(app, "person_page")
        every = " ".join("\n".join(app.screen.text(78)).split())
        for said in (
            "29 CFR 1910.1020",
            "IN THE REGISTER",
            "A. B.",
            "cancer, genes, fertility",
            "not measured",
            "did it",
        ):
            assert said in every, said


async def test_the_page_is_written_for_print_beside_the_record(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="so-1", story=desks.closed_prep)
    app = desks.DeskApp(PersonPageScreen(desk, "op-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "p")
        await desks.settle(pilot)
        assert "Written:" in snap.text_of(app)
    (file,) = tmp_path.glob("op-1-*.html")
    text = file.read_text(encoding="utf-8")
    assert "made by</dt><dd>so-1" in text
    assert str(desk.record.head()) in text
    assert "cancer, genes, fertility" in text
    assert "CMR_1" not in text
    assert re.search(r"<td>\d+:\d\d</td>", text)
    assert "+00:00</td>" not in text


def test_nobody_else_reads_it(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="op-2", story=desks.closed_prep)
    with pytest.raises(NotAllowed):
        PersonPageScreen(desk, "op-1")
