"""What a field of a register form completes: the words that it may hold, so that nobody has to know them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import Field as DataField
from dataclasses import dataclass
from functools import cache
from typing import Any

from store.model.words import CONDITIONING, StepName
from store.queries import choices
from tui.screens import pick
from tui.screens.desk import Desk

TODAY = "today"


@dataclass(frozen=True)
class _Offer:
    """Words from a closed list, and ids of the rows of a register, as the last entry of a list."""

    words: Callable[[], tuple[str, ...]] = tuple
    """Read when the first key is typed."""
    rows: str = ""
    """A register; its rows are looked up by what is typed, however long it is."""
    then: str = ""
    """What follows each of them; `DAY` is today. → puts it on the line, and the rest is typed behind it."""


def suggest(
    name: str, kind: str, column: DataField[Any], desk: Desk
) -> Callable[[str], Sequence[str]] | None:
    """Complete a field, of a list its last entry, from what it may hold; None where anything may stand."""
    if kind == "date":
        return lambda typed: [TODAY] if TODAY.startswith(typed.casefold()) else []
    offer = _Offer(lambda: tuple(column.metadata["choices"])) if kind == "roles" else _OFFERS.get(name)
    if offer is None:
        return None
    every, then = cache(offer.words), offer.then.replace("DAY", desk.now().date().isoformat())

    def last(typed: str) -> list[str]:
        before, sign, end = typed.rpartition(";")
        lead = f"{before}{sign} " if sign else ""
        words = end.casefold().split()
        if not words:
            return []
        found = [o for o in every() if all(w in o.casefold() for w in words)]
        found.sort(key=lambda o: not o.casefold().startswith(" ".join(words)))
        if offer.rows:
            rows = choices.rows(desk.record, offer.rows, words, limit=pick.MOST)
            found += [r.id for r in rows]
        return [f"{lead}{o}{then}" for o in found]

    return last


def _families() -> tuple[str, ...]:
    from store.hazards.families import all_families

    return tuple(all_families())


def _editions() -> tuple[str, ...]:
    from store.hazards import catalogue

    return catalogue.editions()


def _classes() -> tuple[str, ...]:
    from store.hazards import catalogue
    from store.model.words import NOT_CLASSIFIED

    every = [s for s in catalogue.statements().values() if not s.deleted]
    said = dict.fromkeys(f"{c.code} {s.code}" for s in every for c in s.classes)
    return (NOT_CLASSIFIED, *said, *(s.code for s in every if not s.classes))


def _tags() -> tuple[str, ...]:
    from store.hazards import mixing_list

    return mixing_list.tags()


def _liquids() -> tuple[str, ...]:
    from store.hazards import mixing_list

    return mixing_list.mixtures("cleaning")


def _streams() -> tuple[str, ...]:
    from store.hazards import mixing_list

    return mixing_list.mixtures("waste")


def _rules() -> tuple[str, ...]:
    from store.hazards import mixing_list

    return tuple(str(rule["id"]) for rule in mixing_list.rules())


def _places() -> tuple[str, ...]:
    from store.model.decisions import PLACES

    return tuple(PLACES)


def _methods() -> tuple[str, ...]:
    from store.calc.purity import NO_MASS_FRACTION

    return ("titration", "mass balance", "qNMR", *NO_MASS_FRACTION)


_OFFERS: Mapping[str, _Offer] = {
    "classification": _Offer(_classes),
    "edition": _Offer(_editions),
    "tags": _Offer(_tags),
    "waste_stream": _Offer(_streams),
    "cleaning": _Offer(_liquids),
    "conditioning": _Offer(lambda: CONDITIONING),
    "assay_method": _Offer(_methods),
    "steps": _Offer(lambda: tuple(StepName)),
    "substances": _Offer(rows="substance"),
    "families": _Offer(_families),
    "trained_for": _Offer(lambda: ("all", *_families()), rows="substance"),
    "training": _Offer(lambda: ("all", *StepName, *_families()), rows="substance", then=": DAY to "),
    "breakthrough": _Offer(rows="substance", then=": "),
    "up_to": _Offer(rows="substance", then=": "),
    "rules": _Offer(_rules),
    "places": _Offer(_places),
    "people": _Offer(rows="person"),
}
"""By the name of a column, whatever its register."""
