"""Forms that a result may be stated as, by name: without crystal water, the base of a salt, an element."""

import re
from dataclasses import dataclass

from store.calc.molar import count_in, formula
from store.errors import BadFormula

_PART = re.compile(r"((?:[0-9]+(?:[.,][0-9]+)?(?=[A-Z(\[{]))?)([^.·•∙⋅*]+)")
"""A part between dots: how many of it, and its formula."""
_ALONE = re.compile(r"[(\[{]([^()\[\]{}]+)[)\]}][0-9]*")
_COMMON = ("C", "H", "D", "O", "N")
"""Elements of nearly every substance: no one states a strength as them."""


@dataclass(frozen=True, slots=True)
class Form:
    """A form that a result may be stated as."""

    formula: str
    words: str


def named(weighed: str) -> tuple[Form, ...]:
    """Give the forms that the form weighed holds, each with words for it; the form weighed itself first.

    >>> [(f.formula, f.words) for f in named("CdCl2.2.5H2O")][:3]
    [('CdCl2.2.5H2O', 'as it is'), ('CdCl2', 'without water'), ('Cd', 'the element')]
    >>> [f.words for f in named("C17H21NO4.HCl")]
    ['as it is', 'base or acid of the salt', 'the element']

    Raises
    ------
    BadFormula
        It is no formula.
    """
    whole = formula(weighed)
    found = [Form(whole.text, "as it is")]
    parts = _PART.findall(whole.text)
    dry = [f"{n}{part}" for n, part in parts if part != "H2O"]
    if len(dry) < len(parts):
        found.append(Form(".".join(dry), "without water"))
    if len(dry) > 1:
        several = _ALONE.fullmatch(dry[0])
        found.append(Form(several.group(1) if several else dry[0], "base or acid of the salt"))
    found += [Form(s, "the element") for s, _ in whole.atoms if s not in _COMMON and s != whole.text]
    return tuple(f for f in found if f.formula == whole.text or _holds(whole.text, f.formula))


def _holds(weighed: str, wanted: str) -> bool:
    try:
        return count_in(formula(weighed), formula(wanted)) >= 1
    except BadFormula:
        return False
