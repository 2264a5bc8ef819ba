"""What `mixing.toml` knows: substances, mixtures, tags and rules, and what a tag or a statement implies."""

from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from functools import cache
from typing import Any

from store.errors import UnknownCode
from store.hazards.data import table


def known(name: str) -> bool:
    """Say whether the list has a substance or mixture of this name."""
    return substance(name) is not None or mixture(name) is not None


def substance(name: str) -> Mapping[str, Any] | None:
    """Give the row of a substance by any of its names, if the list has it."""
    return _substances().get(name.casefold())


def mixture(name: str) -> Mapping[str, Any] | None:
    """Give the row of a waste stream or cleaning liquid by any of its names, if the list has it."""
    return _mixtures().get(name.casefold())


def is_tag(name: str) -> bool:
    """Say whether a name is a tag of the rules, such as `organic_solvent`."""
    return name in _tags()


def names() -> tuple[str, ...]:
    """Give every name that the list has, and every tag."""
    return (*_substances(), *_mixtures(), *_tags())


def mixtures(kind: str) -> tuple[str, ...]:
    """Give the names of the `waste` streams or `cleaning` liquids of the list."""
    return tuple(row["name"] for row in table("mixing.toml")["mixture"] if row["kind"] == kind)


def rules() -> Sequence[Mapping[str, Any]]:
    """Give the rules in the order of the file."""
    return table("mixing.toml")["rule"]


def with_implied(tags: Iterable[str]) -> frozenset[str]:
    """Give tags with all that they imply.

    Raises
    ------
    UnknownCode
        There is no such tag.
    """
    found, to_do = set(), list(tags)
    while to_do:
        tag = to_do.pop()
        if tag not in _tags():
            near = (
                get_close_matches(tag, _tags(), n=4, cutoff=0.4) or [t for t in _tags() if tag[:4] in t][:4]
            )
            raise UnknownCode(
                f"{tag!r} is no tag of the mixing rules: write one of them, such as "
                f"{', '.join(near or list(_tags())[:4])}."
            )
        if tag not in found:
            found.add(tag)
            to_do += _tags()[tag].get("implies", ())
    return frozenset(found)


def tags() -> tuple[str, ...]:
    """Give every tag of the mixing rules."""
    return tuple(_tags())


def from_statements(codes: Iterable[str]) -> frozenset[str]:
    """Give the tags that follow from H and EUH codes."""
    single = {part for code in codes for part in code.split("+")}
    return with_implied(name for name, tag in _tags().items() if single & set(tag.get("from_h", ())))


@cache
def _tags() -> Mapping[str, Mapping[str, Any]]:
    return {tag["name"]: tag for tag in table("mixing.toml")["tag"]}


@cache
def _substances() -> Mapping[str, Mapping[str, Any]]:
    return {
        name.casefold(): row
        for row in table("mixing.toml")["substance"]
        for name in (row["name"], row.get("ghs"), *row.get("also", ()))
        if name
    }


@cache
def _mixtures() -> Mapping[str, Mapping[str, Any]]:
    return {
        name.casefold(): row
        for row in table("mixing.toml")["mixture"]
        for name in (row["name"], *row.get("also", ()))
    }
