import csv
import io
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from store import events as ev
from store.calc.budget import BalanceData, Content, SolutionInputs, of_solution
from store.queries import by_hand
from store.queries.page import page as page_of
from tests import site
from tests.store.asked_story import Story, begin
from tui.__main__ import main


@pytest.fixture
def told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Story]:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    story = begin(tmp_path)
    yield story
    story.record.close()


def run(told: Story, *words: str) -> Result:
    return CliRunner().invoke(main, ["--record", str(told.record.path), *words])


def data(told: Story, *words: str) -> Any:
    result = run(told, *words, "--format", "json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


GIVEN = SolutionInputs(
    unit="mg/g", solid_start_mg=0.0, solid_end_mg=10.13, solvent_start_mg=0.0, solvent_end_mg=9870.0,
    balance=BalanceData(name="B-2", readability_mg=0.01, sd_mg=0.012, linearity_mg=0.03),
    content=Content(assay=0.995, u_assay=0.001), solvent_density_kg_m3=998.2, u_solvent_density_kg_m3=0.1,
    solid_density_kg_m3=2680.0, u_solid_density_kg_m3=50.0, molar_mass_g_mol=294.18, u_molar_mass_g_mol=0.01,
    solution_density_g_ml=0.9985, u_solution_density_g_ml=0.0002, temperature_c=20.0,
)  # fmt: skip


def closed_with(told: Story, given: SolutionInputs) -> str:
    """Close a prep with a real result of the sums, its numbers as text as an action writes them."""
    prep, _ = told.whole()

    def text(value: Any) -> Any:
        if isinstance(value, dict):
            return {k: text(v) for k, v in value.items()}
        if isinstance(value, tuple | list):
            return [text(v) for v in value]
        return repr(value) if isinstance(value, float) else value

    result = text(asdict(of_solution(given)))
    told.put(ev.PrepClosed(prep=prep, result=result, lot={}, container={}, label=""))
    return prep


@pytest.mark.parametrize("unit", ["mg/g", "ug/g", "mg/mL", "g/L", "mmol/L", "umol/L", "mmol/kg"])
def test_a_hand_calculator_gets_the_number_from_what_the_budget_prints(told: Story, unit: str) -> None:
    prep = closed_with(told, replace(GIVEN, unit=unit))
    want = of_solution(replace(GIVEN, unit=unit))
    text = run(told, "show", prep, "--budget").stdout

    sums = dict(re.findall(r"^  (\S[^\n]*?)  +(\S[^\n]*?)  +[-0-9.]+ \S+$", text, re.M))

    def by_calculator(formula: str) -> float:
        plain = re.sub(r"(g/mL|g/mol|g/g)", "", formula).replace("×", "*").replace("−", "-")
        assert re.fullmatch(r"[0-9.()+*/ -]+", plain), plain
        return float(eval(plain))

    assert by_calculator(sums["result"]) == pytest.approx(want.value, rel=1e-7)
    assert by_calculator(sums["true mass of the solid"]) == pytest.approx(want.solid_mass_g, rel=1e-8)
    assert by_calculator(sums["true mass of the solvent"]) == pytest.approx(want.solvent_mass_g, rel=1e-8)
    parts = re.findall(r"^  \S.*  ([-0-9.]+)  +[0-9.]+ %$", text, re.M)
    assert len(parts) == len(want.components)
    assert sum(float(p) ** 2 for p in parts) ** 0.5 == pytest.approx(want.u, rel=1e-5)
    assert by_calculator(sums["expanded uncertainty U"]) == pytest.approx(want.U, rel=1e-7)


def test_where_the_masses_carry_a_loss_the_sum_says_so_and_still_gives_the_result(told: Story) -> None:
    from store.calc.budget import Loss

    given = replace(GIVEN, loss_after=Loss.up_to(6.0))
    prep = closed_with(told, given)
    result = page_of(told.record, prep).result
    assert result is not None
    lines = {s.what: s for s in by_hand.sums(result)}
    assert lines["true mass of the solvent"].formula == "as computed, see the remarks"
    assert lines["result"].gives == pytest.approx(of_solution(given).value, rel=1e-9)


def test_a_result_without_figures_gives_no_sums_and_no_error(told: Story) -> None:
    prep, _ = told.whole()
    told.put(ev.PrepClosed(prep=prep, result={}, lot={}, container={}, label=""))
    result = page_of(told.record, prep).result
    assert result is not None
    assert by_hand.sums(result) == ()
    assert "no value was written" in run(told, "show", prep, "--budget").stdout


def test_the_page_shows_every_dose_as_shown_and_what_became_of_it(told: Story) -> None:
    prep = told.plan()
    handling, dose = told.weigh(prep, "12.50")
    told.note(prep, handling, present=("op-1", "op-2"), unusual="a grain on the pan")
    told.put(
        ev.Corrected(
            prep=prep, entry=dose, shown="12.05 mg", net_mg="12.05", total_mg="12.05", reason="misread"
        )
    )
    text = run(told, "show", prep).stdout
    for said in (
        "12.05 mg", "12.50 mg", "misread", "corrected", "UNUSUAL: a grain on the pan", "op-1, op-2",
        "step     1 of 4: check_balance", "Danger H350 H334", "lot KD-2, container KD-2-1",
    ):  # fmt: skip
        assert said in text, said


def test_the_page_can_show_its_cautions_and_its_journal(told: Story) -> None:
    prep = told.plan()
    text = "One container open at a time."
    told.put(ev.TextKept(digest="ab" * 32, text=text, what="caution page"))
    told.put(ev.Acknowledged(prep=prep, step=0, digest="ab" * 32))
    assert text not in run(told, "show", prep).stdout
    assert f"| {text}" in run(told, "show", prep, "--cautions").stdout
    shown = run(told, "show", prep, "--log").stdout
    for entry in told.record.entries(subject=f"prep:{prep}"):
        assert entry.digest[:16] in shown


def test_json_carries_the_whole_page(told: Story) -> None:
    prep = closed_with(told, GIVEN)
    page = data(told, "show", prep)
    assert page["doses"][0]["shown"] == "10.00 mg"
    assert len(page["results"]) == 2
    assert page["results"][1]["budget"][0]["name"]
    assert page["head"] == page_of(told.record, prep).head
    assert page["by_hand"][-1]["what"] == "expanded uncertainty U"


def test_exposures_are_filtered_as_asked_and_named_in_any_manner(told: Story) -> None:
    told.whole(by="op-1")
    told.whole(by="op-2")
    assert len(data(told, "exposures")) == 6
    assert {r["person"] for r in data(told, "exposures", "--person", "op-2")} == {"op-2"}
    for words in (
        ("--substance", "k2cr2o7"), ("--substance", "Potassium Dichromate"), ("--substance", "7778-50-9"),
        ("--family", "CMR_1"), ("--family", "cmr 1"), ("--family", "cancer, genes, fertility, birth"),
        ("--lot", "KD-2"), ("--since", "2026-03"), ("--until", "2026"),
    ):  # fmt: skip
        assert len(data(told, "exposures", *words)) == 6, words
    assert data(told, "exposures", "--family", "pyrophoric") == []
    assert data(told, "exposures", "--since", "2026-04") == []
    assert len(data(told, "exposures", "--limit", "4")) == 4


def test_programs_get_every_row_and_a_table_says_when_it_is_cut(
    told: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    from tui.cli import questions

    monkeypatch.setattr(questions, "SHOWN", 2)
    told.whole()
    assert len(data(told, "exposures")) == 3
    text = run(told, "exposures").stdout
    assert "3 handlings, open 1:30 min:s" in text
    assert "The newest 2 are shown" in text
    assert "no measurement of exposure" in " ".join(text.split())


def test_incidents_show_also_what_happened_outside_a_prep(told: Story) -> None:
    told.put(ev.IncidentNoted(prep="", what="alarm", note="pressure", present=("op-2",)), by="op-2")
    (row,) = data(told, "exposures", "--incidents")
    assert (row["what"], row["present"], row["prep"]) == ("alarm", ["op-2"], "")
    assert data(told, "exposures", "--incidents", "--person", "op-1") == []


def test_totals_are_given_by_any_key(told: Story) -> None:
    told.whole()
    (week,) = data(told, "exposures", "--by", "week")
    assert (week["key"], week["handlings"], week["open_s"]) == ("2026-W10", 3, 90.0)
    assert "2026-W10" in run(told, "exposures", "--by", "week").stdout


def test_csv_has_a_header_also_without_rows(told: Story) -> None:
    for words in (("exposures",), ("preps",), ("exposures", "--incidents"), ("exposures", "--by", "day")):
        result = run(told, *words, "--format", "csv")
        assert result.exit_code == 0
        (header,) = csv.reader(io.StringIO(result.stdout))
        assert len(header) > 5


def test_preps_are_listed_with_result_and_uncertainty(told: Story) -> None:
    prep, lot = told.whole()
    text = run(told, "preps", "--substance", "potassium dichromate").stdout
    assert re.search(
        rf"{prep}  2026-03-02  op-1  closed  K2CR2O7 .*1\.0003 mg/g  0\.60 % .*B-2 +1:30  {lot}", text
    )
    assert [p["prep"] for p in data(told, "preps", "--status", "done")] == [prep]
    assert data(told, "preps", "--status", "open") == []


def test_due_and_trace_answer_in_every_form(told: Story) -> None:
    _, lot = told.whole()
    child, _ = told.whole(lot=lot, content="aliquot")
    assert {d["group"] for d in data(told, "due")} >= {"review", "sheets"}
    assert "2 owed" not in run(told, "due").stdout
    found = data(told, "trace", "KD-2")
    assert [d["prep"] for d in found["down"]][-1] == child
    text = run(told, "trace", "KD-2").stdout
    assert ". S-7F3A-0001" in text
    rows = list(csv.DictReader(io.StringIO(run(told, "trace", lot, "--format", "csv").stdout)))
    assert [r["direction"] for r in rows] == ["up", "up", "down"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("exposures", "--person", "op-9"), "There is no person 'op-9'"),
        (("exposures", "--substance", "dichromat"), "There is no substance 'dichromat'"),
        (("exposures", "--family", "CMR_9"), "no hazard family"),
        (("exposures", "--lot", "KD-9"), "There is no lot 'KD-9'"),
        (("exposures", "--since", "March"), "write a day as 2026-03-02"),
        (("exposures", "--by", "colour"), "add up by all, day"),
        (("preps", "--status", "finished"), "no status of a prep"),
        (("preps", "--sort", "colour"), "sort by newest"),
        (("show", "P-0000-0001"), "There is no prep 'P-0000-0001'"),
        (("trace", "KD-22"), "near it: KD-2"),
    ],
)
def test_what_cannot_be_answered_is_one_sentence_and_exit_2(
    told: Story, words: tuple[str, ...], said: str
) -> None:
    result = run(told, *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stdout == ""


def test_outside_text_cannot_speak_to_the_terminal(told: Story) -> None:
    prep = told.plan()
    handling, _ = told.weigh(prep)
    told.note(prep, handling, unusual="\x1b]0;x\x07 [red]loud[/red]")
    for words in (("show", prep), ("show", prep, "--log"), ("exposures",), ("exposures", "--incidents")):
        text = run(told, *words).stdout
        assert "\x1b" not in text
        assert "\x07" not in text
        assert "[red]loud[/red]" in text


def test_a_question_imports_no_screen_no_units_library_and_no_maker_of_tables(told: Story) -> None:
    told.whole()
    code = (
        "import sys; from tui.__main__ import main\n"
        "heavy = {'textual', 'rich', 'pint', 'uncertainties', 'molmass', 'sqlite_utils'}\n"
        "try: main()\n"
        "finally: print(sorted(heavy & set(sys.modules)))"
    )
    for words in (
        ("exposures",),
        ("preps",),
        ("due",),
        ("trace", "KD-2"),
        ("show", "P-7F3A-0001", "--budget"),
    ):
        done = subprocess.run(
            [sys.executable, "-c", code, "--record", str(told.record.path), *words],
            capture_output=True,
            text=True,
            env={**os.environ, "TAREBOOK_TERMINAL": "7F3A"},
            check=False,
        )
        assert done.returncode == 0, done.stderr
        assert done.stdout.splitlines()[-1] == "[]", words


def test_planned_preps_that_one_opening_would_serve_are_named(tmp_path: Path) -> None:
    with site.begin(tmp_path / "r.tarebook", site.TestClock()) as record:
        prep, other = site.planned(record), site.planned(record)
    result = CliRunner().invoke(main, ["--record", str(tmp_path / "r.tarebook"), "merge", "--format", "json"])
    assert result.exit_code == 0, result.output
    (row,) = json.loads(result.stdout)
    assert row["preps"] == [prep, other]
    assert row["openings_saved"] == 1
    far = CliRunner().invoke(main, ["--record", str(tmp_path / "r.tarebook"), "merge", "--days", "9999"])
    assert "may be used until 2027-12-31 only" in far.output
