"""Nothing blinks while a screen is compared, nothing moves, and nobody waits for a clock."""

import asyncio
from collections.abc import Callable, Mapping

import pytest
from textual import _time
from textual.widgets import Input, TextArea

from tests.tui.quick_loop import QuickLoop, now


def pytest_asyncio_loop_factories() -> Mapping[str, Callable[[], asyncio.AbstractEventLoop]]:
    """Run every test of a screen on the loop that waits for nothing."""
    return {"quick": QuickLoop}


@pytest.fixture(autouse=True)
def still(monkeypatch: pytest.MonkeyPatch) -> None:
    """Freeze the cursor and the animations; let the times of events be those of the loop."""
    monkeypatch.setattr(Input, "cursor_blink", False)
    monkeypatch.setattr(TextArea, "cursor_blink", False)
    monkeypatch.setattr(_time, "get_time", now)
    monkeypatch.setenv("TEXTUAL_ANIMATIONS", "none")
    monkeypatch.delenv("NO_COLOR", raising=False)
