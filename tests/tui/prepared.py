"""Records of the small site as they stand at every act of one whole prep, made once, copied for each use."""

import shutil
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from random import Random
from tempfile import mkdtemp

from store.model.prep import Plan
from store.record.record import Record
from tests import several, site
from tui.guide.guide import Guide
from tui.guide.player import Player


@dataclass(frozen=True)
class Moment:
    """A record as it stands when an act is open, and the time then."""

    path: Path
    prep: str
    at_s: float
    step: int
    act: str
    """Key of the open act; `end` when all are done."""

    @property
    def name(self) -> str:
        return f"{self.step}-{self.act}"

    def copy(self, to: Path) -> Path:
        """Give a copy to be used up."""
        return Path(shutil.copy(self.path, to))

    def clock(self) -> site.TestClock:
        """Give a clock that stands at the moment."""
        clock = site.TestClock()
        clock.time.now_s = self.at_s
        return clock


def _kept(path: Path, to: Path) -> None:
    """Copy a record as it stands; a backup would verify each of fifty copies."""
    with closing(sqlite3.connect(path)) as made, closing(sqlite3.connect(to, isolation_level=None)) as out:
        out.execute("PRAGMA synchronous = OFF")
        made.backup(out)
        out.execute("PRAGMA journal_mode = DELETE")


@cache
def moments(plan: Plan = site.PLAN, *, now: bool = False) -> Mapping[str, Moment]:
    """Walk a prep once and give the record at each act that was open, in order.

    With `now` it is made for a real process, which has the real clock: the walk ended just before, nothing
    expires, the balance is one that is read by eye, people have numbers for the keypad.
    """
    folder = Path(mkdtemp())
    clock = site.TestClock()
    if now:
        clock.time.now_s = (datetime.now(UTC) - site.START).total_seconds() - 1800.0  # noqa: TID251
    found: dict[str, Moment] = {}
    with site.begin(folder / "made.tarebook", clock) as record:
        if plan.parts:
            several.begin(record)
        if now:
            for_a_process(record)
        prep = site.planned(record, plan)
        planned = Moment(folder / "planned", prep, clock.time(), 0, "planned")
        found["planned"] = planned
        _kept(record.path, planned.path)

        def keep(guide: Guide) -> bool:
            if guide.on_page or guide.asks:
                return False
            act = guide.state.act.key if guide.state.act is not None else "end"
            moment = Moment(folder / f"{guide.state.step}-{act}", prep, clock.time(), guide.state.step, act)
            if moment.name not in found:
                _kept(record.path, moment.path)
                found[moment.name] = moment
            return False

        Player(site.guide(record, prep, clock), time=clock.time, chance=Random(3), show=lambda _: None).play(
            until=keep
        )
    return found


def for_a_process(record: Record) -> None:
    """Change the rows of the site to what a real process can be driven with."""
    numbers = {"op-1": "11", "op-2": "12", "so-1": "21"}
    known = {r["id"] for r in record.query("SELECT id FROM register_row")}
    for register, row in (*site.ROWS, *several.ROWS):
        if row["id"] not in known:
            continue
        if register == "balance":
            site.put(record, register, row | {"source": "typed"})
        elif register == "lot":
            site.put(record, register, row | {"expiry": "2199-12-31"})
        elif row["id"] in numbers:
            site.put(record, register, row | {"number": numbers[row["id"]]})


def opened(path: Path, clock: site.TestClock) -> Record:
    """Open a copy."""
    return Record.open(path, now=clock, terminal="7F3A")
