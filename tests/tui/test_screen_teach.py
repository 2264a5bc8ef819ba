"""A keeper lets the program read a balance's lines and takes what is proposed into the row's form."""

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from textual import events

from store.queries import registers, row_history
from tests.tui import desks, snap
from tests.tui.pty_port import Sender
from tui.screens.register_form import RegisterForm
from tui.screens.register_row import RegisterRowScreen
from tui.screens.small_form import SmallForm
from tui.screens.teach import TeachScreen

MOVING = [f"~ {n * 1.37:.2f} mg" for n in range(12)]
RESTING = ["= 16.44 mg"] * 12


async def until(pilot: desks.Pilot[None], holds: Callable[[], bool]) -> None:
    """Wait until something holds."""
    for _ in range(100):
        if holds():
            return
        await pilot.pause(0.05)
    raise AssertionError(snap.text_of(pilot.app))


async def begin(app: desks.DeskApp, pilot: desks.Pilot[None], port: str) -> None:
    """Go from the row to the screen that records."""
    await desks.settle(pilot)
    await snap.press(pilot, "l")
    await until(pilot, lambda: isinstance(app.screen, SmallForm))
    await pilot.pause(1.1)  # an Enter of before may bounce for so long
    await snap.send(pilot, f"{port}\r")
    await until(pilot, lambda: "▸ unit" in snap.text_of(app))
    await snap.send(pilot, "mg\r")
    await until(pilot, lambda: isinstance(app.screen, TeachScreen))
    await desks.settle(pilot)


async def test_pasted_lines_are_proposed_and_taken_into_the_form_and_the_row(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterRowScreen(desk, "balance", "B-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(app, pilot, "")
        await snap.send(pilot, f"{MOVING[0]}\r")
        await pilot.pause(1.1)
        await snap.send(pilot, "\r")
        await until(pilot, lambda: "Only 1 of 1 lines hold one number" in snap.text_of(app))
        app.post_message(events.Paste("\n".join([*MOVING[1:], *RESTING])))
        await pilot.pause(1.1)
        assert isinstance(app.screen, TeachScreen)
        assert len(app.screen.lines) == 24
        await snap.send(pilot, "\r")
        await until(pilot, lambda: "With it 24 of 24 lines are read." in snap.text_of(app))
        await pilot.pause(1.0)
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        assert isinstance(app.screen, RegisterForm)
        app.screen.form.go(len(app.screen.form.fields) - 1)
        await pilot.pause(1.1)
        await snap.send(pilot, "\r")  # keeps the reason that stands there, and writes the row
        await until(pilot, lambda: isinstance(app.screen, RegisterRowScreen))
    row = registers.body(desk.record, "balance", "B-1")
    assert (row["stable_mark"], row["unstable_mark"], row["readability"]) == ("=", "~", "0.01 mg")
    assert row["source"] == "simulated"  # typed lines tell no source
    assert row_history.history(desk.record, "balance", "B-1")[-1].reason == "read from 24 of its lines"


async def test_a_port_is_recorded_and_stands_in_what_is_proposed(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(RegisterRowScreen(desk, "balance", "B-1"))
    with Sender(tmp_path / "port") as port:
        async with app.run_test(size=(80, 24)) as pilot:
            await begin(app, pilot, f"{port.name} 4800")
            await pilot.pause(0.5)
            screen = app.screen
            assert isinstance(screen, TeachScreen)
            for line in [*MOVING, *RESTING]:
                port.line(line)
            for _ in range(40):
                if len(screen.lines) >= 24:
                    break
                await pilot.pause(0.05)
            await snap.send(pilot, "\r")
            await until(pilot, lambda: screen.found is not None)
            assert screen.found is not None
            fields = screen._fields(screen.found)
            await snap.press(pilot, "-")
            await snap.press(pilot, "-")
            assert isinstance(app.screen, RegisterRowScreen)
    assert (fields["source"], fields["port"]) == ("serial", f"{port.name} 4800")
    assert not [t for t in threading.enumerate() if t.name.startswith("balance")]


@pytest.mark.parametrize(("person", "says"), [("op-1", "keeper"), ("ke-1", "is no setting")])
async def test_only_a_keeper_may_teach_and_a_port_that_is_none_is_refused(
    tmp_path: Path, person: str, says: str
) -> None:
    desk = desks.desk(tmp_path, person=person)
    app = desks.DeskApp(RegisterRowScreen(desk, "balance", "B-1"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "l")
        await pilot.pause(1.1)
        if isinstance(app.screen, SmallForm):
            await snap.send(pilot, "/dev/x fast\r")
            await snap.send(pilot, "mg\r")
        await until(pilot, lambda: says in snap.text_of(app))
        assert not isinstance(app.screen, TeachScreen)
