"""Nothing blinks while a screen is compared, and nothing moves."""

import pytest
from textual.widgets import Input, TextArea


@pytest.fixture(autouse=True)
def still(monkeypatch: pytest.MonkeyPatch) -> None:
    """Freeze the cursor and the animations."""
    monkeypatch.setattr(Input, "cursor_blink", False)
    monkeypatch.setattr(TextArea, "cursor_blink", False)
    monkeypatch.setenv("TEXTUAL_ANIMATIONS", "none")
    monkeypatch.delenv("NO_COLOR", raising=False)
