"""Choosing a row of a register by code, name or CAS number, in a form."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from store.errors import NotFound
from store.queries import registers
from store.record.record import Record
from tui.widgets.lines import visible

NAMED = 4
"""So many are named where several fit."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One row: its id, the words beside it, and what else finds it."""

    id: str
    words: str
    also: str = ""

    @property
    def shown(self) -> str:
        """As it is offered."""
        return f"{self.id}  {self.words}".rstrip()

    def fits(self, words: Sequence[str]) -> bool:
        """Whether every word is somewhere in it."""
        text = f"{self.id} {self.words} {self.also}".casefold()
        return all(word in text for word in words)


class Pick:
    """The rows that a field may name."""

    def __init__(self, what: str, choices: Sequence[Choice]) -> None:
        self.what, self.choices = what, tuple(choices)

    def suggest(self, typed: str) -> Sequence[str]:
        """Give the rows that hold every typed word; those whose id begins so first."""
        words, first = typed.casefold().split(), typed.casefold().strip()
        found = [c for c in self.choices if c.fits(words)]
        return tuple(c.shown for c in sorted(found, key=lambda c: not c.id.casefold().startswith(first)))

    def take(self, typed: str) -> str:
        """Give the id that is meant.

        Raises
        ------
        NotFound
            None or several fit; the first of them are named.
        """
        text = typed.strip()
        exact = [c.id for c in self.choices if text in (c.id, c.shown)] or [
            c.id for c in self.choices if c.id.casefold() == text.casefold()
        ]
        if len(exact) == 1:
            return exact[0]
        found = [c.id for c in self.choices if c.fits(text.casefold().split())]
        if len(found) == 1:
            return found[0]
        if not found:
            raise NotFound(
                f"No {self.what} fits {visible(text)!r}: type its code or name, or see the registers."
            )
        more = f" and {len(found) - NAMED} more" if len(found) > NAMED else ""
        named = ", ".join(found[:NAMED])
        raise NotFound(f"{visible(text)!r} fits {named}{more}: choose one with the arrow keys.")


def containers(record: Record) -> tuple[Choice, ...]:
    """Give the containers of substances, not of prepared solutions, each with its substance and lot."""
    substances = {r.id: r.row for r in registers.rows(record, "substance")}
    out = []
    for found, lot in registers.bottles(record):
        of = substances.get(str(lot["substance"]), {})
        name = str(of.get("name", lot["substance"]))
        also = (lot["substance"], of.get("cas", ""), of.get("formula", ""), found.row.get("place", ""))
        words = f"{name}, lot {found.row['lot']}"
        synonyms = " ".join(map(str, of.get("synonyms", ())))
        out.append(Choice(found.id, words, f"{' '.join(map(str, also))} {synonyms}"))
    return tuple(out)


WORDS: Mapping[str, tuple[str, ...]] = {
    "lot": ("substance", "concentration", "status"),
    "container": ("lot", "place"),
    "vessel": ("name", "capacity"),
    "enclosure": ("name", "kind"),
    "balance": ("name", "readability"),
}
"""What stands beside an id; elsewhere the name."""
ALSO = ("cas", "formula", "synonyms")
"""What finds a row besides."""


def rows(record: Record, register: str) -> tuple[Choice, ...]:
    """Give the rows of a register by id and name."""
    return tuple(
        Choice(
            r.id,
            ", ".join(str(r.row[k]) for k in WORDS.get(register, ("name",)) if r.row.get(k)),
            " ".join(registers.text_of(r.row[k]) for k in ALSO if r.row.get(k)),
        )
        for r in registers.rows(record, register)
    )
