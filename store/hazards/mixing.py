"""What must not meet: in the vessel, in a waste stream, with a cleaning liquid.

The tables are `mixing.toml`; its text `matching` says how rules are matched, and this module does so.
Nothing found is `not checked`, never compatible; a name that is not listed is reported whatever else
matches. Most rules are from memory: a chemist checks them before they are relied on.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import inf
from typing import Any

from store.errors import OutOfRange, UnknownCode
from store.hazards import mixing_list
from store.model.decisions import PLACES

NOT_CHECKED, REMIND, WARN, STOP = "not checked", "remind", "warn", "stop"
LEVELS = (NOT_CHECKED, REMIND, WARN, STOP)
"""From nothing known to the strongest."""
SLACK = 1 - 1e-9
"""A strength typed as the floor itself is on the floor, whatever binary fractions make of it."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that meets others, in order of addition: what is there first comes first."""

    name: str
    fraction: float = 1.0
    """Mass fraction of the substance in its liquid [g/g]; 1 for a pure solid or liquid, and where unknown."""
    mass_mg: float = inf
    """Mass of the whole liquid or solid [mg]; without end where unknown."""
    carrier: str = ""
    """What the rest is, such as `water`."""
    tags: tuple[str, ...] = ()
    """Tags from the site's register, for a substance that the list does not have."""
    statements: tuple[str, ...] = ()
    """H and EUH codes, from which an unlisted substance gets tags."""
    parts: tuple["Part", ...] = ()
    """Contents already mixed: then name and tags of the item itself are not looked at."""


@dataclass(frozen=True, slots=True)
class Part:
    """One component of contents that are already mixed."""

    name: str
    fraction: float
    """Mass fraction in the whole [g/g]."""
    tags: tuple[str, ...] = ()
    statements: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the rules say: the strongest level, and all else that was found."""

    level: str
    rule: str = ""
    happens: str = ""
    instead: str = ""
    order: str = ""
    source: str = ""
    from_memory: bool = False
    under: tuple[str, ...] = ()
    """Rules whose partners met, but below a floor of strength or mass."""
    unchecked: tuple[str, ...] = ()
    """Names that the list does not have: nothing is known of them beyond their statements."""
    others: tuple[str, ...] = ()
    """Every other rule that spoke, at any level."""
    stops: tuple[str, ...] = ()
    """Every rule that stops: what allows it must allow each of them."""

    @property
    def sentences(self) -> tuple[str, ...]:
        """The verdict for a person, a line each."""
        lines = [f"{self.level.upper()}: {self.happens}" if self.rule else "NOT CHECKED: no rule was found."]
        lines += [f"Instead: {self.instead}"] if self.instead else []
        lines += [f"Order: {self.order}."] if self.order else []
        lines += [f"Not in the list: {', '.join(self.unchecked)}."] if self.unchecked else []
        return tuple(lines)


@dataclass(frozen=True, slots=True)
class Piece:
    """One component of one item, with all that its tags imply."""

    item: int
    tags: frozenset[str]
    fraction: float
    mass_mg: float


def meet(items: Sequence[Item], where: str = "vessel") -> Verdict:
    """Say what is known of things that meet.

    Parameters
    ----------
    items
        In order of addition: what is in the vessel, bottle or on the surface first.
    where
        `vessel`, `waste` or `cleaning`.

    Raises
    ------
    UnknownCode
        No such place, or a tag that there is not.
    OutOfRange
        A mass fraction outside 0 to 1, or a mass below 0.

    Examples
    --------
    >>> meet([Item("sodium azide", 0.0005, 20_000, "water"), Item("nitric acid", 0.02, 1000, "water")]).level
    'stop'
    >>> meet([Item("nitric acid", 0.01, 10_000, "water"), Item("acetonitrile", 1, 10_000)]).level
    'not checked'
    """
    if where not in PLACES:
        raise UnknownCode(f"{where!r} is no place where things meet: write one of {', '.join(PLACES)}.")
    pieces: list[Piece] = []
    unchecked: list[str] = []
    for number, item in enumerate(items):
        _in_range(item)
        found, unknown = _pieces(number, item)
        pieces += found
        unchecked += unknown
    spoke: list[tuple[str, Mapping[str, Any]]] = []
    under: list[str] = []
    for rule in mixing_list.rules():
        if where in rule["applies_in"]:
            level, met = match(rule, pieces)
            if level:
                spoke.append((level, rule))
            elif met:
                under.append(rule["id"])
    names = tuple(dict.fromkeys(unchecked))
    if not spoke:
        return Verdict(NOT_CHECKED, under=tuple(under), unchecked=names)
    # Of equals `max` keeps the first in the file.
    level, best = max(spoke, key=lambda one: LEVELS.index(one[0]))
    return Verdict(
        level,
        best["id"],
        best["happens"],
        best["instead"],
        best.get("order", ""),
        best["source"],
        best["from_memory"],
        tuple(under),
        names,
        tuple(rule["id"] for _, rule in spoke if rule is not best),
        tuple(rule["id"] for at, rule in spoke if at == STOP),
    )


def match(rule: Mapping[str, Any], pieces: Sequence[Piece]) -> tuple[str, bool]:
    """Give the level at which a rule speaks (empty: it does not), and whether its partners met at all.

    For each way of giving every partner an item, two items at least, each partner's mass fraction in its
    item must reach its floor, and the partners must be different components.
    """
    partners = [rule[key] for key in "abc" if key in rule]
    having = [[piece for piece in pieces if partner["tag"] in piece.tags] for partner in partners]
    if not all(having):
        return "", False
    enough_in = [
        _items_with_enough(own, p["least_fraction"]) for p, own in zip(partners, having, strict=True)
    ]
    masses = [
        sum(piece.mass_mg for piece in own if piece.item in enough)
        for own, enough in zip(having, enough_in, strict=True)
    ]
    of = list(zip(masses, partners, strict=True))
    silent = any(mass < partner.get("ignore_mg", 0) * SLACK for mass, partner in of)
    little = any(mass < partner["least_mg"] * SLACK for mass, partner in of)
    strongest, met = "", False
    for chosen in product(*having):
        items = [piece.item for piece in chosen]
        if len(set(items)) < 2 or len({id(piece) for piece in chosen}) < len(chosen):
            continue
        met = True
        if silent or not all(item in enough for item, enough in zip(items, enough_in, strict=True)):
            continue
        level = _level(rule, [partner["tag"] for partner in partners], items)
        if level == STOP and little:
            level = WARN
        if not strongest or LEVELS.index(level) > LEVELS.index(strongest):
            strongest = level
    return strongest, met


def _level(rule: Mapping[str, Any], tags: Sequence[str], items: Sequence[int]) -> str:
    if "first" in rule and items[tags.index(rule["first"])] > min(items):
        return str(rule["wrong_order"])
    return str(rule["level"])


def _items_with_enough(pieces: Iterable[Piece], least_fraction: float) -> frozenset[int]:
    by_item: dict[int, float] = {}
    for piece in pieces:
        by_item[piece.item] = by_item.get(piece.item, 0.0) + piece.fraction
    return frozenset(item for item, fraction in by_item.items() if fraction >= least_fraction * SLACK)


def _in_range(item: Item) -> None:
    if not 0 <= item.fraction <= 1:
        raise OutOfRange(f"{item.name}: mass fraction {item.fraction:g}, write a number from 0 to 1.")
    if not item.mass_mg >= 0:
        raise OutOfRange(f"{item.name}: mass {item.mass_mg:g} mg, write one of 0 or more.")


def _pieces(number: int, item: Item) -> tuple[list[Piece], list[str]]:
    """Components of one item, and the names that are not known."""
    found: list[Piece] = []
    unknown: list[str] = []

    def put(name: str, fraction: float, tags: Sequence[str] = (), codes: Sequence[str] = ()) -> None:
        row, mixture = mixing_list.substance(name), mixing_list.mixture(name)
        if mixture is not None and not tags:
            for part in mixture["parts"]:
                put(part.get("name", ""), fraction * part["fraction"], part.get("tags", ()))
            return
        held = mixing_list.with_implied((*tags, *(row["tags"] if row is not None else ())))
        if row is None:
            held |= mixing_list.from_statements(codes)
            if not tags:
                unknown.append(name or "?")
        found.append(Piece(number, held, fraction, item.mass_mg * fraction))

    if item.fraction > 0:
        if item.parts:
            for part in item.parts:
                put(part.name, item.fraction * part.fraction, part.tags, part.statements)
        else:
            put(item.name, item.fraction, item.tags, item.statements)
    if item.fraction < 1:
        put(item.carrier or f"the rest of {item.name}", 1 - item.fraction)
    return found, unknown
