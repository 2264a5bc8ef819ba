"""The site's decimal sign: on every screen, in the shell and on paper; never in what programs read."""

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from store.actions import registers as verbs
from store.queries import decimals, registers, row_history
from store.record.record import Record
from tests import site
from tests.tui import desks, every_screen, snap
from tests.tui.test_prep_plain import begin
from tests.tui.test_screen_step import dose, walked
from tui.__main__ import main
from tui.screens.register_row import RegisterRowScreen
from tui.screens.registers import RegisterScreen
from tui.screens.step import StepScreen

POINTED = re.compile(r"(?<![\w.])[0-9]+\.[0-9]+ (?:mg|g|kg|mL|Pa|%|mg/g|g/mL)\b")
"""A quantity with a point."""
COMMA = re.compile(r"(?<![\w.,])[0-9]+,[0-9]+ (?:mg|g|kg|mL|Pa|%|mg/g|g/mL)(?![\w])")
SHOW = (
    "balance health", "weighings", "beside", "chart", "rack", "routes", "trace", "exposure log", "past preps",
    "plan", "prep page", "register form", "register row", "register", "small form", "step, page again",
    "step, reading", "step, refused", "step, interrupted", "person page",
)  # fmt: skip


@pytest.fixture(autouse=True)
def point_again() -> Iterator[None]:
    yield
    decimals.forget()


def comma(story: every_screen.Story) -> Callable[[Record, site.TestClock], None]:
    """Story: the same, at a site that writes commas."""

    def told(record: Record, clock: site.TestClock) -> None:
        site.put(record, "setting", {"id": "decimal_sign", "value": "comma"})
        if story is not None:
            story(record, clock)

    return told


async def painted(folder: Path, name: str, story: every_screen.Story, size: tuple[int, int]) -> str:
    shown = every_screen.SCREENS[name]
    desk = desks.desk(folder, person=shown.person, story=story)
    app = desks.DeskApp(shown.make(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        for key in shown.keys:
            await snap.press(pilot, key)
        return snap.text_of(app)


@pytest.mark.parametrize("name", SHOW)
async def test_every_screen_shows_its_numbers_with_the_sign_of_the_site(tmp_path: Path, name: str) -> None:
    story = every_screen.SCREENS[name].story
    (tmp_path / "comma").mkdir()
    (tmp_path / "point").mkdir()
    with_comma = await painted(tmp_path / "comma", name, comma(story), (120, 40))
    decimals.forget()
    with_point = await painted(tmp_path / "point", name, story, (120, 40))
    assert not POINTED.findall(with_comma)
    # The journal has one entry more, so digests, entries and drawn digits differ: the quantities do not.
    quantities = [decimals.turned(q) for q in re.findall(POINTED, with_point)]
    assert [q for q in quantities if q not in with_comma] == []


@pytest.mark.parametrize("size", desks.SIZES)
@pytest.mark.parametrize("name", ["balance health", "register row"])
async def test_screens_with_a_comma_stand_as_they_were_looked_at(
    tmp_path: Path, name: str, size: tuple[int, int]
) -> None:
    shown = every_screen.SCREENS[name]
    desk = desks.desk(tmp_path, person=shown.person, story=comma(shown.story))
    app = desks.DeskApp(shown.make(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        for key in shown.keys:
            await snap.press(pilot, key)
        snap.check(app, f"comma_{name.replace(', ', '_').replace(' ', '_')}")


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_dose_is_read_with_a_comma_from_the_big_digits_to_the_aim(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, story=comma(None))
    app = desks.DeskApp(StepScreen(desk, walked(desk.record, desks.clock_of(desk), dose)))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "comma_step_dose")
        assert not POINTED.findall(snap.text_of(app))


async def test_the_setting_is_an_entry_with_a_reason_and_holds_at_once(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    app = desks.DeskApp(
        RegisterRowScreen(desk, "setting", "decimal_sign"), RegisterRowScreen(desk, "lot", "KD-2")
    )
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "99.9" in snap.text_of(app)
        await snap.press(pilot, "-")
        await desks.settle(pilot)
        await snap.press(pilot, "c")
        await desks.settle(pilot)
        await snap.send(pilot, "comma\r")
        await snap.send(pilot, "as we write here\r")
        await desks.settle(pilot)
        app.push_screen(RegisterRowScreen(desk, "lot", "KD-2"))
        await desks.settle(pilot)
        assert "99,9" in snap.text_of(app)
        assert "99.9" not in snap.text_of(app)
    last = row_history.history(desk.record, "setting", "decimal_sign")[-1]
    assert (last.by, last.reason) == ("ke-1", "as we write here")
    assert registers.body(desk.record, "lot", "KD-2")["assay"] == "99.9"


def shell(desk_path: Path, *line: str) -> str:
    result = CliRunner().invoke(main, ["--record", str(desk_path), *line], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.stdout


def test_the_shell_and_paper_for_people_have_the_comma_and_files_for_programs_the_point(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    desk = desks.desk(tmp_path, story=comma(desks.closed_prep))
    prep = every_screen.PREP
    for line in (
        ("show", prep, "--budget"),
        ("label", prep),
        ("label", prep, "--format", "html", "--size", "100x60mm"),
        ("preps",),
        ("export", "exposures", "--format", "html"),
        ("export", "exposures", "--format", "text"),
    ):
        text = shell(desk.path, *line)
        assert not POINTED.findall(text), line
    assert COMMA.findall(shell(desk.path, "show", prep))
    assert COMMA.findall(shell(desk.path, "label", prep))
    for line in (
        ("export", "lot"),
        ("export", "balance", "--format", "toml"),
        ("export", "exposures"),
        ("export", "preps"),
        ("preps", "--format", "csv"),
    ):
        text = shell(desk.path, *line)
        assert re.search(r"[0-9]\.[0-9]", text), line
        assert not COMMA.findall(text), line
    dosed = json.loads(shell(desk.path, "export", "preps", "--format", "json"))
    assert isinstance(dosed["rows"][0]["value"], float)


def test_the_plain_prep_speaks_with_the_comma_and_takes_both(tmp_path: Path) -> None:
    path = tmp_path / "r.tarebook"
    with site.begin(path, site.TestClock()) as record:
        site.put(record, "setting", {"id": "decimal_sign", "value": "comma"})
        site.planned(record)
    from tests.tui import plain

    run = begin(path)
    plain.walk(run)
    assert run.end() == (0, "")
    assert "aim 10,01 mg, inside from" in run.said
    assert not POINTED.findall(run.said)


def test_a_prep_leaves_the_same_in_the_record_whatever_the_sign(tmp_path: Path) -> None:
    bodies = []
    for name, story in (("point", desks.closed_prep), ("comma", comma(desks.closed_prep))):
        (tmp_path / name).mkdir()
        desk = desks.desk(tmp_path / name, story=story)
        rows = desk.record.query("SELECT kind, line FROM journal WHERE subject LIKE 'prep:%' ORDER BY entry")
        bodies.append([(r["kind"], r["line"]) for r in rows])
    point, with_comma = bodies
    assert [kind for kind, _ in point] == [kind for kind, _ in with_comma]
    assert not any(re.search(r'"[0-9]+,[0-9]+', body) for _, body in with_comma)


async def test_a_number_is_found_as_it_is_shown(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=comma(None))
    app = desks.DeskApp(RegisterScreen(desk, "balance"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "0,01 mg" in snap.text_of(app)
        await snap.press(pilot, "f")
        await snap.send(pilot, "0,01 mg\r")
        assert "semi-micro" in snap.text_of(app)
        await snap.press(pilot, "f")
        await snap.send(pilot, "0,07 mg\r")
        assert "semi-micro" not in snap.text_of(app)


def test_another_sign_than_the_two_is_refused(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    with pytest.raises(Exception, match="write point or comma"):
        verbs.register(desk.acting, "setting", {"id": "decimal_sign", "value": ";"}, "")


def test_a_lot_whose_number_looks_like_a_decimal_keeps_its_name(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    site.put(desk.record, "setting", {"id": "decimal_sign", "value": "comma"})
    site.put(desk.record, "lot", {"id": "2026.15", "substance": "K2CR2O7"})
    decimals.follow(desk.record)
    assert decimals.shown("lot 2026.15, 12.50 mg") == "lot 2026.15, 12,50 mg"
