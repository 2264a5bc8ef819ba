"""What the record knows about a register row besides its fields."""

from collections.abc import Callable, Iterator, Mapping, Sequence

from store.actions.known import Known
from store.actions.registers import resting_on
from store.exchange.said import RETENTION
from store.hazards import families
from store.model.registers import Substance
from store.model.settings import SETTINGS
from store.queries import (
    due,
    exposures,
    lot_checks,
    lots,
    preps,
    rehearsals,
    rests_on,
    row_history,
    storage,
    taken,
    totals,
    unusable,
)
from store.queries.asked import asked
from store.queries.registers import RegisterRow
from store.queries.rehearsals import Practice
from store.units import clock, figure, rounded, weighed
from tui.screens import plan_words
from tui.screens.desk import Desk
from tui.screens.frame import wrapped
from tui.screens.register_fields import molar_mass
from tui.screens.tabled import tabled

SHOWN = 20
"""Preps and links named on a page; the past preps show all."""

AS_TRAINING = (
    "It can count as training if the keeper enters it in the field training, as "
    "`weigh_solid: {day} to` and the last day it holds."
)
"""Nothing counts by itself: somebody who may judge it does."""

Besides = Callable[[Desk, RegisterRow, int], Iterator[str]]


def beside(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    """Give the lines that stand below the fields of a row."""
    known = _BESIDES.get(row.register)
    if known is not None:
        yield from known(desk, row, width)
    resting = resting_on(Known(desk.record), row.register, row.id, most=SHOWN)
    if resting.ids:
        yield from wrapped((f"in use by {', '.join(resting.ids)}{resting.said}",), width, indent="  ")


def _since(desk: Desk, row: RegisterRow, field: str, what: str) -> Iterator[str]:
    """Say who made a field what it is, when and why."""
    history = row_history.history(desk.record, row.register, row.id)
    if not history or not row.row.get(field):
        return
    made = next((c for c in reversed(history) if any(d[0] == field for d in c.differs)), history[0])
    why = f": {made.reason}" if made.reason else ""
    yield f"{what} {row.row[field]}, by {made.by} on {desk.local_time(made.at):%Y-%m-%d %H:%M}{why}"


def _substance(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    of = Substance.from_body(row.row)
    if of.formula:
        yield f"molar mass {molar_mass(of.formula)}"
    for d in due.sheets(desk.record):
        if d.id == row.id:
            yield f"safety data sheet: {d.why}{', of ' + d.day if d.day else ''}"
    yield from wrapped((f"hazards now: {plan_words.hazards(of)}",), width, indent="  ")
    yield from _preps(desk, preps.past(desk.record, substance=row.id, limit=SHOWN), width)


def _preps(desk: Desk, found: Sequence[preps.PrepRow], width: int) -> Iterator[str]:
    from tui.screens.past_preps import known, result

    rows = [(p.prep, p.planned_day, p.status, result(p) or p.target, "; ".join(known(p))) for p in found]
    yield from tabled(("prep", "planned", "status", "result, or target", "to be known"), rows, width)


def _lot(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    for field, what in (("status", "status"), ("retest", "retest on")):
        yield from wrapped(tuple(_since(desk, row, field, what)), width, indent="  ")
    found = lots.trace(desk.record, row.id, newest=SHOWN)
    for line in rests_on.of_lot(desk.record, row.id):
        yield from wrapped((f"✗ {line}",), width, indent="  ")
    for undecided in lot_checks.undecided(desk.record, row.id):
        yield from wrapped((f"✗ {undecided.line}",), width, indent="  ")
    rows = [
        (s.container, _grams(s.left_mg), str(s.times_opened), s.opened_on, s.last_day)
        for s in lots.stock_of_lot(desk.record, row.id)
    ]
    yield from tabled(
        ("container", "left by the record", "opened, times", "first on", "use until"),
        rows,
        width,
    )
    checks = [
        (c.day, c.person, c.how, c.against, figure(c.ratio), c.said)
        for c in lot_checks.of(desk.record, row.id)[:SHOWN]
    ]
    yield from tabled(("held against", "by", "how", "which", "ratio", ""), checks, width)
    for title, links in (("made of", found.up), ("made of it", found.down)):
        linked = [
            (
                str(x.depth),
                x.parent if title == "made of" else x.child or "no lot",
                x.prep,
                f"{x.net_mg:.2f} mg",
                x.lot_status or x.prep_status,
            )
            for x in links[:SHOWN]
        ]
        if linked:
            names = ("generation", title, "prep", "went in", "status")
            yield from ("", *tabled(names, linked, width))
        if len(links) > SHOWN:
            yield f"and {len(links) - SHOWN} more: tarebook trace {row.id}"
    if not found.whole:
        yield from wrapped(
            (f"{taken.said(found.taken)} The newest are shown; all: tarebook trace {row.id} --format csv",),
            width,
            indent="  ",
        )


def _grams(mass_mg: float | None) -> str:
    return "not known" if mass_mg is None else f"about {weighed(mass_mg)}"


def _container(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    s = lots.stock(desk.record, row.id)
    yield f"substance {s.substance}, {_grams(s.left_mg)} left by the record, as displayed"
    yield f"opened {s.times_opened} times" + (f", first on {s.opened_on}" if s.opened_on else "")
    for stands in unusable.of(desk.record, row.id):
        yield f"✗ {stands}"
    for line in rests_on.of(desk.record, row.id):
        yield from wrapped((f"✗ {line}",), width, indent="  ")
    if s.last_day:
        yield f"use until {s.last_day}"
    if row.row.get("thaws_most"):
        yield f"thawed {lots.thawed(desk.record, row.id)} of {row.row['thaws_most']} times"
    if s.counted_mg is not None:
        off = "" if s.difference_mg is None else f", {s.difference_mg:+.1f} mg against the record"
        yield f"stocktake on {s.counted_on}: {_grams(s.counted_mg).removeprefix('about ')}{off}"
    sealed = storage.of(desk.record, row.id)
    if sealed.lost_mg > 0 and sealed.value is not None and sealed.u:
        value, u = rounded(sealed.value, sealed.u)
        yield f"in it now {value} {sealed.unit}, u {u}, if only solvent escaped"
    held = [
        (
            f"{desk.local_time(w.at):%Y-%m-%d %H:%M}",
            w.person,
            w.moment,
            w.shown,
            w.computed.get("loss_mg", ""),
            "LEAKS" if w.leaks else "",
        )
        for w in sealed.weighings[-SHOWN:]
    ]
    yield from tabled(("sealed, weighed", "by", "when", "gross", "lost mg", ""), held, width)


def _balance(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    for d in due.checks(desk.record, within_days=365):
        if d.register == row.register and d.id == row.id:
            yield f"due: {d.what} {d.day or 'now'}{f', {d.why}' if d.why else ''}"


def _person(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    yield from _practice(desk, row.id, width)
    acting = desk.acting
    if not exposures.may_see(acting.roles, acting.person, row.id):
        yield from wrapped(("The exposure log of another person is seen by a safety officer.",), width)
        return
    rows = [
        (str(t.handlings), clock(t.open_s + t.estimated_s), f"{t.key}, {families.name(t.key)}")
        for t in totals.of(desk.record, asked(desk.record, person=row.id), "family")
    ]
    yield from tabled(("handlings", "open", "hazard family, as classified then"), rows, width)
    yield ""
    yield from wrapped((RETENTION,), width)


def _practice(desk: Desk, person: str, width: int) -> Iterator[str]:
    """Give what the person's rehearsals come to, and how they are entered as training."""
    found = rehearsals.done(desk.record, person=person)
    for sums in rehearsals.practice(found):
        yield from wrapped((practised(sums),), width, indent="  ")
    rows = [
        (
            r.day,
            r.prep,
            clock(r.open_s),
            f"{r.deviation_percent:+.1f} %",
            str(r.portions),
            str(r.incidents or ""),
        )
        for r in found[:SHOWN]
    ]
    yield from tabled(("day", "rehearsal", "open", "off the aim", "portions", "incidents"), rows, width)
    if found:
        yield from wrapped((AS_TRAINING.format(day=found[0].day),), width, indent="  ")
        yield ""


def practised(sums: Practice) -> str:
    """Say what a person's rehearsals come to, in a line."""
    scatter = "" if sums.scatter_percent is None else f", scatter {sums.scatter_percent:.1f} %"
    times = "rehearsal" if sums.rehearsals == 1 else "rehearsals"
    return (
        f"{sums.rehearsals} {times}, the last on {sums.last_day}: open {clock(sums.open_s)} (median), "
        f"{sums.deviation_percent:+.1f} % off the aim{scatter}, incidents {sums.incidents}"
    )


def _setting(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    if row.id in SETTINGS:
        yield from wrapped(
            (f"{SETTINGS[row.id].what}; unset it is {SETTINGS[row.id].default or 'empty'}",), width
        )


_BESIDES: Mapping[str, Besides] = {
    "substance": _substance,
    "lot": _lot,
    "container": _container,
    "balance": _balance,
    "enclosure": _balance,
    "person": _person,
    "setting": _setting,
}
