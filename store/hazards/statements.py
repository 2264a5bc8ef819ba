"""Statements of GHS/CLP with their classes, by edition.

A statement is found by its code; a code that is not there is refused with the codes that look like it. A
further edition is a further file `statements_*.toml` with an `edition` of its own.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from typing import TypeVar

from store.errors import UnknownCode
from store.hazards.data import tables

_T = TypeVar("_T")

EDITION = "CLP 2025-09-01"
"""The edition in use where none is named."""


@dataclass(frozen=True, slots=True)
class ClassEntry:
    """One hazard class and category that carries a statement."""

    code: str
    """As in CLP Annex VI, such as `Carc. 1B`."""
    name: str
    category: str
    signal_word: str
    """`Danger`, `Warning` or empty."""
    pictograms: tuple[str, ...]

    @property
    def stem(self) -> str:
        """The class without its category: `Carc.` of `Carc. 1B`."""
        return self.code.removesuffix(self.category).strip() if self.category else self.code


@dataclass(frozen=True, slots=True)
class Statement:
    """One H or EUH statement as its edition words it."""

    code: str
    text: str
    classes: tuple[ClassEntry, ...]
    edition: str
    source: str
    checked: str
    """How far the wording was compared with other published lists."""
    fill_in: str = ""
    """The wording with its placeholders, where it has any."""
    deleted: str = ""
    """What replaced it, where it is no longer in force."""

    @property
    def codes(self) -> tuple[str, ...]:
        """The single codes that a combined statement stands for."""
        return tuple(self.code.split("+"))


@dataclass(frozen=True, slots=True)
class Precaution:
    """One P statement as its edition words it."""

    code: str
    text: str
    kind: str
    edition: str
    source: str
    checked: str


def editions() -> tuple[str, ...]:
    """Give the editions that are at hand, as a record names them."""
    return tuple(tables("statements"))


def edition_named(text: str) -> str:
    """Give the edition meant by a text; an empty one is the edition in use.

    Raises
    ------
    UnknownCode
        No such edition is at hand.
    """
    wanted = text.strip() or EDITION
    for edition in editions():
        if edition.casefold() == wanted.casefold():
            return edition
    raise UnknownCode(f"{text!r} is no edition at hand: write one of {', '.join(editions())}.")


@cache
def statements(edition: str = EDITION) -> Mapping[str, Statement]:
    """Give every H and EUH statement of an edition by its code.

    Raises
    ------
    UnknownCode
        No such edition is at hand.
    """
    edition = edition_named(edition)
    return {
        row["code"]: Statement(
            code=row["code"],
            text=row["text"],
            classes=tuple(
                ClassEntry(c["code"], c["name"], c["category"], c["signal_word"], tuple(c["pictograms"]))
                for c in row.get("classes", ())
            ),
            edition=edition,
            source=row["source"],
            checked=row["checked"],
            fill_in=row.get("fill_in", ""),
            deleted=row.get("deleted", ""),
        )
        for row in tables("statements")[edition]["statement"]
    }


@cache
def precautions(edition: str = EDITION) -> Mapping[str, Precaution]:
    """Give every P statement of an edition by its code.

    Raises
    ------
    UnknownCode
        No such edition is at hand.
    """
    edition = edition_named(edition)
    return {
        row["code"]: Precaution(row["code"], row["text"], row["kind"], edition, row["source"], row["checked"])
        for row in tables("precautions").get(edition, {"precaution": ()})["precaution"]
    }


def statement(code: str, edition: str = EDITION) -> Statement:
    """Give one H or EUH statement.

    Raises
    ------
    UnknownCode
        The edition has no such code.

    Examples
    --------
    >>> statement("H350").text
    'May cause cancer'
    """
    return _found(code, statements(edition), "statements", edition)


def precaution(code: str, edition: str = EDITION) -> Precaution:
    """Give one P statement.

    Raises
    ------
    UnknownCode
        The edition has no such code.
    """
    return _found(code, precautions(edition), "precautions", edition)


def text_of(code: str, edition: str = EDITION) -> str:
    """Give the wording of an H, EUH or P statement.

    Raises
    ------
    UnknownCode
        The edition has no such code.
    """
    if code.strip().upper().startswith("P"):
        return precaution(code, edition).text
    return statement(code, edition).text


def _found(code: str, known: Mapping[str, _T], file: str, edition: str) -> _T:
    found = known.get(_tidy(code, known))
    if found is None:
        raise _unknown(code, tuple(known), tables(file)[edition_named(edition)])
    return found


def _tidy(code: str, known: Mapping[str, object]) -> str:
    """Blanks and case do not matter, save where they tell two codes apart: H360FD is not H360Fd."""
    plain = "".join(code.split())
    if plain in known:
        return plain
    alike = [name for name in known if name.casefold() == plain.casefold()]
    return alike[0] if len(alike) == 1 else plain


def _unknown(code: str, known: tuple[str, ...], data: Mapping[str, object]) -> UnknownCode:
    left_out = data.get("left_out", {})
    plain = "".join(code.split())
    edition = data["edition"]
    near = get_close_matches(plain, known, n=4, cutoff=0.6)
    instead = f"write a code of that edition, such as {', '.join(near or known[:3])}"
    if isinstance(left_out, Mapping) and plain.upper() in left_out:
        return UnknownCode(f"{plain} is left out of {edition} ({left_out[plain.upper()]}): {instead}.")
    return UnknownCode(f"{code!r} is no statement of {edition}: {instead}.")
