"""`tarebook plan`: a dilution planned from the shell, looked at first and then written."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from store.queries import registers
from store.record.verify import verify
from tests import site
from tests.tui.test_screen_plan_several import stocked
from tui.__main__ import main

PREP = "P-7F3A-0001"


def test_a_dilution_is_looked_at_then_planned(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    path, clock = tmp_path / "r.tarebook", site.TestClock()
    with site.begin(path, clock) as record:
        stocked(record, clock)
        stock = registers.body(record, "lot", "KS-1")
        site.put(record, "lot", {**stock, "expiry": "2099-12-31"})  # the shell reads the true clock
    words = [
        "--record", str(path), "plan", "dilution", "--from", "CS-1", "--to", "10 ug/g, 0.1 ug/g",
        "--vessels", "V-1, V-2", "--amount", "20 g", "--solvent", "WB-1", "--balance", "B-1",
        "--enclosure", "E-1", "--as", "op-1", "--pin-stdin",
    ]  # fmt: skip
    entries = verify(path).entries
    checked = CliRunner().invoke(main, [*words[:-1], "--check"])
    assert checked.exit_code == 0, checked.output
    assert "V-2" in checked.output
    assert PREP not in checked.output
    assert verify(path).entries == entries, "a look writes nothing, not even who looked"
    written = CliRunner().invoke(main, words, input=f"{site.PINS['op-1']}\n")
    assert written.exit_code == 0, written.output
    assert PREP in written.output


def test_a_wrong_pin_plans_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    path, clock = tmp_path / "r.tarebook", site.TestClock()
    with site.begin(path, clock) as record:
        stocked(record, clock)
    words = [
        "--record", str(path), "plan", "dilution", "--from", "CS-1", "--to", "10 ug/g", "--vessels", "V-1",
        "--amount", "20 g", "--solvent", "WB-1", "--balance", "B-1", "--enclosure", "E-1", "--as", "op-1",
        "--pin-stdin",
    ]  # fmt: skip
    refused = CliRunner().invoke(main, words, input="0000\n")
    assert refused.exit_code == 2
    assert "do not fit" in refused.stderr
