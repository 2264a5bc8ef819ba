"""A row as people read it: hazard families in words, local times to the minute, open times in minutes
and seconds.

Codes, UTC and seconds stay in CSV and JSON, which machines read.
"""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from store.exchange.cells import as_text
from store.hazards import families
from store.queries import periods
from store.units import clock, rounded

_NAMES = {
    "open_s": "open, min:s", "estimated_s": "estimated open, min:s", "longest_s": "longest open, min:s",
    "net_mg": "mg",
    "made_at": "made at",
}  # fmt: skip


def name(field: str) -> str:
    """Give the label of a field.

    >>> name("open_s"), name("planned_by")
    ('open, min:s', 'planned by')
    """
    return _NAMES.get(field, field.replace("_", " "))


def value(field: str, given: Any) -> Any:
    """Give what a field holds in words.

    >>> value("families", ("CMR_1",)), value("open_s", 2390.7), value("key", "2026-03")
    (('cancer, genes, fertility, birth',), '39:51', '2026-03')
    """
    if field == "families" and isinstance(given, list | tuple):
        return tuple(family(str(id)) for id in given)
    if field == "key" and isinstance(given, str):
        return family(given)
    if field.endswith("_s") and isinstance(given, int | float):
        return clock(float(given)) if given else 0
    if (field == "at" or field.endswith("_at")) and isinstance(given, str):
        return when(given)
    return given


def row(given: Mapping[str, Any]) -> dict[str, Any]:
    """Give a row with every field in words, under the names of the record; a result rounded to its u.

    >>> row({"value": 2.00709474, "u": 0.00338337, "deviation": 0.0035474})
    {'value': '2.0071', 'u': '0.0034', 'deviation': '+0.35 %'}
    """
    said = {field: value(field, held) for field, held in given.items()}
    result, u, off = (given.get(field) for field in ("value", "u", "deviation"))
    if isinstance(result, float) and isinstance(u, float):
        said["value"], said["u"] = rounded(result, u)
    if isinstance(off, float):
        said["deviation"] = f"{100 * off:+.2f} %"
    return said


def lines(given: Mapping[str, Any]) -> Iterator[str]:
    """Give a row a line a field, each with its end; fields that hold nothing are left out."""
    for field, held in row(given).items():
        if held not in ("", None, [], ()):
            yield f"{name(field)}: {as_text(held)}\n"


def family(id: str) -> str:
    """Give the name of a hazard family; any other text as it stands."""
    return families.name(id) if id in families.all_families() else id


def when(text: str) -> str:
    """Give a stored time as local, to the minute; a text that is none as it stands."""
    try:
        known = datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return text
    return f"{periods.local(text):%Y-%m-%d %H:%M}" if known else text
