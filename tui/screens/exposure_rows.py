"""Rows of the exposure log, its sums in a sentence, and the weeks as a bar."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, timedelta

from store.hazards import families
from store.queries import periods
from store.queries.duty import NamelessTotal
from store.queries.exposures import HandlingRow
from store.queries.incidents import UNUSUAL, IncidentRow
from store.queries.monitoring import Measured, shown
from store.queries.totals import Total
from store.units import clock
from tui.widgets.lines import pad
from tui.widgets.table_page import Column, Row

Local = Callable[[str], datetime]
WEEKS = 8
FULL, GUESS = "█", "░"
"""Measured and estimated minutes; the words beside the bar say the same."""

HANDLINGS = (
    Column("time", 16),
    Column("who", 7),
    Column("opened", 11),
    Column("held"),
    Column("open", 7, right=True),
    Column("note", 12),
)
WIDE_HANDLINGS = (
    Column("time", 16),
    Column("present", 12),
    Column("opened, done", 13),
    Column("held"),
    Column("lot", 8),
    Column("dosed mg", 9, right=True),
    Column("open", 7, right=True),
    Column("note", 18),
)
INCIDENTS = (Column("time", 16), Column("who", 7), Column("kind", 9), Column("what happened"))
WIDE_INCIDENTS = (
    Column("time", 16),
    Column("present", 16),
    Column("kind", 9),
    Column("what happened"),
    Column("held", 20),
    Column("prep", 11),
)
SUMS = (
    Column("of"),
    Column("handlings", 9, right=True),
    Column("dosed mg", 10, right=True),
    Column("open", 8, right=True),
    Column("estimated", 9, right=True),
    Column("longest", 7, right=True),
    Column("wrong", 5, right=True),
)
TIMES = tuple(column for column in SUMS if column.label != "dosed mg")
"""Where masses of different substances meet there is none to show."""

MEASURED = (
    Column("day", 10),
    Column("sample", 12),
    Column("of", 8),
    Column("result", 13),
    Column("at, whose"),
    Column("limit", 8),
)


NAMELESS = (
    Column("hazard family"),
    Column("people", 12),
    Column("handlings", 9, right=True),
    Column("open", 8, right=True),
    Column("longest", 7, right=True),
    Column("wrong", 5, right=True),
)


def nameless(n: NamelessTotal) -> Row:
    """Give the row of a total without names; its figures are withheld where few stand behind it."""
    t, name = n.total, families.name(n.key) if n.key in families.all_families() else ""
    figures = ("", "", "", "")
    if t is not None:
        wrong = str(t.incidents + t.unusual) if t.incidents + t.unusual else ""
        figures = (str(t.handlings), clock(t.open_s + t.estimated_s), clock(t.longest_s), wrong)
    return Row(f"nameless#{n.key}", (f"{n.key}  {name}".rstrip(), n.people, *figures))


def measured(m: Measured) -> Row:
    """Give the row of a result."""
    where = m.who or m.place or m.enclosure
    return Row(f"measured#{m.entry}", (m.day, m.what, m.substance, m.value, where, m.limit_value))


def told(m: Measured) -> str:
    """Say all of a result."""
    parts = (
        shown(m), f"of {m.substance}", f"breathing zone of {m.who}" if m.who else "", m.method, m.laboratory,
        f"report {m.report}" if m.report else "", m.note, f"entry {m.entry} by {m.person}",
    )  # fmt: skip
    return "; ".join(p for p in parts if p)


def handling(h: HandlingRow, local: Local, *, wide: bool) -> Row:
    """Give the row of a handling."""
    said = [f"{h.incidents} incident{'s' if h.incidents > 1 else ''}"] if h.incidents else []
    said += [f"unusual: {h.note}"] if h.unusual else []
    said += [] if h.noted else ["note owed"]
    said += [] if h.closed else ["OPEN"]
    said += [h.state] if h.state != "stands" else []
    said += ["rehearsal"] if h.rehearsal else []
    open_ = clock(h.open_s, estimated=h.estimated) if h.open_s else ""
    time = periods.happened(local(h.at), h.day, h.prep)
    held, note = ", ".join(h.substances), "; ".join(said)
    key = f"{h.prep}#{h.entry}"
    if not wide:
        return Row(key, (time, _who(h.present), h.what, held, open_, note))
    mg = f"{h.net_mg:.2f}" if h.net_mg else ""
    return Row(key, (time, ", ".join(h.present), h.what, held, h.lot, mg, open_, note))


def told_apart(h: HandlingRow) -> str:
    """Say all of a handling that belongs to no prep."""
    parts = (
        f"{h.what} on {h.day}", h.enclosure, f"gloves {h.gloves}" if h.gloves else "",
        f"could be met: {', '.join(h.substances)}" if h.substances else "",
        f"present: {', '.join(h.present)}", f"open {clock(h.open_s, estimated=True)}" if h.open_s else "",
        "unusual" if h.unusual else "", h.note, h.state if h.state != "stands" else "", f"entry {h.entry}",
        "outside any prep",
    )  # fmt: skip
    return "; ".join(p for p in parts if p)


def incident(i: IncidentRow, local: Local, *, wide: bool) -> Row:
    """Give the row of an incident or of an unusual note."""
    time, key = periods.happened(local(i.at), i.day, i.prep), _key(i)
    if not wide:
        return Row(key, (time, _who(i.present), i.what, i.said))
    return Row(key, (time, ", ".join(i.present), i.what, i.said, ", ".join(i.substances), i.prep))


def _key(i: IncidentRow) -> str:
    """An incident has a page of its own; an unusual note leads to its prep."""
    return f"{i.prep if i.what == UNUSUAL else 'incident'}#{i.entry}"


def total(t: Total, *, mass: bool) -> Row:
    """Give the row of a sum; masses of different substances are not added up for the eye."""
    guess = clock(t.estimated_s, estimated=True) if t.estimated else ""
    wrong = str(t.incidents + t.unusual) if t.incidents + t.unusual else ""
    name = families.name(t.key) if t.key in families.all_families() else ""
    of = f"{t.key}  {name}".rstrip()
    mg = (f"{t.net_mg:.2f}",) if mass else ()
    cells = (of, str(t.handlings), *mg, clock(t.open_s), guess, clock(t.longest_s), wrong)
    return Row(f"sum#{t.key}", cells)


def _who(present: Sequence[str]) -> str:
    return present[0] + (f"+{len(present) - 1}" if len(present) > 1 else "") if present else ""


def sum_lines(every: Sequence[Total], by_substance: Sequence[Total]) -> Iterator[str]:
    """Say the sums in a sentence or two."""
    if not every:
        yield "No handling fits."
        return
    t = every[0]
    guess = f", and {clock(t.estimated_s)} estimated in {t.estimated}" if t.estimated else ""
    yield (
        f"{t.handlings} handlings, open {clock(t.open_s)}{guess}, longest {clock(t.longest_s)}; "
        f"incidents {t.incidents}, unusual {t.unusual}"
    )
    if dosed := [f"{s.key} {s.net_mg:.2f} mg" for s in by_substance if s.net_mg]:
        more = f" and {len(dosed) - 6} more" if len(dosed) > 6 else ""
        yield f"dosed: {', '.join(dosed[:6])}{more}"


def first_day(until: date) -> date:
    """Give the first day of the weeks that are drawn.

    >>> first_day(date(2026, 3, 4)).isoformat()
    '2026-01-12'
    """
    return periods.monday_of(until) - timedelta(weeks=WEEKS - 1)


def weeks(found: Sequence[Total], *, since: str = "", until: date, width: int) -> tuple[str, ...]:
    """Draw the minutes open of the last weeks, weeks without any included, none before a day that is asked.

    >>> from store.queries.totals import Total
    >>> one = Total("2026-W10", 2, 0.0, 120.0, 1, 60.0, 60.0, 0, 0)
    >>> weeks([one], until=date(2026, 3, 2), width=47)[-1]
    '2026-W10  ███████░░░  2:00 and ~1:00'
    """
    sums = {t.key: t for t in found}
    last = periods.monday_of(until)
    mondays = (last - timedelta(weeks=n) for n in reversed(range(WEEKS)))
    names = [periods.week_of(m.isoformat()) for m in mondays if (m + timedelta(days=6)).isoformat() >= since]
    minutes = {w: (sums[w].open_s / 60, sums[w].estimated_s / 60) if w in sums else (0.0, 0.0) for w in names}
    most = max((a + b for a, b in minutes.values()), default=0.0)
    room = max(10, width - 38)
    out = [f"time open a week in minutes and seconds, {FULL} measured, {GUESS} estimated (~)"]
    for week, (measured, guessed) in minutes.items():
        bars = FULL * _signs(measured, most, room) + GUESS * _signs(guessed, most, room)
        said = clock(60 * measured) + (f" and {clock(60 * guessed, estimated=True)}" if guessed else "")
        out.append(f"{week}  {pad(bars, room)}  {said if measured or guessed else '–'}".rstrip())
    return tuple(out)


def _signs(minutes: float, most: float, room: int) -> int:
    """However little it is, it is seen."""
    return max(1, round(room * minutes / most)) if minutes and most else 0
