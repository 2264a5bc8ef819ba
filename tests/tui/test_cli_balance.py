"""`tarebook balance health | weighings | check | checks | adjusted` as a person types them."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from store.queries import balances
from store.record.record import Record
from tests import site
from tui.__main__ import main

TEN = [f"{100.0 + 0.01 * (n % 3):.2f}" for n in range(10)]
WHO = ("--as", "op-1", "--pin-stdin")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "r.tarebook"
    site.begin(path, site.TestClock()).close()
    monkeypatch.setenv("TAREBOOK_RECORD", str(path))
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    return path


def _run(*words: str, typed: str = "1111\n") -> Result:
    return CliRunner().invoke(main, ["balance", *words], input=typed)


def _head(path: Path) -> int:
    with Record.open(path, now=site.TestClock(), terminal="7F3A", write=False) as record:
        return record.head().entry


def test_ten_typed_weighings_give_s_and_the_minimum_weight(place: Path) -> None:
    done = _run("weighings", "B-1", *TEN, "--load", "12.03 g", *WHO, "--format", "json")
    found = json.loads(done.output)
    assert found["sd_mg"] == pytest.approx(0.0087560, abs=1e-7)
    assert found["minimum_mg"] == pytest.approx(17.512, abs=1e-3)
    assert json.loads(_run("health", "B-1", "--format", "json").output)["minimum_mg"] == pytest.approx(17.512)


def test_weighings_come_from_a_file_with_every_digit(place: Path, tmp_path: Path) -> None:
    file = tmp_path / "ten.csv"
    file.write_text("n;net\n" + "".join(f"{n};{v} mg\n" for n, v in enumerate(TEN)))
    done = _run("weighings", "B-1", str(file), "--column", "net", *WHO)
    assert done.exit_code == 0, done.output
    with Record.open(place, now=site.TestClock(), terminal="7F3A", write=False) as record:
        assert balances.measured(record, "B-1")[0].weighings == tuple(f"{v} mg" for v in TEN)


@pytest.mark.parametrize("many", [0, 1, 9])
def test_fewer_than_ten_weighings_are_refused_in_one_sentence(place: Path, many: int) -> None:
    done = _run("weighings", "B-1", *TEN[:many], *WHO)
    assert done.exit_code == 2
    assert done.stderr == f"{many} weighings are too few: a repeatability needs 10 or more.\n"


@pytest.mark.parametrize(("reading", "code"), [("20000.10", 0), ("20000.11", 1)])
def test_a_check_exits_by_its_limit_and_stands_either_way(place: Path, reading: str, code: int) -> None:
    done = _run("check", "B-1", "--zero", "0.00", "--reading", reading, *WHO)
    assert done.exit_code == code, done.output
    (row,) = json.loads(_run("checks", "B-1", "--format", "json").output)
    assert (row["shown"], row["within"]) == (f"{reading} mg", code == 0)
    word = "MAY WEIGH" if code == 0 else "DOES NOT WEIGH"
    assert word in _run("health", "B-1").output


def test_a_wrong_pin_writes_no_check(place: Path) -> None:
    done = _run("check", "B-1", "--zero", "0.00", "--reading", "20000.00", *WHO, typed="0000\n")
    assert done.exit_code == 2
    assert _run("checks", "B-1").output == "Balance B-1 was never checked.\n"


def test_the_health_page_draws_the_chart_and_names_the_rule(place: Path) -> None:
    for n in range(6):
        _run("check", "B-1", "--zero", "0.00", "--reading", f"20000.{n:02d}", *WHO)
    page = _run("health", "B-1").output
    assert "six points in a row steadily up or down (Nelson's rule 3), complete at check 6" in page
    assert page.count("*") == 6


def test_an_adjustment_is_written_and_asks_for_a_check(place: Path) -> None:
    done = _run("adjusted", "B-1", "--how", "external weight", "--air", "1.199 kg/m3", *WHO)
    assert done.exit_code == 0, done.output
    assert "external weight, gas 1.199" in _run("health", "B-1").output
    done = _run("adjusted", "B-1", "--how", "external weight", "--air", "998 kg/m3", *WHO)
    assert (done.exit_code, "no density of a gas" in done.stderr) == (2, True)


@pytest.mark.parametrize("command", ["health", "checks"])
def test_a_balance_that_is_not_there_is_named(place: Path, command: str) -> None:
    done = _run(command, "B-7")
    assert done.exit_code == 2
    assert "near it: B-1" in done.stderr
