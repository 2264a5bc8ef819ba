"""What to do after a spill or contact, from the response statements of what is open."""

from collections.abc import Sequence
from dataclasses import dataclass

from store.hazards.classification import Classification
from store.hazards.data import tables
from store.hazards.statements import EDITION, precautions

KINDS = {"P37": "fire", "P38": "fire", "P39": "spill"}
"""What a response is about, by the first digits of its code; all others are first aid."""


@dataclass(frozen=True, slots=True)
class Response:
    """One response statement and the hazard statements that call for it."""

    code: str
    text: str
    kind: str
    """`first aid`, `fire` or `spill`."""
    because: tuple[str, ...]


def responses(
    classifications: Sequence[Classification], *, no_data: bool = False, edition: str = EDITION
) -> tuple[Response, ...]:
    """Give the response statements of all that is open, in the order of the card.

    The milder of two acts is left out beside the stronger. Without data every way in is covered.

    Parameters
    ----------
    classifications
        What everything that is open is classified as.
    no_data
        Nothing is known of a part of it.
    edition
        Whose wording is shown.

    Examples
    --------
    >>> from store.hazards.classification import classifications
    >>> [r.code for r in responses(classifications(["Eye Irrit. 2 H319"]))]
    ['P305+P351+P338', 'P337+P313']
    """
    data = tables("responses")[edition]
    because: dict[str, list[str]] = {}
    for one in classifications:
        for hazard in one.codes:
            for code in data["of"].get(hazard, ()):
                because.setdefault(code, []).append(hazard)
    if no_data:
        for code in data["no_data"]["codes"]:
            because.setdefault(code, []).append("no data")
    milder = {code for kept in because for code in data["stronger"].get(kept, ())}
    order: list[str] = data["order"]["codes"]
    return tuple(
        Response(code, _wording(code, edition), _kind(code), tuple(dict.fromkeys(because[code])))
        for code in sorted(because, key=order.index)
        if code not in milder
    )


def first_aid(
    classifications: Sequence[Classification], *, no_data: bool = False, edition: str = EDITION
) -> tuple[Response, ...]:
    """Give the first-aid statements of all that is open, in the order of the card.

    Examples
    --------
    >>> from store.hazards.classification import classifications
    >>> first_aid(classifications(["Acute Tox. 2 H300"]))[1].text
    'Rinse mouth.'
    """
    every = responses(classifications, no_data=no_data, edition=edition)
    return tuple(one for one in every if one.kind == "first aid")


def _kind(code: str) -> str:
    return KINDS.get(code[:3], "first aid")


def _wording(code: str, edition: str) -> str:
    """The joined wording, or its parts joined, with what a supplier fills in said in general."""
    known = precautions(edition)
    text = known[code].text if code in known else " ".join(known[part].text for part in code.split("+"))
    for gap, filled in tables("responses")[edition]["filled"].items():
        text = text.replace(gap, filled)
    return text if text.endswith(".") else text + "."
