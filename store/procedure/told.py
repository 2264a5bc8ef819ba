"""What a checklist asks to be told, as a site writes it in a local rule."""

import re
from dataclasses import dataclass

from store.errors import BadInput

_NUMBER = re.compile(r"(?P<what>[^\[\]:]+?)\s*\[(?P<unit>[^\[\]]+)\]")
KEY = "rule:"
"""Begins the key of an act that a local rule asks for; such an act stands in no step."""
MOST = 8
"""Choices that one digit can choose among, with one to go back."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that a checklist asks: a number in a unit, one of a few, or whether it is done."""

    what: str
    unit: str = ""
    choices: tuple[str, ...] = ()


def item(text: str) -> Asked:
    """Read one entry of a checklist.

    Raises
    ------
    BadInput
        It is none of the three forms.

    Examples
    --------
    >>> item("pressure shown [Pa]")
    Asked(what='pressure shown', unit='Pa', choices=())
    >>> item("cleaning liquid: water / acetone").choices
    ('water', 'acetone')
    >>> item("lid bolted")
    Asked(what='lid bolted', unit='', choices=())
    """
    if found := _NUMBER.fullmatch(text.strip()):
        return Asked(found["what"].strip(), found["unit"].strip())
    what, sign, rest = text.partition(":")
    choices = tuple(part.strip() for part in rest.split("/") if part.strip())
    if "[" in text or not what.strip() or (sign and not 2 <= len(choices) <= MOST):
        raise BadInput(
            f"{text!r}: write `pressure shown [Pa]` for a number, `liquid: water / acetone` for a choice "
            f"of 2 to {MOST}, or what is to be done, such as `lid bolted`."
        )
    return Asked(what.strip(), choices=choices)
