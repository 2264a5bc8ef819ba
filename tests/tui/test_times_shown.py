"""Clock times stand in the zone of the computer, or in UTC where the site has set that; days stay local."""

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from click.testing import CliRunner

from store.actions import registers
from store.errors import StoreError
from tests import site
from tests.tui import desks, snap
from tui.__main__ import main
from tui.screens.exposure_log import ExposureLogScreen

EAST = timezone(timedelta(hours=5))


def east(clock: site.TestClock) -> datetime:
    return clock().astimezone(EAST)


@pytest.mark.parametrize(
    ("times", "head", "row"), [("local", "Mon 14:09", "14:00"), ("UTC", "09:09 UTC", "09:00")]
)
async def test_the_setting_decides_how_a_time_is_shown(
    tmp_path: Path, times: str, head: str, row: str
) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    clock = desks.clock_of(desk)
    desk.now = desk.record.now = lambda: east(clock)  # type: ignore[method-assign]
    site.put(desk.record, "setting", {"id": "times", "value": times})
    assert desk.clock().endswith(head)
    app = desks.DeskApp(ExposureLogScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert f"2026-03-02 {row}" in snap.text_of(app)


def test_the_shell_shows_times_as_the_site_has_set_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "Asia/Tashkent")
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    site.put(desk.record, "setting", {"id": "times", "value": "UTC"})
    (at,) = (r["at"] for r in desk.record.query("SELECT min(at) AS at FROM handling"))
    result = CliRunner().invoke(main, ["--record", str(desk.path), "exposures"])
    assert result.exit_code == 0, result.output
    assert f"{datetime.fromisoformat(at).astimezone(UTC):%Y-%m-%d %H:%M}" in result.stdout


def test_a_zone_that_there_is_not_is_refused(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    with pytest.raises(StoreError, match="write local or UTC"):
        registers.register(desk.acting, "setting", {"id": "times", "value": "CET"}, "")
