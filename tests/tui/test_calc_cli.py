"""`tarebook calc`: every sum from the shell, each with its source; bad input is one sentence and exit 2."""

import csv
import io
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from tui.__main__ import main


def run(*words: str, stdin: str | None = None) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["calc", *words], input=stdin)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


def answer(*words: str, stdin: str | None = None) -> Any:
    code, out, err = run(*words, "--format", "json", stdin=stdin)
    assert (code, err) == (0, "")
    return json.loads(out)


TEN = ["99.2", "101.1", "98.7", "100.4", "99.9", "100.8", "97.9", "101.5", "100.0", "99.5"]
FLOW = ["49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1"]


@pytest.mark.parametrize(
    ("words", "value", "unit"),
    [
        (["water-density", "--celsius", "20"], 998.2067, "kg/m3"),
        (["water-density", "--celsius", "21,5"], 997.8853, "kg/m3"),
        (["air-density", "--celsius", "20", "--hpa", "1013.25", "--humidity", "50"], 1.199314, "kg/m3"),
        (["air-density", "--celsius", "23", "--hpa", "950", "--humidity", "40", "--short"], 1.11292, "kg/m3"),
        (["buoyancy", "--reading", "26 g", "--density", "1588 kg/m3"], 26.01576, "g"),
        (["molar-mass", "Na2S2O3.5H2O"], 248.172, "g/mol"),
        (["salt-factor", "--weighed", "(C17H23NO3)2.H2SO4.H2O", "--wanted", "C17H23NO3", "--count", "2"],
         0.83293, "g/g"),
        (["purity", "--basis", "anhydrous", "--assay", "99.2", "--water", "3.5"], 0.95728, "g/g"),
        (["minimum-weight", "--readability", "0.1 mg", "--sd", "0.15 mg"], 300.0, "mg"),
        (["minimum-weight", "--readability", "0.01 mg"], 8.2, "mg"),
        (["minimum-weight", "--readability", "0.1 mg", "--unit", "g", *["0.1"] * 9, "0.1001"], 82.0, "mg"),
        (["convert", "0.1 g/g", "--to", "mol/L", "--density", "1.0707 g/mL", "--molar-mass", "58.44 g/mol"],
         1.8321, "mol/L"),
        (["convert", "5 mmol/L", "--to", "mg/mL", "--formula", "K2Cr2O7"], 1.47092, "mg/mL"),
        (["convert", "1.47092 g/L", "--to", "mmol/L", "--molar-mass", "294.184 g/mol"], 5.0, "mmol/L"),
        (["convert", "24,5 mg", "--to", "g"], 0.0245, "g"),
        (["convert", "20 degC", "--to", "K"], 293.15, "K"),
        (["uniformity", *TEN], 2.673, "% of label"),
        (["chart", *FLOW], 50.81, ""),
    ],
)  # fmt: skip
def test_a_sum_gives_value_unit_uncertainty_and_source(words: list[str], value: float, unit: str) -> None:
    got = answer(*words)
    assert got["value"] == pytest.approx(value, rel=2e-4 if value < 3 else 2e-5)
    assert got["unit"] == unit
    assert {"standard_uncertainty", "source"} <= set(got)
    assert got["source"]


def test_a_solution_says_what_to_add_what_the_display_shows_and_what_comes_out() -> None:
    got = answer(
        "solution", "--target", "1 mg/g", "--solid", "12.34 mg", "--purity", "0.97", "--purity-u", "0.002",
        "--sd", "0.012 mg", "--solid-density", "2680 kg/m3",
    )  # fmt: skip
    # 11.95746 g without buoyancy; the solid is 0.03 % heavier than it reads.
    assert got["solvent_mass"] == pytest.approx(11.95746 * 1.0003, rel=1e-4)
    assert got["solvent_reading"] < got["solvent_mass"]
    assert got["achieved"] == pytest.approx(1.0)
    assert got["complete"] is True
    assert sum(row["share"] for row in got["budget"]) == pytest.approx(1.0)
    assert {"name", "share", "u"} <= set(got["budget"][0])


def test_what_is_in_the_vessel_is_taken_off_and_too_much_of_it_is_said() -> None:
    given = ["solution", "--target", "1 mg/g", "--solid", "10 mg", "--purity", "1", "--in-vessel"]
    some, full = answer(*given, "4 g"), answer(*given, "20 g")
    assert some["solvent_reading"] == pytest.approx(5.99, abs=0.01)
    assert full["solvent_mass"] == 0
    assert full["achieved"] == pytest.approx(0.5, rel=0.01)
    assert "more solvent" in full["remarks"][0]
    assert full["missing"]


def test_a_dilution_names_the_best_route_and_why_another_cannot_be_made() -> None:
    got = answer(
        "dilution", "--from", "1 mg/g", "--to", "0.1 ug/g", "--vessel", "20 g", "--sd", "0.01 mg",
        "--minimum-weight", "20 mg", "--per-step", "5e-5",
    )  # fmt: skip
    assert got["best"] == 3
    assert got["routes"][2]["relative_uncertainty"] == pytest.approx(8.8416e-5, abs=1e-8)
    assert not got["routes"][0]["feasible"]
    assert "minimum weight" in got["routes"][0]["why_not"]
    assert got["routes"][1]["aliquots_mg"] == pytest.approx([200.0, 200.0])


def test_a_wrong_check_digit_is_an_answer_and_a_missing_one_is_computed() -> None:
    code, out, _ = run("cas", "64-68-8", "--format", "json")
    wrong = json.loads(out)
    assert (code, wrong["valid"], wrong["value"], wrong["check_digit"]) == (1, False, None, 6)
    code, out, _ = run("cas", "64-68-8")
    assert code == 1
    assert "INVALID: 64-68-8 ends in 8, its digits ask for the check digit 6" in out
    assert answer("cas", "64-17-5")["valid"] is True
    assert answer("cas", "107-07")["check_digit"] == 3


def test_nelsons_rules_come_by_number_name_and_place_and_take_negative_values() -> None:
    got = answer("chart", "-1.4", "-0.9", "-0.3", "0.2", "0.7", "1.1", "0.4")
    assert [(s["rule"], s["at"]) for s in got["signals"]] == [(3, 6)]
    assert "steadily" in got["signals"][0]["name"]


@pytest.mark.parametrize(
    "content",
    ["x\n" + "\n".join(TEN), "\n".join(TEN), "n;x\n" + "\n".join(f"1;{v.replace('.', ',')}" for v in TEN)],
)
def test_values_come_from_a_csv_file_or_standard_input(tmp_path: Path, content: str) -> None:
    file = tmp_path / "values.csv"
    file.write_text(content)
    column = ["--column", "x"] if content.startswith("n;") else []
    for got in (answer("uniformity", str(file), *column), answer("uniformity", "-", *column, stdin=content)):
        assert got["acceptance_value"] == pytest.approx(2.673, abs=0.002)


BAD = [
    ["water-density", "--celsius", "41"],
    ["water-density", "--celsius", "-0.1"],
    ["water-density", "--celsius", "nan"],
    ["water-density"],
    ["water-density", "--kelvin", "293"],
    ["air-density", "--celsius", "20", "--hpa", "500", "--humidity", "50"],
    ["air-density", "--celsius", "20", "--hpa", "1000", "--humidity", "101"],
    ["buoyancy", "--reading", "0 g", "--density", "1 g/mL"],
    ["buoyancy", "--reading", "-1 g", "--density", "1 g/mL"],
    ["buoyancy", "--reading", "10 mL", "--density", "1 g/mL"],
    ["buoyancy", "--reading", "10 Mg", "--density", "1 g/mL"],
    ["buoyancy", "--reading", "1e12 kg", "--density", "1 g/mL"],
    ["buoyancy", "--reading", "10 g", "--density", "0.001 g/mL"],
    ["molar-mass", "Nacl"],
    ["molar-mass", ""],
    ["salt-factor", "--weighed", "NaCl", "--wanted", "KCl"],
    ["purity", "--basis", "as-is", "--assay", "99", "--water", "3"],
    ["purity", "--basis", "anhydrous", "--assay", "99"],
    ["purity", "--basis", "dried", "--assay", "99", "--lod", "100"],
    ["purity", "--basis", "wet", "--assay", "99"],
    ["purity", "--basis", "as-is", "--assay", "0"],
    ["cas", "64-17-55"],
    ["cas", "abc"],
    ["minimum-weight", "--readability", "0.1 mg", *["1"] * 9],
    ["minimum-weight", "--readability", "0 mg"],
    ["minimum-weight", "--readability", "0.1 mg", "--sd", "0.1 mg", *["1"] * 10],
    ["solution", "--target", "1 ppm", "--solid", "10 mg"],
    ["solution", "--target", "1 %", "--solid", "10 mg"],
    ["solution", "--target", "0 mg/g", "--solid", "10 mg"],
    ["solution", "--target", "1 mg/g", "--solid", "0 mg"],
    ["solution", "--target", "1 mg/g", "--solid", "10² mg"],
    ["solution", "--target", "1 mg/g", "--solid", "1.000,5 mg"],
    ["solution", "--target", "1 mg/g", "--solid", "10 mg", "--purity", "98.5"],
    ["solution", "--target", "1 mmol/L", "--solid", "10 mg"],
    ["solution", "--target", "0.99 g/g", "--solid", "10 mg", "--purity", "0.5"],
    ["solution", "--target", "1 mg/g", "--solid", "10 mg", "--solvent", "brine"],
    ["dilution", "--from", "1 ug/g", "--to", "1 mg/g", "--vessel", "20 g", "--sd", "0.01 mg"],
    ["dilution", "--from", "1 mg/g", "--to", "1 mg/L", "--vessel", "20 g", "--sd", "0.01 mg"],
    ["dilution", "--from", "1 mg/g", "--to", "1 ug/g", "--vessel", "20 g", "--sd", "0 mg"],
    [
        "dilution",
        "--from",
        "1 mg/g",
        "--to",
        "1 ug/g",
        "--vessel",
        "20 g",
        "--sd",
        "1 ug",
        "--max-steps",
        "7",
    ],
    ["convert", "5 %", "--to", "mg/g"],
    ["convert", "0.1 g/g", "--to", "mol/L"],
    ["convert", "1 g", "--to", "mL"],
    ["convert", "2 g/g", "--to", "mg/g", "--extra"],
    ["uniformity", "1", "2", "3"],
    ["uniformity", "no-such-file.csv"],
    ["chart", "1", "2"],
    ["chart", "1", "2", "x"],
    ["nosuch"],
]


@pytest.mark.parametrize("words", BAD, ids=" ".join)
def test_bad_input_is_one_sentence_and_exit_2(words: list[str]) -> None:
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    sentence = err.rstrip("\n").split("\n")
    # A formula has its caret on two lines of its own below the sentence.
    assert len(sentence) in ((3,) if words == ["molar-mass", "Nacl"] else (1,))
    assert sentence[0].endswith(".")
    assert "Traceback" not in err


def test_csv_has_a_header_and_one_row_and_runs_nothing() -> None:
    code, out, _ = run("molar-mass", "NaCl", "--format", "csv")
    (row,) = csv.DictReader(io.StringIO(out))
    assert code == 0
    assert float(row["value"]) == pytest.approx(58.44)
    assert row["formula"] == "Cl Na"


def test_a_table_for_people_has_no_exponents_in_its_results() -> None:
    _, out, _ = run("salt-factor", "--weighed", "NaCl", "--wanted", "Na")
    assert "e-" not in out.split("source")[0]


def test_a_sum_loads_neither_textual_nor_rich_nor_pint_nor_a_database() -> None:
    code = (
        "import sys\nfrom tui.__main__ import main\n"
        "main(['calc', 'convert', '1 mg', '--to', 'g', '--format', 'json'], standalone_mode=False)\n"
        "heavy = {'textual', 'rich', 'pint', 'sqlite3', 'sqlite_utils', 'uncertainties', 'molmass'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_dilution_from_vessels_at_hand_gives_the_best_of_each_and_the_glassware_beside() -> None:
    got = answer(
        "dilution", "--from", "1 mg/g", "--to", "0.1 ug/g", "--vessel", "20 g", "--vessel", "20 g",
        "--vessel", "5 g", "--sd", "0.01 mg", "--minimum-weight", "20 mg", "--amount", "4 g",
        "--wanted", "5e-4", "--glassware",
    )  # fmt: skip
    rows = {row["route"]: row for row in got["routes"]}
    lean = rows[got["best_by_waste"]]
    assert lean["relative_uncertainty"] == pytest.approx(5e-4, rel=1e-3)
    assert lean["analyte_mg"] == pytest.approx(lean["stock_used_mg"] / 1000)
    assert rows[got["best_by_openings"]]["steps"] == 2
    assert set(got["unbeaten"]) >= {got["best_by_uncertainty"], got["best_by_waste"], got["best_by_openings"]}
    assert len(lean["by_volume"]) == lean["steps"]
    assert "ISO 648" in got["source"]


def test_a_solution_says_the_least_solid_that_is_sure_enough() -> None:
    got = answer(
        "solution", "--target", "1 mg/g", "--solid", "30 mg", "--sd", "0.01 mg", "--readability", "0.01 mg",
        "--purity", "0.99", "--purity-u", "0.001", "--wanted", "0.005", "--minimum-weight", "1 mg",
    )  # fmt: skip
    assert 1.0 < got["least_solid"] < 30.0
    assert got["least_solid_decided_by"] == "uncertainty"
    assert got["least_solid_u_rel"] == pytest.approx(0.005, rel=1e-3)
