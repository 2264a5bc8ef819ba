"""What stands on the bench as rows, each with the place that its digit leads to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo

from store.model.registers import Substance
from store.model.words import StepName
from store.queries import periods
from store.queries.due import Bench, Due
from store.queries.preps import PrepRow
from store.queries.registers import RegisterRow
from tui.guide.texts import TITLES
from tui.screens import plan_words
from tui.widgets.lines import pad, visible

MOST_DIGITS = 8
"""9 is the spill card."""
LEAST = 2
"""Rows that a section keeps when room is short."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a digit leads: an open prep, the list of preps to review, a row of a register."""

    kind: str
    id: str


@dataclass(frozen=True, slots=True)
class BenchLine:
    """One row of a section; no place where nothing is to be done from here."""

    cells: tuple[str, ...]
    place: Place | None = None
    digit: int = 0


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the bench: what is in it, and how many rows did not fit."""

    name: str
    lines: tuple[BenchLine, ...]
    left_out: int = 0


WIDTHS: Mapping[str, tuple[int, ...]] = {
    "Owed": (11, 0, 22),
    "Open": (11, 0, 10, 18),
    "Due": (16, 0, 17),
    "Expiring": (16, 0, 17),
    "Incidents": (16, 0, 17),
}
"""Columns of each section; 0 takes what the others leave."""
LEAD = 13
"""Name of the section, digit and blanks."""


def sections(
    bench: Bench, *, room: int, names: dict[str, str], reviewer: bool, zone: tzinfo | None = None
) -> tuple[Section, ...]:
    """Give the sections, cut to so many lines, with digits for the first eight places."""
    whole = [
        Section("Owed", tuple(_owed(d, zone) for d in bench.owed)),
        Section("Incidents", tuple(_incident(d) for d in bench.incidents)),
        Section("Open", tuple(_open(p, names) for p in bench.open)),
        Section("Due", tuple(_due(d) for d in bench.due)),
        Section("Expiring", tuple(_due(d) for d in bench.expiring)),
        Section("Review", _reviews(bench.reviews, reviewer)),
    ]
    return _numbered(_cut([s for s in whole if s.lines], room))


def _cut(found: Sequence[Section], room: int) -> list[Section]:
    """Take rows from the longest section until all fit; what is left out is counted."""
    keep = [len(s.lines) for s in found]

    def used() -> int:
        return sum(k + (k < len(s.lines)) for k, s in zip(keep, found, strict=True)) + max(0, len(found) - 1)

    while used() > room and (most := max(keep, default=0)) > LEAST:
        longest = max(n for n, k in enumerate(keep) if k == most)
        # The line that counts what is left out takes the place of the first one.
        keep[longest] = most - 1 if most < len(found[longest].lines) else max(LEAST, most - 2)
    return [
        replace(s, lines=s.lines[:k], left_out=len(s.lines) - k) for s, k in zip(found, keep, strict=True)
    ]


def _numbered(found: Sequence[Section]) -> tuple[Section, ...]:
    digits: dict[Place, int] = {}
    for section in found:
        for line in section.lines:
            if line.place is not None and len(digits) < MOST_DIGITS:
                digits.setdefault(line.place, len(digits) + 1)
    return tuple(
        replace(s, lines=tuple(replace(x, digit=digits.get(x.place, 0) if x.place else 0) for x in s.lines))
        for s in found
    )


def _owed(d: Due, zone: tzinfo | None) -> BenchLine:
    step = TITLES[StepName(d.why.split(",")[0])].lower() if d.why.split(",")[0] in list(StepName) else d.why
    since = f"since {periods.local(d.day, zone):%H:%M}" if d.days == 0 else f"since {d.day[:10]}"
    return BenchLine((d.id, f"exposure note, {step}", f"{d.person}, {since}"), Place("prep", d.id))


def _open(p: PrepRow, names: dict[str, str]) -> BenchLine:
    name = names.get(p.substance, p.substance) + (", rehearsal" if p.rehearsal else "")
    where = f"step {p.step + 1} of {p.steps}" if p.step < p.steps else "to be closed"
    return BenchLine((p.prep, name, p.target, f"{where}  {p.last_person}"), Place("prep", p.prep))


def _due(d: Due) -> BenchLine:
    said, on = (d.what, when(d.days))
    if d.group == "decide":
        said, _, on = d.what.partition(": ")
    what = f"{said}, {d.name}" if d.name else said
    return BenchLine((f"{d.register} {d.id}", what, on), Place(d.register, d.id))


def _incident(d: Due) -> BenchLine:
    return BenchLine(
        (f"{d.what} {d.id}", f"{d.name} ({d.why})", f"open since {d.day[5:]}"), Place("incident", d.id)
    )


def _reviews(many: int, reviewer: bool) -> tuple[BenchLine, ...]:
    if not many:
        return ()
    said = "1 prep waits for a reviewer" if many == 1 else f"{many} preps wait for a reviewer"
    return (BenchLine((said,), Place("review", "") if reviewer else None),)


def when(days: int | None) -> str:
    """Say how far a day is off.

    >>> when(None), when(0), when(3), when(1), when(-2)
    ('never done', 'today', 'in 3 days', 'in 1 day', '2 days overdue')
    """
    if days is None:
        return "never done"
    if days == 0:
        return "today"
    many = f"{abs(days)} day{'' if abs(days) == 1 else 's'}"
    return f"in {many}" if days > 0 else f"{many} overdue"


def drawn(found: Sequence[Section], width: int) -> tuple[str, ...]:
    """Draw the sections: name, digit, columns."""
    out: list[str] = []
    for section in found:
        out += [""] if out else []
        columns = _columns(WIDTHS.get(section.name, (0,)), width - LEAD)
        for n, line in enumerate(section.lines):
            name = section.name if n == 0 else ""
            cells = "  ".join(pad(visible(c), w) for c, w in zip(line.cells, columns, strict=True)).rstrip()
            out.append(f"{name:<10}{line.digit or ' '}  {cells}".rstrip())
        if section.left_out:
            out.append(f"{'':<{LEAD}}and {section.left_out} more")
    return tuple(out)


def _columns(widths: Sequence[int], width: int) -> tuple[int, ...]:
    spare = width - sum(widths) - 2 * (len(widths) - 1)
    return tuple(w or max(8, spare) for w in widths)


def named(rows: Sequence[RegisterRow]) -> dict[str, str]:
    """Give the names of substances by their ids."""
    return {r.id: str(r.row.get("name", r.id)) for r in rows}


def with_hazards(rows: Sequence[RegisterRow]) -> dict[str, str]:
    """Give the names with what the substances can do, for a screen that has room for it."""
    return {
        id: f"{name}   {plan_words.hazards(Substance.from_body(r.row))}"
        for r, (id, name) in zip(rows, named(rows).items(), strict=True)
    }
