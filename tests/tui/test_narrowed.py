"""A filter that is none is refused: an empty answer would read as if nothing had been handled."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.store.asked_story import Story, begin
from tests.tui import desks, snap
from tests.tui.test_screen_exposure_log import handled
from tui.__main__ import main
from tui.screens.exposure_log import ExposureLogScreen
from tui.screens.past_preps import PastPrepsScreen
from tui.screens.which import WhichScreen


@pytest.fixture
def told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Story]:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    story = begin(tmp_path)
    story.whole()
    yield story
    story.record.close()


def run(told: Story, *words: str) -> Result:
    return CliRunner().invoke(main, ["--record", str(told.record.path), *words])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--enclosure", "E-9"), "There is no enclosure 'E-9'"),
        (("--what", "vesel"), "Nothing is written as 'vesel'"),
        (("--since", "2026-05", "--until", "2026-02"), "ends on 2026-02-28, before it begins on 2026-05-01"),
    ],
)
def test_the_exposure_log_refuses_what_is_none(told: Story, words: tuple[str, ...], said: str) -> None:
    for more in ((), ("--incidents",), ("--by", "month"), ("--format", "csv")):
        result = run(told, "exposures", *words, *more)
        assert (result.exit_code, result.stdout) == (2, "")
        assert said in result.stderr


def test_a_kind_of_handling_there_is_answers_and_one_not_done_yet_answers_with_nothing(told: Story) -> None:
    assert "container" in run(told, "exposures", "--what", "container").stdout
    assert "weigh_solid" in run(told, "exposures", "--what", "vesel").stderr, "those there are stand by"
    result = run(told, "exposures", "--what", "visit", "--format", "json")
    assert (result.exit_code, result.stdout.strip()) == (0, "[]")


def test_past_preps_refuse_a_period_that_ends_before_it_begins(told: Story) -> None:
    result = run(told, "preps", "--since", "2026-05", "--until", "2026-02")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "before it begins" in result.stderr


@pytest.mark.parametrize("screen", [ExposureLogScreen, PastPrepsScreen])
async def test_the_form_of_the_filters_refuses_such_a_period(
    tmp_path: Path, screen: type[ExposureLogScreen] | type[PastPrepsScreen]
) -> None:
    app = desks.DeskApp(screen(desks.desk(tmp_path, person="so-1", story=handled)))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "w")
        await desks.settle(pilot)
        form = app.screen
        assert isinstance(form, WhichScreen)
        names = [f.key for f in form.form.fields]
        await snap.send(pilot, ["down"] * names.index("since"))
        for typed in ("2026-05\r", "2026-02\r", *["\r"] * (len(names) - names.index("until") - 1)):
            await desks.settle(pilot)
            await snap.send(pilot, typed)
        await desks.settle(pilot)
        assert app.screen is form
        assert "before it begins" in " ".join(snap.text_of(app).split())
