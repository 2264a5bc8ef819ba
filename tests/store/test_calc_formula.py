"""Formulae: read as a chemist reads them, or refused with a caret under the place."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from store.calc.elements import ATOMIC_WEIGHTS
from store.calc.molar import count_in, formula, salt_factor
from store.errors import BadFormula


@pytest.mark.parametrize(
    ("text", "hill", "water"),
    [("H2O", "H2 O", 0), ("CuSO4.5H2O", "Cu H10 O9 S", 5), ("CuSO4·5H2O", "Cu H10 O9 S", 5),
     ("CuSO4*5H2O", "Cu H10 O9 S", 5), ("CdCl2.2.5H2O", "Cd Cl2 H5 O2.5", 2.5),
     ("CaSO4.0.5H2O", "Ca H O4.5 S", 0.5), ("C2H2O4.2H2O", "C2 H6 O6", 2), ("C₆H₆", "C6 H6", 0),
     ("(C17H23NO3)2.H2SO4.H2O", "C34 H50 N2 O11 S", 1), ("CO", "C O", 0), ("Co", "Co", 0),
     ("[Co(NH3)6]Cl3", "Cl3 Co H18 N6", 0), ("C27H29NO11.HCl", "C27 H30 Cl N O11", 0), ("D2O", "D2 O", 0)],
)  # fmt: skip
def test_a_formula_is_understood_and_says_how(text: str, hill: str, water: float) -> None:
    read = formula(text)
    assert read.hill == hill
    assert read.crystal_water == water


@pytest.mark.parametrize(
    ("text", "at"),
    [("H2O 2", 3), ("Na+", 2), ("Nacl", 2), ("NACL", 1), ("(H2O", 0), ("H2O)", 3), ("[H2O)", 4),
     ("2H2O", 0), ("H0", 1), ("H01", 1), ("TcO4", 0), ("H2O.", 3), ("CuSO4..5H2O", 6), ("Хe", 0),
     ("CuSO4,5H2O", 5), ("H1.5", 3), ("EtOH", 0), ("Ph3P", 0), ("H²O", 1), ("()", 1), ("Fe(CN.H2O)2", 5)],
)  # fmt: skip
def test_what_is_no_formula_is_refused_with_a_caret_under_the_place(text: str, at: int) -> None:
    with pytest.raises(BadFormula) as refused:
        formula(text)
    sentence, shown, caret = str(refused.value).split("\n")
    assert shown == text
    assert caret.index("^") == at
    assert sentence.endswith(".")


@pytest.mark.parametrize("text", ["", "  ", "H" * 201, "C999999", "(((((C9999)9999)9999)9999)9999)9999"])
def test_empty_and_absurd_formulae_are_refused(text: str) -> None:
    with pytest.raises(BadFormula):
        formula(text)


SEEDED = settings(derandomize=True, deadline=None, max_examples=300)
ATOMS = st.dictionaries(st.sampled_from(sorted(ATOMIC_WEIGHTS)), st.integers(1, 40), min_size=1, max_size=6)


@SEEDED
@given(ATOMS, st.integers(1, 9), st.sampled_from(["()", "[]", "{}"]))
def test_a_formula_that_was_written_from_atoms_is_read_back_as_those_atoms(
    atoms: dict[str, int], times: int, brackets: str
) -> None:
    text = "".join(f"{s}{n if n > 1 else ''}" for s, n in atoms.items())
    grouped = f"{brackets[0]}{text}{brackets[1]}{times if times > 1 else ''}"
    assert dict(formula(grouped).atoms) == {s: n * times for s, n in atoms.items()}
    hydrate = dict(formula(f"{text}.{times}H2O" if times > 1 else f"{text}.H2O").atoms)
    assert hydrate["H"] == atoms.get("H", 0) + 2 * times


@SEEDED
@given(st.text("CHNaclO0123456789.()[]·+- ", max_size=12))
def test_any_text_is_refused_or_has_a_molar_mass(text: str) -> None:
    try:
        read = formula(text)
    except BadFormula:
        return
    assert read.molar_mass_g_mol > 0
    assert read.u_molar_mass_g_mol > 0


@pytest.mark.parametrize(
    ("weighed", "wanted", "count"),
    [("K2Cr2O7", "Cr", 2), ("(C17H23NO3)2.H2SO4.H2O", "C17H23NO3", 2), ("C27H29NO11.HCl", "C27H29NO11", 1),
     ("C7H5NaO2", "C7H6O2", 1), ("(C7H5O2)2Ca", "C7H6O2", 2), ("CuSO4.5H2O", "CuSO4", 1),
     ("CuSO4.5H2O", "H2O", 5), ("C10H14N2.(C4H6O6)2.2H2O", "C10H14N2", 1), ("(NH4)2SO4", "N", 2)],
)  # fmt: skip
def test_as_many_of_the_wanted_form_are_counted_as_the_form_weighed_holds(
    weighed: str, wanted: str, count: int
) -> None:
    assert count_in(formula(weighed), formula(wanted)) == count
    value, _ = salt_factor(weighed=formula(weighed), wanted=formula(wanted))
    masses = formula(wanted).molar_mass_g_mol / formula(weighed).molar_mass_g_mol
    assert value == pytest.approx(count * masses)


def test_a_part_of_the_wanted_form_is_not_guessed_but_may_be_given() -> None:
    phosphate, oxide = formula("KH2PO4"), formula("P2O5")
    with pytest.raises(BadFormula, match="a part of it is never"):
        salt_factor(weighed=phosphate, wanted=oxide)
    assert salt_factor(weighed=phosphate, wanted=oxide, count=0.5)[0] == pytest.approx(0.5215, abs=1e-4)


def test_a_salt_factor_that_needs_more_atoms_than_there_are_is_refused() -> None:
    atropine, salt = formula("C17H23NO3"), formula("(C17H23NO3)2.H2SO4.H2O")
    assert salt_factor(weighed=salt, wanted=atropine, count=2)[0] < 1
    with pytest.raises(BadFormula, match="check formulae and count"):
        salt_factor(weighed=salt, wanted=atropine, count=3)
