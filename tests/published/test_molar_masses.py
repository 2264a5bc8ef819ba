"""Molar masses: IUPAC/CIAAW 2021, conventional values from memory; molmass as an independent check."""

from collections.abc import Callable
from typing import Any

import pytest

from store.calc.elements import ATOMIC_WEIGHTS, NO_WEIGHT
from store.calc.molar import formula, salt_factor
from tests.published.checks import Check, Sums, assert_reproduced, every_check, reproduces

SUMS: Sums = {
    id_: lambda i: formula(i["formula"]).molar_mass_g_mol for id_ in every_check() if id_.startswith("MOL")
}


@reproduces(SUMS)
def test_the_molar_mass_is_the_sum_of_the_conventional_weights(
    check: Check, value: Callable[[dict[str, Any]], Any]
) -> None:
    assert_reproduced(check, value)


def test_every_atomic_weight_agrees_with_a_library_within_its_own_limit() -> None:
    import molmass

    for symbol, (weight, limit) in ATOMIC_WEIGHTS.items():
        if symbol != "D":
            assert abs(molmass.ELEMENTS[symbol].mass - weight) <= limit, symbol


def test_every_element_up_to_uranium_has_a_weight_or_is_named_as_having_none() -> None:
    import molmass

    symbols = {e.symbol for e in molmass.ELEMENTS if e.number <= 94}
    assert symbols <= set(ATOMIC_WEIGHTS) | NO_WEIGHT
    assert not set(ATOMIC_WEIGHTS) & NO_WEIGHT


@pytest.mark.parametrize(
    ("ours", "grouped"),
    [
        ("CdCl2.2.5H2O", "(CdCl2)2(H2O)5"),
        ("C2H2O4.2H2O", "C2H2O4(H2O)2"),
        ("K4[Fe(CN)6].3H2O", "K4(Fe(CN)6)(H2O)3"),
        ("(NH4)2Fe(SO4)2·6H2O", "(NH4)2Fe(SO4)2(H2O)6"),
        ("C27H29NO11.HCl", "C27H29NO11HCl"),
    ],
)
def test_formulae_agree_with_a_library_that_is_given_them_grouped(ours: str, grouped: str) -> None:
    import molmass

    per = 2 if grouped.startswith("(CdCl2)2") else 1  # whole numbers only over there
    read = formula(ours)
    # Interval elements: the library takes isotopic means, up to 80e-6 away (S, Cl).
    limit = sum(n * ATOMIC_WEIGHTS[s][1] for s, n in read.atoms)
    assert abs(read.molar_mass_g_mol - molmass.Formula(grouped).mass / per) <= limit


def test_atoms_of_one_element_are_fully_correlated() -> None:
    # QUAM:2012 A2: the uncertainty of C8 is eight times that of C, not the root of eight times.
    carbon = formula("C").u_molar_mass_g_mol
    assert formula("C8").u_molar_mass_g_mol == pytest.approx(8 * carbon)


def test_a_salt_factor_carries_the_correlation_of_the_elements_that_both_forms_share() -> None:
    from uncertainties import ufloat

    weights = {s: ufloat(w, u / 3**0.5) for s, (w, u) in ATOMIC_WEIGHTS.items()}
    salt, base = formula("C27H29NO11.HCl"), formula("C27H29NO11")
    other = sum(n * weights[s] for s, n in base.atoms) / sum(n * weights[s] for s, n in salt.atoms)
    value, u = salt_factor(weighed=salt, wanted=base)
    assert value == pytest.approx(other.nominal_value, rel=1e-12)
    assert u == pytest.approx(other.std_dev, rel=1e-9)
