"""Choosing a row of a register by code, name or CAS number, in a form."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from store.errors import NotFound
from store.queries import choices, registers, unusable
from store.queries.registers import RegisterRow
from store.record.record import Record
from tui.widgets.lines import visible

NAMED = 4
"""So many are named where several fit."""
MOST = 50
"""So many rows are looked at for what is typed; more words tell them apart."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One row: its id, and the words beside it."""

    id: str
    words: str

    @property
    def shown(self) -> str:
        """As it is offered."""
        return f"{self.id}  {self.words}".rstrip()


Find = Callable[[Sequence[str], int], Sequence[Choice]]
"""(words, so many at most) -> the rows that have every word, those whose id begins so first."""


class Pick:
    """The rows that a field may name, looked up by what is typed, so that no register is too long."""

    def __init__(self, what: str, find: Find) -> None:
        self.what, self._find = what, find

    @property
    def only(self) -> str:
        """The id of the only row there is; empty where there are none or several."""
        found = self._find((), 2)
        return found[0].id if len(found) == 1 else ""

    def suggest(self, typed: str) -> Sequence[str]:
        """Give the rows that hold every typed word; those whose id begins so first."""
        return tuple(c.shown for c in self._find(typed.split(), MOST))

    def take(self, typed: str) -> str:
        """Give the id that is meant.

        Raises
        ------
        NotFound
            None or several fit; the first of them are named.
        """
        text = typed.strip()
        found = self._offered(text) or tuple(self._find(text.split(), MOST))
        exact = [c.id for c in found if text in (c.id, c.shown)] or [
            c.id for c in found if c.id.casefold() == text.casefold()
        ]
        if len(exact) == 1:
            return exact[0]
        if len(found) == 1:
            return found[0].id
        if not found:
            raise NotFound(
                f"No {self.what} fits {visible(text)!r}: type its code or name, or see the registers."
            )
        many = f"{len(found) - NAMED}{' or more' if len(found) == MOST else ' more'}"
        more = f" and {many}" if len(found) > NAMED else ""
        named = ", ".join(c.id for c in found[:NAMED])
        raise NotFound(f"{visible(text)!r} fits {named}{more}: choose one with the arrow keys.")

    def _offered(self, text: str) -> tuple[Choice, ...]:
        """Give the row of a suggestion that was taken: its id, two blanks, and what stands beside it."""
        id, _, _ = text.partition("  ")
        return tuple(c for c in self._find((id,), MOST) if text in (c.id, c.shown))


def containers(record: Record) -> Pick:
    """Choose among containers of substances, not of prepared solutions."""

    def find(words: Sequence[str], limit: int) -> Sequence[Choice]:
        return [
            Choice(
                of.id,
                _after(
                    unusable.of_row(record, of.id, of.row, lot),
                    f"{substance.get('name', lot['substance'])}, lot {of.row['lot']}",
                ),
            )
            for of, lot, substance in choices.bottles(record, words, limit=limit)
        ]

    return Pick("container", find)


def solutions(record: Record) -> Pick:
    """Choose among containers of prepared solutions."""

    def find(words: Sequence[str], limit: int) -> Sequence[Choice]:
        return [
            Choice(id, _after(unusable.of(record, id), said))
            for id, said in choices.solutions(record, words, limit=limit)
        ]

    return Pick("solution", find)


def _after(stands: Sequence[str], words: str) -> str:
    """What stands against it comes first: the end of a line may have no room."""
    return f"{', '.join(stands)}: {words}" if stands else words


WORDS: Mapping[str, tuple[str, ...]] = {
    "lot": ("substance", "concentration", "status"),
    "container": ("lot", "place"),
    "vessel": ("name", "capacity"),
    "enclosure": ("name", "kind"),
    "balance": ("name", "readability"),
}
"""What stands beside an id; elsewhere the name."""


def rows(record: Record, register: str) -> Pick:
    """Choose among the rows in use of a register, by any word in them."""

    def find(words: Sequence[str], limit: int) -> Sequence[Choice]:
        return [_choice(register, r) for r in choices.rows(record, register, words, limit=limit)]

    return Pick(register, find)


def _choice(register: str, r: RegisterRow) -> Choice:
    beside = (registers.text_of(r.row[k]) for k in WORDS.get(register, ("name",)) if r.row.get(k))
    return Choice(r.id, ", ".join(beside))
