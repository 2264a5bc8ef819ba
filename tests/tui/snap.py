"""The screen as text, compared with a file; and keys at any speed, which Pilot.press is too slow for."""

import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from textual import events
from textual.app import App
from textual.pilot import Pilot

FOLDER = Path(__file__).parent / "snapshots"
SHOWS = FOLDER / "shows.txt"
"""Which screen each snapshot shows, so that none is left without."""
WRITE = "TAREBOOK_SNAPSHOTS"
_DIGEST = re.compile(r"\b[0-9a-f]{64}\b")
"""A digest changes with every version of a library, and tells the eye nothing."""
_SIGNS = {"\r": "enter", "\n": "ctrl+j", "\x7f": "backspace", "\x1b": "escape", "\t": "tab"}


def text_of(app: App[Any]) -> str:
    """What stands on the screen, line by line, without the blanks at the ends."""
    strips = app.screen._compositor.render_strips()
    return "\n".join(strip.text.rstrip() for strip in strips) + "\n"


def check(app: App[Any], name: str) -> None:
    """Compare the screen with its snapshot; TAREBOOK_SNAPSHOTS=write writes it instead."""
    size = app.size
    _of(app, name)
    file = FOLDER / f"{name}_{size.width}x{size.height}.txt"
    found = _DIGEST.sub("#" * 64, text_of(app))
    if os.environ.get(WRITE) == "write":
        FOLDER.mkdir(exist_ok=True)
        file.write_text(found, encoding="utf-8")
        return
    assert file.exists(), f"no snapshot {file.name}: look at the screen, then run with {WRITE}=write\n{found}"
    assert found == file.read_text(encoding="utf-8"), f"{file.name} has changed to the eye\n{found}"


def shown() -> dict[str, str]:
    """Give the class of the screen that each snapshot shows."""
    if not SHOWS.exists():
        return {}
    return dict(line.split() for line in SHOWS.read_text(encoding="utf-8").splitlines())


def _of(app: App[Any], name: str) -> None:
    """Hold a snapshot to the screen that it is said to show."""
    index, found = shown(), type(app.screen).__name__
    if os.environ.get(WRITE) == "write":
        index[name] = found
        lines = "".join(f"{n} {c}\n" for n, c in sorted(index.items()))
        SHOWS.write_text(lines, encoding="utf-8")
        return
    assert index.get(name, found) == found, f"{name} shows a {found}: run with {WRITE}=write"


def key_events(keys: str | Iterable[str], *, rate: float, start_s: float) -> list[events.Key]:
    """Keys as a terminal would report them, with the times of a device or a hand that types so fast."""
    found = []
    for n, key in enumerate(keys):
        name = _SIGNS.get(key, key)
        event = events.Key(name, name if len(name) == 1 else None)
        event.time = start_s + n / rate
        found.append(event)
    return found


async def send(pilot: Pilot[Any], keys: str | Iterable[str], *, rate: float = 500.0) -> None:
    """Post keys to the app as fast as it takes them, bearing the times of `rate` keys a second.

    A long slow row bears times to come, so that no test waits for it; a short one is followed by silence,
    so that everything is decided when this returns.
    """
    found = key_events(keys, rate=rate, start_s=events.Event().time)
    for event in found:
        pilot.app.post_message(event)
    await pilot.pause(0.2 + min(0.3, len(found) / rate))


async def press(pilot: Pilot[Any], *keys: str) -> None:
    """Press keys as a hand does, each by itself."""
    for key in keys:
        await send(pilot, [key])
