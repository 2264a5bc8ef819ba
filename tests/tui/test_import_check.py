"""`tarebook import KIND FILE --check`: what a file would do, without a PIN and without an entry."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from store.record.verify import verify
from tests import site
from tui.__main__ import main


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    path = tmp_path / "r.tarebook"
    site.begin(path, site.TestClock()).close()
    return path


def run(place: Path, text: str) -> Result:
    file = place.with_name("vessel.csv")
    file.write_text(text, encoding="utf-8")
    return CliRunner().invoke(main, ["--record", str(place), "import", "vessel", str(file), "--check"])


def test_a_look_names_what_is_new_and_asks_for_no_pin(place: Path) -> None:
    before = verify(place).entries
    seen = run(place, "id,name,capacity\nV-91,vial,20 mL\n")
    assert seen.exit_code == 0, seen.output
    assert "new           1  V-91" in seen.output
    assert "Nothing was written." in seen.output
    assert verify(place).entries == before


def test_a_look_names_every_fault(place: Path) -> None:
    seen = run(place, "id,name,capacity\nV-91,vial,twenty\nV-92,vial,-1 mL\n")
    assert seen.exit_code == 2
    assert "line 2" in seen.stderr
    assert "line 3" in seen.stderr
