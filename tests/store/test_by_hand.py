"""A printed result is enough: somebody with a hand calculator gets the same number from the page alone."""

import math
import re
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from store import events as ev
from store.actions.closing import written
from store.calc.budget import BalanceData, Content, Loss, SolutionInputs, of_solution
from store.model.prep import Plan
from store.queries import by_hand
from store.queries.page import page as page_of
from store.queries.results import ResultShown
from store.queries.results import result as shown_of
from store.record.record import Record
from tests import site
from tests.tui import desks
from tui.__main__ import main

GIVEN = SolutionInputs(
    unit="mg/g",
    solid_start_mg=0.0,
    solid_end_mg=12.34,
    solvent_start_mg=0.0,
    solvent_end_mg=11950.0,
    balance=BalanceData(name="B-1", readability_mg=0.01, sd_mg=0.015, linearity_mg=0.02),
    content=Content(assay=0.992, u_assay=0.001),
    solid_density_kg_m3=2680.0,
    solvent_density_kg_m3=998.2,
    u_solvent_density_kg_m3=0.1,
)
WATER = Content(assay=0.992, u_assay=0.001, basis="anhydrous", water=0.035, u_water=0.001)
SALT = replace(WATER, weighed_formula="C10H15NO.HCl", wanted_formula="C10H15NO")
HYDRATE = Content(assay=0.995, u_assay=0.001, weighed_formula="CuSO4.5H2O", wanted_formula="Cu")

CASES: dict[str, SolutionInputs] = {
    "as is": GIVEN,
    "readings that do not begin at zero": replace(
        GIVEN, solid_start_mg=3.21, solid_end_mg=15.55, solvent_start_mg=20.0, solvent_end_mg=11970.0
    ),
    "anhydrous": replace(GIVEN, content=WATER),
    "base of a hydrochloride, anhydrous": replace(GIVEN, content=SALT),
    "metal of a hydrate, mmol/L": replace(GIVEN, content=HYDRATE, unit="mmol/L", solvent_is_water=True),
    "hydrate in water, mmol/kg": replace(GIVEN, content=HYDRATE, unit="mmol/kg", solvent_is_water=True),
    "moist in water, mmol/kg": replace(
        GIVEN, content=replace(SALT, wanted_formula=""), unit="mmol/kg", solvent_is_water=True
    ),
    "mg/mL with a measured density": replace(
        GIVEN, unit="mg/mL", solution_density_g_ml=1.0123, u_solution_density_g_ml=0.0002
    ),
    "evaporation": replace(
        GIVEN, solvent_first=True, loss_before=Loss.up_to(6.0), loss_after=Loss.up_to(4.0)
    ),
    "adjusted in air, used in argon": replace(
        GIVEN, air_kg_m3=1.66, balance=replace(GIVEN.balance, adjustment_air_kg_m3=1.199)
    ),
    "no density of the solid": replace(GIVEN, solid_density_kg_m3=None),
}


def _written(given: SolutionInputs) -> ResultShown:
    """As the journal keeps it: every number as text."""
    found = of_solution(given)
    body: dict[str, Any] = {
        **written(asdict(found)),
        "inputs": written(asdict(given)),
    }
    event = ev.PrepClosed(prep="P-7F3A-0001", result=body, lot={}, container={}, label="")
    entry = ev.Entry(entry=1, at="", offset="", terminal="", person="", subject="", event=event, digest="")
    return shown_of(entry, event)


def calculated(formula: str) -> float:
    """What a hand calculator gives: names in brackets and units are no part of a sum."""
    text = re.sub(r"\([^()]*[A-Za-z][^()]*\)", "", formula)
    text = re.sub(r"\s*(mg/g|g/mL|g/mol|g/g|mol/kg|mol/L|g/L)", "", text)
    text = text.replace("×", "*").replace("−", "-")
    assert re.fullmatch(r"[0-9eE.+\-*/() ]+", text), text
    return float(eval(text))


@pytest.mark.parametrize("name", CASES)
def test_each_line_gives_what_it_says_and_the_last_is_the_result(name: str) -> None:
    result = _written(CASES[name])
    lines = {s.what: s for s in by_hand.sums(result)}
    for line in lines.values():
        if not line.what.endswith(("u", "U")):
            assert calculated(line.formula) == pytest.approx(line.gives, rel=2e-8), line
    assert lines["result"].gives == pytest.approx(float(result.value), rel=1e-9)
    assert lines["result"].unit == result.unit
    assert lines["standard uncertainty u"].gives == pytest.approx(float(result.u), rel=1e-9)


def test_every_factor_stands_by_its_name() -> None:
    lines = {s.what: s.formula for s in by_hand.sums(_written(CASES["base of a hydrochloride, anhydrous"]))}
    content = lines["content of the solid"]
    assert "0.992 (assay: certificate, anhydrous basis) × 0.965 (water: 1 − W) × " in content
    assert "(molar masses: 1 × C10H15NO per C10H15NO.HCl)" in content


def test_the_densities_that_a_sum_took_stand_in_it() -> None:
    lines = {s.what: s.formula for s in by_hand.sums(_written(CASES["adjusted in air, used in argon"]))}
    assert "(1 − 1.199/8000) / (1 − 1.66/2680)" in lines["true mass of the solid"]
    assumed = {s.what: s.formula for s in by_hand.sums(_written(CASES["no density of the solid"]))}
    assert "(1 − 1.2/2000)" in assumed["true mass of the solid"]


# ---- from the printed page ----

PLAN = replace(site.PLAN, stated_as="Cr", target="0.350 mg/g")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path, clock = tmp_path / "r.tarebook", site.TestClock()
    with site.begin(path, clock) as record:
        lot: dict[str, Any] = next(r for name, r in site.ROWS if name == "lot" and r["id"] == "KD-2")
        site.put(record, "lot", {
            **lot, "basis": "anhydrous", "water": "0.40", "water_u": "U 0.05 k 2",
            "assay_formula": "K2Cr2O7",
        })  # fmt: skip
        _play(record, clock, PLAN)
    monkeypatch.setenv("TAREBOOK_RECORD", str(path))
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    return path


def _play(record: Record, clock: site.TestClock, plan: Plan) -> None:
    from random import Random

    from tui.guide.player import Player

    guide = site.guide(record, site.planned(record, plan), clock)
    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play()


def _table(page: str, title: str) -> list[list[str]]:
    lines = page.split(f"\n{title}\n", 1)[1].split("\n\n", 1)[0].splitlines()
    return [re.split(r"\s{2,}", line.strip()) for line in lines[1:] if line.startswith("  ")]


def test_the_result_follows_from_the_printed_page_alone(place: Path) -> None:
    page = CliRunner().invoke(main, ["show", "P-7F3A-0001", "--budget"]).output
    sums = {what: (formula, float(gives.split()[0])) for what, formula, gives in _table(page, "sums")}
    doses = {row[3]: row[5] for row in _table(page, "doses, as the display showed them")}

    def unit_of(what: str) -> float:
        return calculated(sums[f"true mass of the {what}"][0])

    for what in ("solid", "solvent"):
        formula, gives = sums[f"true mass of the {what}"]
        assert calculated(formula.split(" × ")[0]) == pytest.approx(float(doses[what].split()[0]) / 1000)
        assert unit_of(what) == pytest.approx(gives, rel=1e-7)
    content = calculated(sums["content of the solid"][0])
    w = unit_of("solid") * content / (unit_of("solid") + unit_of("solvent"))
    written = re.search(r"value as written (\S+) mg/g, u as written (\S+) mg/g", page)
    assert written is not None
    assert 1000 * w == pytest.approx(float(written[1]), rel=1e-7)
    rows = [r for r in _table(page, "budget: u² is the sum of the squared parts") if r[-1].endswith("%")]
    parts = [float(row[-2]) for row in rows]
    assert math.hypot(*parts) == pytest.approx(float(written[2]), rel=1e-5)
    assert sum(float(row[-1].rstrip("% ")) for row in rows) == pytest.approx(100.0, abs=0.1)


def test_the_plan_of_the_page_carries_the_chain_of_factors(place: Path) -> None:
    page = CliRunner().invoke(main, ["show", "P-7F3A-0001"]).output
    line = next(x for x in page.splitlines() if x.startswith("content "))
    assert calculated(line.removeprefix("content ")) == pytest.approx(
        0.999 * 0.996 * 2 * 51.9961 / 294.1818, rel=1e-6
    )
    assert all(name in line for name in ("assay", "water", "molar masses: 2 × Cr per K2Cr2O7"))
    with Record.open(place, now=site.TestClock(), terminal="7F3A", write=False) as record:
        assert [f["name"] for f in record.prep_state("P-7F3A-0001").aims["factors"]] == [
            "assay", "water", "molar masses",
        ]  # fmt: skip


def test_a_story_without_inputs_still_shows_its_sums(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)

    result = page_of(desk.record, "P-7F3A-0001").result
    assert result is not None
    old = replace(result, inputs={}, factors=())
    before = {s.what: s for s in by_hand.sums(old)}
    now = {s.what: s for s in by_hand.sums(result)}
    assert before["true mass of the solid"] == now["true mass of the solid"]
    assert before["result"].gives == pytest.approx(float(result.value), rel=1e-9)
