"""Hazard families: what cautions go by, and what an officer asks for."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from typing import Any

from store.errors import UnknownCode
from store.hazards.classification import Classification
from store.hazards.data import table

UNKNOWN = "UNKNOWN"
"""No hazard data: the strictest cautions."""


@dataclass(frozen=True, slots=True)
class Family:
    """One hazard family; a lower rank is more severe."""

    id: str
    rank: int
    name: str
    short: str
    when: str
    covers: tuple[str, ...]


@cache
def all_families() -> Mapping[str, Family]:
    """Give every family by its id, most severe first."""
    return {
        id: Family(id, f["rank"], f["name"], f["short"], f["when"], tuple(f.get("covers", ())))
        for id, f in table("cautions.toml")["families"].items()
    }


def family(id: str) -> Family:
    """Give one family by its id.

    Raises
    ------
    UnknownCode
        There is no such family.
    """
    found = all_families().get(id)
    if found is None:
        near = get_close_matches(id.upper(), all_families(), n=3, cutoff=0.4)
        raise UnknownCode(f"{id!r} is no hazard family: write one of {', '.join(near or all_families())}.")
    return found


def name(id: str) -> str:
    """Give the name of a family in words."""
    return family(id).name


def short(id: str) -> str:
    """Give what a family can do, in at most 40 characters."""
    return family(id).short


def ranked(ids: Iterable[str]) -> tuple[str, ...]:
    """Give family ids once each, most severe first.

    Raises
    ------
    UnknownCode
        One of them is no family.
    """
    return tuple(sorted(dict.fromkeys(ids), key=lambda id: family(id).rank))


@cache
def _of_code() -> Mapping[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    data = table("families.toml")
    for part in ("codes", "codes_elsewhere"):
        for id, codes in data[part].items():
            for code in codes:
                found.setdefault(code, []).append(id)
    return {code: tuple(ids) for code, ids in found.items()}


def of(
    classifications: Sequence[Classification],
    *,
    skin_notation: bool = False,
    hazardous_drug: bool = False,
    peroxide_former: bool = False,
    no_data: bool = False,
    inert_gas: bool = False,
) -> tuple[str, ...]:
    """Give the families of a substance or mixture, most severe first.

    Parameters
    ----------
    classifications
        What it is classified as; where class and statement do not fit, both count.
    skin_notation
        A limit list says that it passes through the skin, or its solvent carries it through.
    hazardous_drug
        On the site's own list; never derived from a statement.
    peroxide_former
        Forms peroxides in air.
    no_data
        Nothing is known of it or of a part of it: family UNKNOWN.
    inert_gas
        The enclosure runs on a gas without oxygen.

    Examples
    --------
    >>> from store.hazards.classification import classifications
    >>> of(classifications(["Carc. 1B H350", "Acute Tox. 2 H330"]), hazardous_drug=True)
    ('ACUTE_1_2', 'CMR_1', 'HAZARDOUS_DRUG')
    """
    found: set[str] = set()
    for one in classifications:
        for code in one.codes:
            found.update(_of_code().get(code, ()))
        found.update(_by_class(one))
    flags = {
        "SKIN_ABSORPTION": skin_notation,
        "HAZARDOUS_DRUG": hazardous_drug,
        "PEROXIDE_FORMER": peroxide_former,
        UNKNOWN: no_data,
        "INERT_GAS": inert_gas,
    }
    return ranked(found | {id for id, raised in flags.items() if raised})


def _by_class(one: Classification) -> tuple[str, ...]:
    """A class that does not fit its statement counts beside it, on the strict side."""
    if one.fits:
        return ()
    stem, first = one.stem, one.class_code.rpartition(" ")[2][:1]
    if stem in ("Carc.", "Muta.", "Repr."):
        return ("CMR_1",) if first == "1" else ("CMR_2",)
    if stem == "Acute Tox.":
        return {"1": ("ACUTE_1_2",), "2": ("ACUTE_1_2",), "3": ("ACUTE_3",)}.get(first, ("ACUTE_4",))
    return {
        "Resp. Sens.": ("RESP_SENS",),
        "Skin Sens.": ("SKIN_SENS",),
        "Skin Corr.": ("CORROSIVE",),
        "Eye Dam.": ("CORROSIVE",),
    }.get(stem, ())


def queries() -> tuple[str, ...]:
    """Give the names that an officer may ask by, such as `CMR 1`."""
    return tuple(table("families.toml")["queries"])


def asked(text: str) -> tuple[str, ...]:
    """Give the families meant by what an officer typed: a name of `queries`, or an id.

    Raises
    ------
    UnknownCode
        It is neither.

    Examples
    --------
    >>> asked("acute 1-3")
    ('ACUTE_1_2', 'ACUTE_3')
    >>> asked("cmr_1")
    ('CMR_1',)
    """
    wanted = " ".join(text.casefold().replace("–", "-").split())
    by_name = {key.casefold(): tuple(ids) for key, ids in table("families.toml")["queries"].items()}
    by_name |= {id.casefold(): (id,) for id in all_families()}
    if wanted in by_name:
        return by_name[wanted]
    near = get_close_matches(wanted, by_name, n=3, cutoff=0.4)
    shown = [key for key in queries() if key.casefold() in near] or list(queries())
    raise UnknownCode(f"{text!r} is no hazard family: write one of {', '.join(shown)}.")


def hazard_words(classifications: Sequence[Classification]) -> tuple[str, ...]:
    """Give the hazards in words, most severe first, such as `carcinogen 1B` or `acute toxicity 2, breathing`.

    Examples
    --------
    >>> from store.hazards.classification import classifications
    >>> hazard_words(classifications(["Acute Tox. 2 H330", "Acute Tox. 2 H300", "Resp. Sens. 1 H334"]))
    ('acute toxicity 2, swallowing, breathing', 'respiratory sensitiser')
    """
    routes: dict[str, list[str]] = {}
    ranks: dict[str, int] = {}
    last = max(f.rank for f in all_families().values()) + 1
    for one in classifications:
        words = _words(one)
        rank = min((family(id).rank for c in one.codes for id in _of_code().get(c, ())), default=last)
        ranks[words] = min(ranks.get(words, last), rank)
        held = routes.setdefault(words, [])
        if one.stem == "Acute Tox.":
            held.extend(_route(code) for code in one.codes)
    ways = list(table("families.toml")["routes"].values())
    return tuple(
        ", ".join([words, *sorted(set(routes[words]), key=ways.index)])
        for words in sorted(routes, key=lambda w: ranks[w])
    )


def _route(code: str) -> str:
    return str(table("families.toml")["routes"][code[:3]])


def _words(one: Classification) -> str:
    data = table("families.toml")
    own = data["words_of_codes"].get(one.code)
    stem = "Press. Gas" if one.class_code.startswith("Press. Gas") else one.stem
    pattern = own or data["words"].get(stem) or data["words"].get(one.class_code)
    if pattern is None:
        return one.statement.text.lower() if one.statement.text else one.code
    category = one.category or one.class_code.rpartition(" ")[2]
    return str(pattern).format(category=category).strip()


def hazard_line(snapshots: Sequence[Mapping[str, Any]], families: Sequence[str] = ()) -> tuple[str, ...]:
    """Give the headline and then the hazards in words, for all that takes part in a step.

    The first part is the signal word in capitals, or says that hazards are not known, or that there is no
    signal word; then come the phrases, most severe first, and the flags that no statement carries. A screen
    fits them to its width.

    Parameters
    ----------
    snapshots
        What `snapshot.take` gave, one for each substance.
    families
        Families of the step, for those that no snapshot carries, such as the box gas.
    """
    held: dict[str, int] = {}
    present = ranked({*families, *(id for taken in snapshots for id in taken["families"])})
    for taken in snapshots:
        for place, words in enumerate(taken["words"]):
            held.setdefault(words, place)
    flags = [
        short(id)
        for id in present
        if id in ("UNKNOWN", "INERT_GAS", "HAZARDOUS_DRUG", "SKIN_ABSORPTION", "PEROXIDE_FORMER")
        and not (id == "PEROXIDE_FORMER" and "forms peroxides" in held)
    ]
    signals = {str(taken["signal_word"]) for taken in snapshots}
    if UNKNOWN in present:
        headline = "HAZARDS NOT KNOWN"
        flags.remove(short(UNKNOWN))
        flags.insert(0, "treat as the worst")
    elif "Danger" in signals:
        headline = "DANGER"
    elif "Warning" in signals:
        headline = "WARNING"
    else:
        headline = "NO SIGNAL WORD"
    if UNKNOWN in present and "Danger" in signals:
        headline = "DANGER"
        flags[0] = short(UNKNOWN)
    first, rest = (flags[:1], flags[1:]) if UNKNOWN in present else ([], flags)
    return (headline, *first, *held, *rest)
