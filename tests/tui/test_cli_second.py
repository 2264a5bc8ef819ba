"""A second person lets a rack, a dilution or a series through from the shell."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from store import events as ev
from store.record.record import Record
from tests import racks, several, site
from tui.__main__ import main

PREP = "P-7F3A-0001"
RACK = (
    "rack", "--from", "C-1", "--vessels", "R-01 to R-10", "--amount", "5 mg", "--balance", "B-1",
    "--enclosure", "E-1",
)  # fmt: skip
DILUTION = (
    "plan", "dilution", "--from", "CS-1", "--to", "10 ug/g", "--vessels", "V-1", "--amount", "0.8 g",
    "--solvent", "WB-1", "--balance", "B-1", "--enclosure", "E-1",
)  # fmt: skip
"""Both weigh less than the minimum weight of the balance, 9 mg."""


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    path = tmp_path / "r.tarebook"
    with site.begin(path, site.TestClock()) as record:
        racks.vials(record, 10)
        several.begin(record)
        for lot in ("KD-2", "KS-1"):
            row = record.query("SELECT row FROM register_row WHERE id = :id", id=lot)[0]["row"]
            site.put(record, "lot", json.loads(row) | {"expiry": "2199-12-31"})
    return path


def run(path: Path, *words: str, pins: tuple[str, ...] = ("op-1",)) -> Result:
    pin = "".join(f"{site.PINS[p]}\n" for p in pins)
    return CliRunner().invoke(main, ["--record", str(path), *words, "--as", "op-1", "--pin-stdin"], input=pin)


@pytest.mark.parametrize("words", [RACK, DILUTION])
def test_what_stands_against_a_plan_is_let_through_by_a_second_person(
    path: Path, words: tuple[str, ...]
) -> None:
    alone = run(path, *words)
    assert alone.exit_code == 2
    assert "minimum weight" in alone.output
    assert "add --second ID and --reason" in alone.output
    why = "a trial of the method"
    done = run(path, *words, "--second", "op-2", "--reason", why, pins=("op-1", "op-2"))
    assert done.exit_code == 0, done.output
    assert PREP in done.output
    assert "op-2 lets this through:" in done.output
    with Record.open(path, now=site.TestClock(), terminal="7F3A") as record:
        planned = next(iter(record.entries(subject=f"prep:{PREP}"))).event
        assert isinstance(planned, ev.Planned)
        (decision,) = planned.let_through
        assert (decision["second"], decision["reason"]) == ("op-2", why)
        assert any("minimum weight" in what for what in decision["what"])


@pytest.mark.parametrize(
    ("more", "pins", "said"),
    [
        (("--second", "op-2"), ("op-1", "op-2"), "add --reason"),
        (("--second", "op-1", "--reason", "trial"), ("op-1", "op-1"), "somebody else"),
        (("--second", "op-2", "--reason", "trial"), ("op-1", "op-1"), "PIN"),
        (("--second", "op-9", "--reason", "trial"), ("op-1", "op-2"), "op-9"),
    ],
)
def test_nobody_lets_a_plan_through_without_a_reason_a_pin_or_another_name(
    path: Path, more: tuple[str, ...], pins: tuple[str, ...], said: str
) -> None:
    refused = run(path, *RACK, *more, pins=pins)
    assert refused.exit_code == 2
    assert said in refused.output
    assert "Traceback" not in refused.output
    with Record.open(path, now=site.TestClock(), terminal="7F3A") as record:
        assert not list(record.entries(subject=f"prep:{PREP}"))


def test_a_plan_with_nothing_against_it_asks_no_second_person(path: Path) -> None:
    words = tuple("10 mg" if w == "5 mg" else w for w in RACK)
    done = run(path, *words, "--second", "op-2", "--reason", "trial")
    assert done.exit_code == 0, done.output
    assert PREP in done.output
