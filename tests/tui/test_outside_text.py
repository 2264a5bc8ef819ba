"""Text from outside, whatever is in it, on every screen: no crash, nothing hidden, nothing obeyed."""

from collections.abc import Callable
from pathlib import Path

import pytest

from store.record.record import Record
from tests import site
from tests.tui import desks, every_screen, snap

HOSTILE = "[/x][red]\x1b[31m\u202eb\x00"
"""Markup, an escape sequence, a turn of the direction of writing, and NUL."""
SEEN = "[/x][red]␛[31m‹202E›b␀"
NAMES = {
    "substance": ("name", "waste_stream", "storage"),
    "lot": ("supplier",),
    "container": ("place",),
    "vessel": ("name",),
    "balance": ("name",),
    "enclosure": ("name", "gloves"),
    "person": ("name", "employer"),
}
"""Fields that hold free text. A form refuses such signs; an old record may hold them."""
DEVICE = ("\x1b", "\x00", "\u202e")
"""What a terminal would obey, or what turns the line."""
SHOWS = (
    "bench", "plan", "prep page", "register", "register row", "sign in",
    "spill", "step, page", "step, reading",
)  # fmt: skip
"""Screens that name the substance, or the site."""


def hostile(story: every_screen.Story) -> Callable[[Record, site.TestClock], None]:
    """Story: the same, at a site whose every free text is hostile."""

    def told(record: Record, clock: site.TestClock) -> None:
        for register, row in site.ROWS:
            if row["id"] == "WATER":
                continue  # its name leads to the density
            if fields := NAMES.get(register, ()):
                site.put(record, register, {**row, **dict.fromkeys(fields, HOSTILE)})
        site.put(record, "setting", {"id": "site", "value": HOSTILE})
        if story is not None:
            story(record, clock)

    return told


@pytest.mark.parametrize("name", every_screen.SCREENS)
async def test_hostile_text_is_shown_as_it_is_on_every_screen(tmp_path: Path, name: str) -> None:
    shown = every_screen.SCREENS[name]
    desk = desks.desk(tmp_path, person=shown.person, story=hostile(shown.story))
    app = desks.DeskApp(shown.make(desk))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        for key in shown.keys:
            await snap.press(pilot, key)
        painted = snap.text_of(app)
        assert not [sign for sign in DEVICE if sign in painted]
        assert len(painted.split()) > 5
        if name in SHOWS:
            assert SEEN[:8] in painted
