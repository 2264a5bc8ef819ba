"""The head of a framed screen is kept up once, however many classes a screen is made from."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.tui import desks
from tests.tui.every_screen import SCREENS
from tui.screens.frame import Framed

TIMED = (
    "registers",
    "register",
    "search",
    "exposure log",
    "bench",
    "past preps",
    "set up",
    "sign in",
    "teach",
)
"""Screens that have something of their own to do when they are mounted."""


@pytest.mark.parametrize("name", TIMED)
async def test_the_time_at_the_head_of_a_screen_goes_by_one_timer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    begun: list[Callable[..., Any]] = []
    set_interval = Framed.set_interval

    def counted(self: Framed[Any], every_s: float, do: Callable[..., Any], **more: Any) -> Any:
        begun.append(do)
        return set_interval(self, every_s, do, **more)

    monkeypatch.setattr(Framed, "set_interval", counted)
    shown = SCREENS[name]
    app = desks.DeskApp(shown.make(desks.desk(tmp_path, person=shown.person, story=shown.story)))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
    assert [do.__name__ for do in begun].count("show_head") == 1
