"""What is known of a substance's hazards now, as plain data that a journal body carries for ever."""

from collections.abc import Sequence
from typing import Any

from store.errors import BadInput
from store.hazards import families
from store.hazards.classification import Classification, check_set, classification
from store.hazards.label import elements
from store.hazards.statements import EDITION, edition_named
from store.model.words import NOT_CLASSIFIED


def take(
    classes: Sequence[str | Classification],
    *,
    skin_notation: bool = False,
    hazardous_drug: bool = False,
    peroxide_former: bool = False,
    edition: str = "",
) -> dict[str, Any]:
    """Give the hazards of a substance as classified now.

    No classification at all means no data: family UNKNOWN, never harmless. The single entry `not
    classified` says that it was assessed and carries no statement. All codes are kept; omissions belong to
    a label only.

    Parameters
    ----------
    classes
        Classifications, as text or read; or `not classified`.
    skin_notation, hazardous_drug, peroxide_former
        Flags that no statement carries.
    edition
        Edition of the classification; empty for the one in use.

    Returns
    -------
    dict
        `edition`, `signal_word` (None where there is none), `statements` (code and text), `classes`,
        `families` (most severe first), `pictograms`, `words`, `no_data`, `findings` (what does not fit
        together).

    Raises
    ------
    BadInput
        A classification cannot be read, or `not classified` stands beside one.
    UnknownCode
        No such statement or edition.

    Examples
    --------
    >>> taken = take(["Carc. 1B H350", "Skin Sens. 1 H317"])
    >>> taken["signal_word"], taken["families"], taken["pictograms"]
    ('Danger', ['CMR_1', 'SKIN_SENS'], ['GHS08', 'GHS07'])
    >>> take([])["families"]
    ['UNKNOWN']
    """
    edition = edition_named(edition) if edition else EDITION
    read, assessed = read_classes(classes, edition)
    no_data = not read and not assessed
    shown = elements(read)
    return {
        "edition": edition,
        "signal_word": shown.signal_word,
        "statements": [
            {"code": code, "text": text}
            for code, text in {one.code: one.statement.text for one in read}.items()
        ],
        "classes": [str(one) for one in read],
        "families": list(
            families.of(
                read,
                skin_notation=skin_notation,
                hazardous_drug=hazardous_drug,
                peroxide_former=peroxide_former,
                no_data=no_data,
            )
        ),
        "pictograms": list(shown.pictograms),
        "words": list(families.hazard_words(read)),
        "no_data": no_data,
        "findings": list(check_set(read)),
    }


def read_classes(
    classes: Sequence[str | Classification], edition: str
) -> tuple[tuple[Classification, ...], bool]:
    """Read classifications; the second value says whether it was assessed as carrying no statement.

    Raises
    ------
    BadInput
        A classification cannot be read, or `not classified` stands beside one.
    UnknownCode
        No such statement.
    """
    texts = [one for one in classes if not isinstance(one, str) or one.strip()]
    plain = [one for one in texts if isinstance(one, str) and one.strip().casefold() == NOT_CLASSIFIED]
    if plain and len(texts) > 1:
        raise BadInput(f"'{NOT_CLASSIFIED}' stands alone: leave it out beside {texts[0]!s} or write only it.")
    if plain:
        return (), True
    return tuple(classification(one, edition) if isinstance(one, str) else one for one in texts), False
