"""How something was classified: codes of a snapshot that a prep took, families by the register of today."""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from store.record.record import Record


def codes(statements: Iterable[Mapping[str, Any] | str]) -> tuple[str, ...]:
    """Give the codes of statements, which a snapshot keeps with their texts.

    Examples
    --------
    >>> codes([{"code": "H350", "text": "May cause cancer"}, "H317"])
    ('H350', 'H317')
    """
    return tuple(dict.fromkeys(s if isinstance(s, str) else str(s["code"]) for s in statements))


def now(record: Record, family: str) -> tuple[str, ...]:
    """Give the substances that belong to a hazard family as the register classifies them today."""
    found = record.query("SELECT id, row FROM register_row WHERE register = 'substance' ORDER BY id")
    return tuple(r["id"] for r in found if family in _families_of(r["row"]))


@lru_cache(maxsize=4096)
def _families_of(row: str) -> frozenset[str]:
    """Give the hazard families of a row of the substance register, read once as long as it stands."""
    from store.model.registers import Substance
    from store.queries import registers

    of = Substance.from_body(registers.read(row))
    flags = of.skin_notation, of.hazardous_drug, of.peroxide_former
    return _families(tuple(of.classification), *flags, of.edition)


@lru_cache(maxsize=4096)
def _families(
    classification: tuple[str, ...], skin: bool, drug: bool, peroxide: bool, edition: str
) -> frozenset[str]:
    """Give the hazard families of a classification; worked out once, since nothing else decides them."""
    from store.hazards import snapshot

    taken = snapshot.take(
        classification, skin_notation=skin, hazardous_drug=drug, peroxide_former=peroxide, edition=edition
    )
    return frozenset(taken["families"])
