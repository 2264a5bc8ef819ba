"""Preps that are planned but not begun, and which of them one opening of the powder would serve."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta

from store.queries import lots
from store.record.record import Record
from store.units import figure, fixed

DAYS = 7
"""How far ahead is looked where nothing else is asked."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """One prep that is planned but not begun; masses as displayed, as its plan aims at."""

    prep: str
    container: str
    lot: str
    substance: str
    solvent: str
    target: str
    amount: str
    solid_mg: float
    solvent_mg: float
    minimum_mg: float

    @property
    def strength(self) -> float:
        """Mass of solid per mass of solution: of one lot it ranks concentrations of any unit."""
        return self.solid_mg / (self.solid_mg + self.solvent_mg)


@dataclass(frozen=True, slots=True)
class Merge:
    """Preps of one lot in one solvent that could be made of one weighing."""

    lot: str
    container: str
    substance: str
    solvent: str
    preps: tuple[str, ...]
    how: str
    solid_mg: float
    """To weigh at once."""
    apart_mg: float
    """To weigh one by one, none below the minimum weight."""
    openings_saved: int
    why_not: str = ""

    @property
    def saved_mg(self) -> float:
        """Less powder weighed."""
        return max(0.0, self.apart_mg - self.solid_mg)

    def words(self) -> str:
        """Say it in a sentence."""
        if self.why_not:
            return f"{', '.join(self.preps)} could be one weighing of {self.lot}, but {self.why_not}"
        powder = f"{fixed(self.saved_mg, 2, 'mg')} of powder and " if self.saved_mg >= 0.01 else ""
        openings = "1 opening" if self.openings_saved == 1 else f"{self.openings_saved} openings"
        return (
            f"{', '.join(self.preps)} are planned from lot {self.lot} and not begun: {self.how}; it saves "
            f"{powder}{openings}"
        )


def waiting(record: Record) -> tuple[Waiting, ...]:
    """Give the preps of one solid in one solvent that are planned and not begun, the oldest first."""
    rows = record.query(
        """
        SELECT prep, container, lot, substance, solvent, target, amount FROM prep
        WHERE status = 'open' AND last_entry = entry AND NOT rehearsal AND recipe LIKE 'solution%'
        ORDER BY entry
        """
    )
    out = []
    for row in rows:
        aims = record.prep_state(str(row["prep"])).aims
        solid_mg, solvent_mg, minimum_mg = (
            float(aims[key]) for key in ("solid_mg", "solvent_mg", "minimum_mg")
        )
        out.append(
            Waiting(
                prep=str(row["prep"]),
                container=str(row["container"]),
                lot=str(row["lot"]),
                substance=str(row["substance"]),
                solvent=str(row["solvent"]),
                target=str(row["target"]),
                amount=str(row["amount"]),
                solid_mg=solid_mg,
                solvent_mg=solvent_mg,
                minimum_mg=minimum_mg,
            )
        )
    return tuple(out)


def merges(record: Record, *, days: int = DAYS, beside: Waiting | None = None) -> tuple[Merge, ...]:
    """Give what could be merged: one lot, one solvent, two preps or more.

    Parameters
    ----------
    days
        The container must be usable so long: a solution made of it expires no later than it does.
    beside
        A prep that is only thought of, to be merged with those that are planned; then only its own group.
    """
    groups: dict[tuple[str, str], list[Waiting]] = {}
    for one in (*waiting(record), *((beside,) if beside is not None else ())):
        groups.setdefault((one.lot, one.solvent), []).append(one)
    wanted = [g for g in groups.values() if len(g) > 1 and (beside is None or beside in g)]
    return tuple(merged(record, g, days) for g in wanted)


def merged(record: Record, group: Sequence[Waiting], days: int) -> Merge:
    """Give what one weighing for a whole group would be."""
    strongest = max(group, key=lambda w: w.strength)
    minimum = max(w.minimum_mg for w in group)
    total = sum(w.solid_mg for w in group)
    until = lots.stock(record, strongest.container).last_day
    last = (record.due_now() + timedelta(days=days)).date().isoformat()
    why = f"container {strongest.container} may be used until {until} only" if until and until < last else ""
    at_once = max(total, minimum)
    return Merge(
        lot=strongest.lot,
        container=strongest.container,
        substance=strongest.substance,
        solvent=strongest.solvent,
        preps=tuple(w.prep for w in group),
        how="; ".join(_how(group, strongest, at_once)),
        solid_mg=at_once,
        apart_mg=sum(max(w.solid_mg, w.minimum_mg) for w in group),
        openings_saved=len(group) - 1,
        why_not=why,
    )


def _how(group: Sequence[Waiting], strongest: Waiting, solid_mg: float) -> Iterator[str]:
    amount_g = solid_mg / strongest.strength / 1000.0
    yield (f"weigh {fixed(solid_mg, 2, 'mg')} once into {fixed(amount_g, 2, 'g')} of {strongest.target}")
    for one in group:
        factor = strongest.strength / one.strength
        if factor > 1.0005:
            taken_g = one.solid_mg / strongest.strength / 1000.0
            yield f"dilute {fixed(taken_g, 3, 'g')} of it 1 to {figure(factor, 4)} for {one.prep}"
