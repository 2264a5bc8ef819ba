"""The site's own waste streams and cleaning liquids, as the mixing rules take them."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from store.actions.hazards_now import of_row
from store.errors import NotFound
from store.hazards import mixing_list
from store.model.decisions import Stream
from store.queries import registers
from store.record.record import Record

WHOLE = 0.995
"""Less than this in sum leaves a rest of which nothing is known."""


def used(record: Record, basis: Mapping[str, Any]) -> dict[str, list[dict[str, Any]]]:
    """Give what is in each stream or liquid of the site that a plan may meet, by its name in small letters.

    A name that no row of the register has is left out: the rules may know it by their own list.
    """
    names = {str(s.get("waste_stream", "")).casefold() for s in basis["substances"].values()}
    names |= {str(liquid).casefold() for liquid in basis["enclosure"].get("cleaning", ())}
    return {
        stream.name.casefold(): list(parts(record, stream))
        for stream in _rows(record)
        if stream.name.casefold() in names
    }


def parts(record: Record, stream: Stream) -> Iterator[dict[str, Any]]:
    """Give the components of a stream: name, mass fraction, tags and statements."""
    known = 0.0
    for name, percent in stream.components:
        known += percent / 100.0
        yield {"fraction": percent / 100.0, **_component(record, name)}
    if known < WHOLE:
        yield {"name": f"the rest of {stream.name}", "fraction": 1.0 - known, "tags": [], "statements": []}


def _component(record: Record, name: str) -> dict[str, Any]:
    if mixing_list.known(name):
        return {"name": name, "tags": [], "statements": []}
    if mixing_list.is_tag(name):
        return {"name": "", "tags": [name], "statements": []}
    try:
        row = registers.body(record, "substance", name)
    except NotFound:
        return {"name": name, "tags": [], "statements": []}
    names = (str(row["name"]), str(row.get("cas", "")), *map(str, row.get("synonyms", ())))
    listed = next((n for n in names if n and mixing_list.known(n)), names[0])
    codes = [s["code"] for s in of_row(row)["statements"]]
    return {"name": listed, "tags": list(row.get("tags", ())), "statements": codes}


def _rows(record: Record) -> Iterable[Stream]:
    return (Stream.from_body(row.row) for row in registers.rows(record, "stream"))
