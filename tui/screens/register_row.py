"""One row of a register, whole, with what the record knows about it besides."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import ClassVar

from store.exchange.said import RETENTION
from store.hazards import families
from store.model.registers import Substance, columns
from store.model.settings import SETTINGS
from store.queries import exposures, log, lots, preps, registers, totals
from store.queries.asked import asked
from store.queries.registers import RegisterRow
from store.units import fixed
from tui.commands import BACK, HELP, PAGE, Command
from tui.guide.view import clock
from tui.screens import plan_words
from tui.screens.desk import Desk
from tui.screens.frame import wrapped
from tui.screens.reading import Reading
from tui.screens.registers import in_words
from tui.screens.tabled import tabled

SHOWN = 20
"""Preps and links named on a page; the past preps show all."""


class RegisterRowScreen(Reading[None]):
    """Every field with its meaning, then what was done with it."""

    CSS_PATH = ["frame.tcss", "register_row.tcss"]
    KEYS: ClassVar[tuple[Command, ...]] = (PAGE, BACK, HELP)
    HELP_LINES = (
        "A row as it stands now, then what the record knows about it, then every entry that made it so.",
    )

    def __init__(self, desk: Desk, register: str, id: str) -> None:
        super().__init__(desk)
        self.row = registers.row(desk.record, register, id)
        self.NAME = f"{register.capitalize()} {id}"

    def right(self) -> str:
        """Say whether it is in use."""
        return "RETIRED" if self.row.retired else "in use"

    def text(self, width: int) -> Sequence[str]:
        """Give the fields, what is known besides, and the entries."""
        out = list(_fields(self.row, width))
        if more := tuple(_BESIDES.get(self.row.register, _nothing)(self.desk, self.row, width)):
            out += ["", *more]
        rows = []
        for x in log.of_subject(self.desk.record, f"{self.row.register}:{self.row.id}"):
            at = f"{self.desk.local_time(x.at):%Y-%m-%d %H:%M}"
            rows.append((str(x.entry), at, x.person, x.says))
        return (*out, "", *tabled(("entry", "at", "who", "what"), rows, width))


def _fields(row: RegisterRow, width: int) -> Iterator[str]:
    for of in columns(row.register):
        text = in_words([row.row.get(of.name, "")])
        if text:
            label, what = f"{of.name.replace('_', ' '):<18}", of.metadata["what"]
            said = "" if what == of.name else f"   ({what})"
            yield from wrapped((f"{label}{text}{said}",), width, indent=" " * 18)


Besides = Callable[[Desk, RegisterRow, int], Iterator[str]]


def _nothing(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    yield from ()


def _substance(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    of = Substance.from_body(row.row)
    yield from wrapped((f"hazards now: {plan_words.hazards(of)}",), width, indent="  ")
    yield from _preps(desk, preps.past(desk.record, substance=row.id, limit=SHOWN), width)


def _preps(desk: Desk, found: Sequence[preps.PrepRow], width: int) -> Iterator[str]:
    from tui.screens.past_preps import known, result

    rows = [(p.prep, p.planned_day, p.status, result(p) or p.target, "; ".join(known(p))) for p in found]
    yield from tabled(("prep", "planned", "status", "result, or target", "to be known"), rows, width)


def _lot(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    found = lots.trace(desk.record, row.id)
    if found.stale:
        yield from wrapped((f"STALE: {found.stale}",), width, indent="  ")
    rows = [
        (s.container, _grams(s.left_mg), str(s.times_opened), s.opened_on, s.last_day)
        for s in lots.stock_of_lot(desk.record, row.id)
    ]
    yield from tabled(
        ("container", "left by the record", "opened, times", "first on", "use until"), rows, width
    )
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


def _grams(mass_mg: float | None) -> str:
    return "not known" if mass_mg is None else f"about {fixed(mass_mg / 1000, 3, 'g')}"


def _container(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    s = lots.stock(desk.record, row.id)
    yield f"substance {s.substance}, {_grams(s.left_mg)} left by the record"
    yield f"opened {s.times_opened} times" + (f", first on {s.opened_on}" if s.opened_on else "")
    if s.last_day:
        yield f"use until {s.last_day}"


def _balance(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
    from store.queries import due

    for d in due.checks(desk.record, within_days=365):
        if d.register == row.register and d.id == row.id:
            yield f"due: {d.what} {d.day or 'now'}{f', {d.why}' if d.why else ''}"


def _person(desk: Desk, row: RegisterRow, width: int) -> Iterator[str]:
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
