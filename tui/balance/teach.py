"""From recorded lines of a balance to settings for its register row: proposed, never set by itself. Pure.

Nothing of any maker is known here: a line has one number, perhaps a unit of mass, perhaps a mark, and whether
a mark means *stable* is seen from what the numbers do while it stands.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from store.errors import BadInput, BadReading
from store.units import UNITS, unit_of
from tui.balance.settings import Manner, framed
from tui.balance.stream import understand

FEWEST = 10
"""Lines with a number that a proposal needs at least."""
_LINE = re.compile(
    r"(?P<before>[^0-9]*?)(?P<sign>[+-]?) *(?P<digits>[0-9]+(?:[.,][0-9]+)?)(?P<after>[^0-9]*)"
)
_UNIT = re.compile(r"\s*([A-Za-z\u00b5\u03bc]+)(?![A-Za-z])")


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What to write into the register row, and how well it reads what was recorded."""

    unit: str
    nounit: bool
    """Its lines carry no unit: `nounit` belongs to the port's settings."""
    frame: str
    """`7E1` or `7O1` where every sign bears a parity bit; empty where the frame is as it should be."""
    stable_mark: str
    unstable_mark: str
    readability: str
    read: int
    of: int
    remarks: tuple[str, ...]

    @property
    def manner(self) -> Manner:
        """How the lines would be read with it."""
        return Manner(
            unit=self.unit,
            unit_missing=self.nounit,
            stable_mark=self.stable_mark or None,
            unstable_mark=self.unstable_mark or None,
        )

    def port(self, port: str) -> str:
        """Give a port with its settings as the lines want it: the rest of what stands there is kept."""
        return framed(port, frame=self.frame, nounit=self.nounit)


@dataclass(frozen=True, slots=True)
class _Parsed:
    number: Decimal
    unit: str
    mark: str
    two_marks: bool


def propose(lines: Sequence[bytes], *, unit: str = "") -> Proposal:
    """Propose settings from recorded lines; `unit` is that of the display where its lines carry none.

    >>> moving = [b"? %d.00 mg" % n for n in range(10)]
    >>> found = propose([*moving, *[b"= 12.50 mg"] * 10])
    >>> found.unit, found.stable_mark, found.unstable_mark, found.readability, found.read
    ('mg', '=', '?', '0.01 mg', 20)

    Raises
    ------
    BadInput
        Too few lines hold one number, or nothing tells their unit.
    """
    frame = _frame(lines)
    plain = [bytes(b & 0x7F for b in line) if frame else line for line in lines]
    parsed = [p for p in (_parsed(line.decode("latin-1")) for line in plain) if p is not None]
    if len(parsed) < FEWEST:
        raise BadInput(
            f"Only {len(parsed)} of {len(lines)} lines hold one number: record {FEWEST} or more. Check speed "
            "and frame of the port with `tarebook balance listen`."
        )
    remarks: list[str] = []
    named = Counter(p.unit for p in parsed if p.unit)
    if len(named) > 1:
        remarks.append(f"lines in {' and '.join(sorted(named))}: the display must stay in one unit")
    if not named and not unit:
        raise BadInput("The lines carry no unit: say what the display shows (--unit), such as mg.")
    wanted = named.most_common(1)[0][0] if named else unit
    if named and len(parsed) > sum(named.values()):
        remarks.append("some lines carry no unit: they are refused")
    stable, unstable = _marks(parsed, remarks)
    places = Counter(-int(p.number.as_tuple().exponent) for p in parsed).most_common(1)[0][0]
    found = Proposal(
        unit=wanted,
        nounit=not named,
        frame=frame,
        stable_mark=stable,
        unstable_mark=unstable,
        readability=f"{Decimal(1).scaleb(-places):f} {wanted}",
        read=0,
        of=len(lines),
        remarks=(),
    )
    heard = [understand(line, found.manner, 0.0) for line in plain]
    why = Counter(h.why_not for h in heard if h.reading is None)
    remarks += [f"refused, {n} x: {what}" for what, n in why.most_common(3)]
    return Proposal(
        unit=found.unit,
        nounit=found.nounit,
        frame=frame,
        stable_mark=stable,
        unstable_mark=unstable,
        readability=found.readability,
        read=sum(h.reading is not None for h in heard),
        of=len(lines),
        remarks=tuple(remarks),
    )


def _frame(lines: Sequence[bytes]) -> str:
    """Seven bits and a parity bit, where eight were read: every sign is even, or every sign is odd."""
    signs = b"".join(lines)
    if not any(b & 0x80 for b in signs):
        return ""
    odd = {b.bit_count() % 2 for b in signs}
    return {frozenset({0}): "7E1", frozenset({1}): "7O1"}.get(frozenset(odd), "")


def _parsed(text: str) -> _Parsed | None:
    match = _LINE.fullmatch(text.strip())
    if match is None:
        return None
    unit, rest = "", match["after"]
    if (word := _UNIT.match(rest)) is not None:
        try:
            found = unit_of(word[1])
        except (BadInput, BadReading):
            found = ""
        if found in UNITS["mass"]:
            unit, rest = found, rest[word.end() :]
    before, after = match["before"].strip(), rest.strip()
    number = Decimal(match["sign"] + match["digits"].replace(",", "."))
    return _Parsed(number, unit, before or after, bool(before and after))


def _marks(parsed: Sequence[_Parsed], remarks: list[str]) -> tuple[str, str]:
    """Give the marks of a stable and of an unstable line, where the numbers tell which is which."""
    if any(p.two_marks for p in parsed):
        remarks.append("marks stand before and behind the number: set the balance to send one of them")
        return "", ""
    marks = list(dict.fromkeys(p.mark for p in parsed))
    if marks == [""]:
        remarks.append("no mark of stability: the program judges by the setting of the site")
        return "", ""
    if len(marks) == 1:
        remarks.append(
            f"every line bears {marks[0]!r}: it tells nothing. Let the display rest and move while it "
            "records; if it still stands on every line, set the balance to leave it out"
        )
        return "", ""
    if len(marks) > 2:
        words = ", ".join(repr(m) for m in marks)
        remarks.append(f"more than two kinds of lines ({words}): set the balance to send readings alone")
        return "", ""
    rests = {mark: _rests(parsed, mark) for mark in marks}
    calm, restless = sorted(marks, key=lambda mark: -(rests[mark] or 0.0))
    if None in rests.values() or rests[calm] < 0.8 or rests[restless] > 0.5:  # type: ignore[operator]
        remarks.append(
            "which mark means stable cannot be told: let the display rest and move, and record again"
        )
        return "", ""
    return calm, restless


def _rests(parsed: Sequence[_Parsed], mark: str) -> float | None:
    """Share of neighbouring lines with a mark whose numbers are one step apart at the most."""
    pairs = [
        abs(a.number - b.number) <= Decimal(1).scaleb(int(a.number.as_tuple().exponent))
        for a, b in pairwise(parsed)
        if a.mark == b.mark == mark
    ]
    return sum(pairs) / len(pairs) if len(pairs) >= 3 else None
