"""What a strength is stated as is chosen by name, kept with the lot, and never taken for another form."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from store.actions import planning
from store.calc import forms
from store.errors import BadFormula
from store.queries import registers
from store.record.record import Record
from tests import several, site
from tui.guide import drawing
from tui.guide.player import Player

CD = ("substance", {
    "id": "CDCL2-H", "name": "cadmium chloride hydrate", "cas": "7790-78-5", "formula": "CdCl2.2.5H2O",
    "density": "3.3 g/mL", "waste_stream": "heavy metals, aqueous", "classification": ["Carc. 1B H350"],
})  # fmt: skip
LOT = ("lot", {
    "id": "CD-7", "substance": "CDCL2-H", "assay": "99.92", "assay_u": "U 0.08 k 2", "basis": "anhydrous",
    "assay_formula": "CdCl2", "water": "19.80", "water_u": "U 0.12 k 2", "expiry": "2027-12-31",
})  # fmt: skip
PLAN = replace(site.PLAN, container="C-4", recipe="solution, solid first")
M_CD, M_CDCL2, M_HYDRATE = 112.414, 183.31, 228.35
"""g/mol, from the standard atomic weights (IUPAC/CIAAW); the waters of the hydrate counted in."""


@pytest.fixture
def record(tmp_path: Path, clock: site.TestClock) -> Iterator[Record]:
    with site.begin(tmp_path / "r.tarebook", clock) as made:
        several.begin(made)
        for register, row in (CD, LOT, ("container", {"id": "C-4", "lot": "CD-7", "content": "5 g"})):
            site.put(made, register, row)
        yield made


@pytest.mark.parametrize(
    ("weighed", "formulae"),
    [
        ("CdCl2.2.5H2O", ["CdCl2.2.5H2O", "CdCl2", "Cd", "Cl"]),
        ("Na2S2O3·5H2O", ["Na2S2O3·5H2O", "Na2S2O3", "Na", "S"]),
        ("(C17H23NO3)2.H2SO4.H2O", ["(C17H23NO3)2.H2SO4.H2O", "(C17H23NO3)2.H2SO4", "C17H23NO3", "S"]),
        ("C10H14N2", ["C10H14N2"]),
        ("Hg", ["Hg"]),
    ],
)
def test_the_forms_offered_are_those_that_the_form_weighed_holds(weighed: str, formulae: list[str]) -> None:
    assert [f.formula for f in forms.named(weighed)] == formulae


def test_forms_of_a_text_that_is_no_formula_are_refused() -> None:
    with pytest.raises(BadFormula):
        forms.named("water, of sorts")


@pytest.mark.parametrize(("stated_as", "molar"), [("Cd", M_CD), ("", M_CDCL2), ("CdCl2", M_CDCL2)])
def test_moles_are_moles_of_what_the_certificate_is_of_and_milligrams_of_what_is_wanted(
    record: Record, stated_as: str, molar: float
) -> None:
    moles = planning.explain(site.acting(record), replace(PLAN, target="5 mmol/kg", stated_as=stated_as))
    grams = planning.explain(
        site.acting(record), replace(PLAN, target=f"{molar * 0.005:.5f} mg/g", stated_as=stated_as)
    )
    content = 0.9992 * (1 - 0.1980)
    # One mole a kilogram of water and one a kilogram of solution differ by the solid itself.
    per_water = 10.0 * 0.005 * M_CDCL2 / content / (1 + 0.005 * M_CDCL2 / 1000.0)
    assert float(moles.aims["solid_mg"]) == pytest.approx(per_water, rel=5e-4)
    assert float(grams.aims["solid_mg"]) == pytest.approx(10.0 * 0.005 * M_CDCL2 / content, rel=5e-4)


@pytest.mark.parametrize(("stated_as", "form", "molar"), [("", "CdCl2", M_CDCL2), ("Cd", "Cd", M_CD)])
def test_a_lot_keeps_the_form_of_its_strength_and_a_dilution_to_moles_takes_it(
    record: Record, clock: site.TestClock, stated_as: str, form: str, molar: float
) -> None:
    prep = site.planned(record, replace(PLAN, stated_as=stated_as, target="1.000 mg/g", amount="15 g"))
    guide = site.guide(record, prep, clock)
    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play()
    state = record.prep_state(prep)
    assert state.lot["assay_formula"] == form
    assert drawing.title(state) == f"cadmium chloride hydrate, 1.000 mg/g as {form} in water"
    (container,) = [r.id for r in registers.rows(record, "container") if r.row["lot"] == state.lot["id"]]
    plan = several.series("50 umol/L")
    parts = tuple(replace(p, container=container) for p in plan.parts)
    found = planning.explain(site.acting(record), replace(plan, container=container, parts=parts))
    stock = float(str(state.lot["concentration"]).split()[0])  # mg/g
    expected_mg = 50e-6 * molar * (20.0 / 0.9982) / stock * 1000.0
    assert float(found.aims["aliquot_mg"]) == pytest.approx(expected_mg, rel=2e-3)
    assert abs(float(found.aims["aliquot_mg"]) / expected_mg * molar / M_HYDRATE - 1) > 0.1


def test_a_substance_stated_as_itself_is_called_by_its_name_alone(record: Record) -> None:
    same = planning.explain(site.acting(record), replace(site.PLAN, stated_as="K2Cr2O7"))
    assert same.aims["form"] == ""
    chromium = planning.explain(site.acting(record), replace(site.PLAN, stated_as="Cr"))
    assert chromium.aims["form"] == "Cr"


def test_a_form_that_the_substance_does_not_hold_is_refused(record: Record) -> None:
    with pytest.raises(BadFormula, match="does not hold a whole CdCl3"):
        planning.explain(site.acting(record), replace(PLAN, stated_as="CdCl3"))
