"""Seven to one on every screen in every theme, as it is painted, at every depth of colour a terminal has."""

import os
import pty
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from rich.color import Color, ColorSystem, ColorType
from rich.style import Style
from textual.app import App
from textual.geometry import Size

from tests.tui import desks, every_screen, snap
from tui import theme
from tui.__main__ import main
from tui.app import TarebookApp
from tui.screens.bench import BenchScreen
from tui.screens.sign_in import SignInScreen
from tui.screens.too_small import TooSmallScreen

Palette = tuple[tuple[int, int, int], ...]
# The sixteen colours as terminals paint them: the text mode of the VGA, and the defaults of X terminals
# (both from memory; common practice).
VGA: Palette = (
    (0, 0, 0), (170, 0, 0), (0, 170, 0), (170, 85, 0), (0, 0, 170), (170, 0, 170), (0, 170, 170),
    (170, 170, 170), (85, 85, 85), (255, 85, 85), (85, 255, 85), (255, 255, 85), (85, 85, 255),
    (255, 85, 255), (85, 255, 255), (255, 255, 255),
)  # fmt: skip
X: Palette = (
    (0, 0, 0), (205, 0, 0), (0, 205, 0), (205, 205, 0), (0, 0, 238), (205, 0, 205), (0, 205, 205),
    (229, 229, 229), (127, 127, 127), (255, 0, 0), (0, 255, 0), (255, 255, 0), (92, 92, 255),
    (255, 0, 255), (0, 255, 255), (255, 255, 255),
)  # fmt: skip


def painted(app: App[Any]) -> Iterator[tuple[str, Style]]:
    """Give every text on the screen that is not blank, with its style."""
    for strip in app.screen._compositor.render_strips():
        for text, style, _ in strip:
            if text.strip():
                assert style is not None
                assert style.color is not None, text
                assert style.bgcolor is not None, text
                yield text, style


def hex_of(colour: Color, palette: Palette = VGA) -> str:
    """Give the colour that is painted."""
    if colour.type == ColorType.STANDARD:
        assert colour.number is not None
        return "#{:02x}{:02x}{:02x}".format(*palette[colour.number])
    return colour.get_truecolor().hex


def faint(app: App[Any], depth: ColorSystem, palette: Palette = VGA) -> list[tuple[str, str, str, float]]:
    """Give the texts whose contrast is too small at a depth of colour."""
    found = []
    for text, style in painted(app):
        assert style.color is not None
        assert style.bgcolor is not None
        front = hex_of(style.color.downgrade(depth), palette)
        back = hex_of(style.bgcolor.downgrade(depth), palette)
        ratio = theme.contrast(front, back)
        if style.dim or style.blink or ratio < theme.LEAST_CONTRAST:
            found.append((text.strip(), front, back, round(ratio, 2)))
    return found


@pytest.mark.parametrize("name", every_screen.SCREENS)
async def test_every_text_of_every_screen_has_seven_to_one_in_every_theme(tmp_path: Path, name: str) -> None:
    shown = every_screen.SCREENS[name]
    desk = desks.desk(tmp_path, person=shown.person, story=shown.story)
    app = desks.DeskApp(shown.make(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        if shown.keys[:1] == ("enter",):
            await pilot.pause(1.1)  # an Enter of before may bounce for so long
        for key in shown.keys:
            await snap.press(pilot, key)
        before = snap.text_of(app).strip()
        assert len(before) > 20
        for one in theme.THEMES:
            app.theme = one.name
            await pilot.pause()
            assert faint(app, ColorSystem.TRUECOLOR) == [], one.name
            assert faint(app, ColorSystem.EIGHT_BIT) == [], one.name
            if one.name in theme.offered("standard"):
                assert faint(app, ColorSystem.STANDARD, VGA) == [], one.name
                assert faint(app, ColorSystem.STANDARD, X) == [], one.name
            if one.name == "mono":
                for _, style in painted(app):
                    for colour in (style.color, style.bgcolor):
                        assert colour is not None
                        assert len(set(colour.get_truecolor())) == 1
        if shown.snapshot:
            snap.check(app, shown.snapshot)
            await pilot.resize_terminal(120, 40)
            await desks.settle(pilot)
            snap.check(app, shown.snapshot)


def test_every_screen_has_a_snapshot_at_both_sizes() -> None:
    files = {file.stem for file in snap.FOLDER.glob("*.txt")}
    both = {
        screen
        for name, screen in snap.shown().items()
        if all(f"{name}_{width}x{height}" in files for width, height in desks.SIZES)
    }
    assert set(every_screen.classes()) - set(every_screen.GROUNDS) - both == set()


def test_no_screen_is_left_out_of_the_measurement(tmp_path: Path) -> None:
    made = set()
    for n, shown in enumerate(every_screen.SCREENS.values()):
        (tmp_path / str(n)).mkdir()
        desk = desks.desk(tmp_path / str(n), person=shown.person, story=shown.story)
        made.add(type(shown.make(desk)).__name__)
    assert made == set(every_screen.classes()) - set(every_screen.GROUNDS)


@pytest.mark.parametrize("name", ["step, reading", "sign in", "spill", "plan"])
async def test_no_color_leaves_colours_to_the_terminal_and_loses_no_word(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    shown = every_screen.SCREENS[name]
    desk = desks.desk(tmp_path, person=shown.person, story=shown.story)
    app = TarebookApp(desk, theme="light")
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        app.push_screen(shown.make(desk))
        await desks.settle(pilot)
        assert app.theme == "mono"
        for _, style in painted(app):
            assert style.color is not None
            assert style.bgcolor is not None
            assert style.color.is_default
            assert style.bgcolor.is_default
        assert any(style.reverse for _, style in painted(app)) == (name == "spill")
        assert len(snap.text_of(app).split()) > 20


def test_sixteen_colours_are_offered_the_two_themes_that_hold_there() -> None:
    round_ = [theme.chosen("light", colours="standard")]
    for _ in range(3):
        round_.append(theme.after(round_[-1], colours="standard"))
    assert round_ == ["high-contrast", "mono", "high-contrast", "mono"]
    assert theme.chosen("light", colours="256") == "light"


@pytest.mark.parametrize("term", ["dumb", "unknown", ""])
def test_the_command_refuses_a_dumb_terminal_in_one_sentence(tmp_path: Path, term: str) -> None:
    mine, its = pty.openpty()
    done = subprocess.run(
        [sys.executable, "-m", "tui", "--record", str(tmp_path / "r.tarebook")],
        stdin=its, stdout=its, stderr=subprocess.PIPE, text=True, timeout=60,
        env={**os.environ, "TERM": term}, check=False,
    )  # fmt: skip
    os.close(its)
    os.close(mine)
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
    assert "tarebook prep --plain" in done.stderr
    assert not (tmp_path / "r.tarebook").exists()


def test_the_command_refuses_an_output_that_is_no_terminal(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["--record", str(tmp_path / "r.tarebook")])
    assert (done.exit_code, done.exception is None or isinstance(done.exception, SystemExit)) == (2, True)
    assert "not a terminal" in done.output


@pytest.mark.parametrize("size", [(79, 24), (80, 23), (20, 5), (1, 1)])
async def test_under_80_by_24_the_screen_says_what_it_needs_and_comes_back(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, story=desks.busy_bench)
    app = TarebookApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        app.pop_screen()
        await desks.settle(pilot)
        assert isinstance(app.screen, BenchScreen)
        before = snap.text_of(app)
        await pilot.resize_terminal(*size)
        await desks.settle(pilot)
        assert isinstance(app.screen, TooSmallScreen)
        if size[0] > 20:
            assert f"Needs 80 × 24, has {size[0]} × {size[1]}" in snap.text_of(app)
        await snap.press(pilot, "9")
        await snap.press(pilot, "1")
        assert isinstance(app.screen, TooSmallScreen)
        await pilot.resize_terminal(80, 24)
        await desks.settle(pilot)
        assert snap.text_of(app) == before


async def test_a_small_terminal_at_the_start_is_told_at_once(tmp_path: Path) -> None:
    app = TarebookApp(desks.desk(tmp_path, person=""))
    async with app.run_test(size=(60, 20)) as pilot:
        await desks.settle(pilot)
        assert isinstance(app.screen, TooSmallScreen)
        await pilot.resize_terminal(100, 30)
        await desks.settle(pilot)
        assert isinstance(app.screen, SignInScreen)


async def test_a_small_terminal_says_first_that_something_is_open(tmp_path: Path) -> None:
    shown = every_screen.SCREENS["step, interrupted"]
    desk = desks.desk(tmp_path, story=shown.story)
    app = TarebookApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        app.switch_screen(shown.make(desk))
        await desks.settle(pilot)
        await pilot.resize_terminal(40, 10)
        await desks.settle(pilot)
        assert snap.text_of(app).startswith("SOMETHING IS OPEN: close it now.")


async def test_the_lock_that_fell_due_under_a_small_terminal_comes_before_anything_is_seen(
    tmp_path: Path,
) -> None:
    desk = desks.desk(tmp_path)
    app = TarebookApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        app.pop_screen()
        await pilot.resize_terminal(40, 10)
        await desks.settle(pilot)
        desks.clock_of(desk).time.pass_(6 * 60.0)
        await pilot.pause(1.2)
        assert isinstance(app.screen, TooSmallScreen)
        await pilot.resize_terminal(80, 24)
        await desks.settle(pilot)
        assert isinstance(app.screen, SignInScreen)
        assert desk.person is None


@pytest.mark.parametrize("name", ["step, page", "step, reading", "bench", "plan", "exposure log", "spill"])
async def test_a_screen_resized_at_any_time_fills_its_size_and_comes_back_the_same(
    tmp_path: Path, name: str
) -> None:
    shown = every_screen.SCREENS[name]
    desk = desks.desk(tmp_path, person=shown.person, story=shown.story)
    app = desks.DeskApp(shown.make(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        before = snap.text_of(app)
        for width, height in ((200, 60), (81, 24), (80, 50), (120, 40), (80, 24)):
            await pilot.resize_terminal(width, height)
            await pilot.pause(0.2)
            assert app.size == Size(width, height)
            lines = snap.text_of(app).splitlines()
            assert len(lines) == height
            assert lines[-1].strip(), "the keys stand at the foot"
        assert snap.text_of(app) == before
