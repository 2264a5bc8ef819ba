"""Codes out of a hazard snapshot, as a prep took it."""

from collections.abc import Iterable, Mapping
from typing import Any


def codes(statements: Iterable[Mapping[str, Any] | str]) -> tuple[str, ...]:
    """Give the codes of statements, which a snapshot keeps with their texts.

    Examples
    --------
    >>> codes([{"code": "H350", "text": "May cause cancer"}, "H317"])
    ('H350', 'H317')
    """
    return tuple(dict.fromkeys(s if isinstance(s, str) else str(s["code"]) for s in statements))
