"""Statement texts against an open LaTeX package with the CLP wording of 2008 (Debian texlive-science).

The file is not part of this project. The check runs where the package is installed, or where the environment
variable TAREBOOK_GHSYSTEM names its `ghsystem_english.def`.
"""

import os
import re
from pathlib import Path

import pytest

from store.hazards import catalogue

INSTALLED = "/usr/share/texlive/texmf-dist/tex/latex/ghsystem/language/ghsystem_english.def"
FILE = Path(os.environ.get("TAREBOOK_GHSYSTEM", INSTALLED))
pytestmark = pytest.mark.skipif(
    not FILE.is_file(), reason="texlive-science is not installed, so its ghsystem texts are not at hand"
)

REWORDED = {
    "P103",
    "P210",
    "P220",
    "P223",
    "P231",
    "P234",
    "P240",
    "P242",
    "P243",
    "P244",
    "P251",
    "P263",
    "P280",
    "P282",
    "P283",
    "P284",
    "P231+P232",
    "P310",
    "P311",
    "P312",
    "P331",
    "P334",
    "P340",
    "P352",
    "P353",
    "P361",
    "P362",
    "P372",
    "P378",
    "P381",
    "P301+P310",
    "P301+P312",
    "P301+P330+P331",
    "P302+P334",
    "P302+P352",
    "P303+P361+P353",
    "P304+P340",
    "P342+P311",
    "P370+P378",
    "P401",
    "P406",
    "P407",
    "P411",
    "P412",
    "P413",
    "P420",
    "P410+P412",
}
"""Worded anew by later adaptations of CLP, misspelt in the package, or set there with units."""


def braced(text: str, start: int) -> tuple[str, int]:
    """The content of the brace that opens at or after `start`, and where it ends."""
    opened = text.index("{", start)
    depth = 0
    for place in range(opened, len(text)):
        depth += {"{": 1, "}": -1}.get(text[place], 0)
        if depth == 0:
            return text[opened + 1 : place], place + 1
    raise AssertionError("a brace stays open")


def published() -> dict[str, str]:
    """Every statement of the package by its code."""
    text = re.sub(r"(?<!\\)%.*", "", FILE.read_text(encoding="utf-8"))
    found = {}
    for start in re.finditer(r"\\ghsystem_add_statement:nnn", text):
        letter, place = braced(text, start.end())
        numbers, place = braced(text, place)
        wording, _ = braced(text, place)
        found["+".join(letter.strip() + number.strip() for number in numbers.split("+"))] = wording
    return found


def letters(text: str) -> str:
    """Letters and digits only: macros, signs and case set aside."""
    text = re.sub(r"\\bool_if:NF\s*\\l_ghsystem_organs_bool\s*\{([^}]*)\}", r"\1", text)
    text = text.replace(r"\ghsystem_substance:", "name of sensitising substance")
    text = re.sub(r"\\(ghsystem_[a-z]+:n?|c_space_tl|l_ghsystem_dots_tl|iupac)", " ", text)
    return re.sub(r"[^a-z0-9]", "", text.replace("~", " ").lower())


def test_every_hazard_statement_that_the_package_has_reads_the_same() -> None:
    other = published()
    shared = [code for code in catalogue.statements() if code in other]
    assert len(shared) >= 84
    assert [c for c in shared if letters(other[c]) != letters(catalogue.statement(c).text)] == []


def test_every_precaution_reads_the_same_or_is_known_to_have_been_worded_anew() -> None:
    other = published()
    shared = [code for code in catalogue.precautions() if code in other]
    assert len(shared) >= 110
    differing = {c for c in shared if letters(other[c]) != letters(catalogue.precaution(c).text)}
    assert differing == REWORDED & set(shared)
