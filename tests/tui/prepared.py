"""Records of the small site as they stand at every act of one whole prep, made once, copied for each use."""

import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from tempfile import mkdtemp

from store.model.prep import Plan
from store.record.backup import backup
from store.record.record import Record
from tests import site
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


@cache
def moments(plan: Plan = site.PLAN, balance_source: str = "simulated") -> Mapping[str, Moment]:
    """Walk a prep once and give the record at each act that was open, in order.

    Where the plan's balance is typed in the record, the walk itself still plays on a simulated one.
    """
    folder = Path(mkdtemp())
    clock = site.TestClock()
    found: dict[str, Moment] = {}
    with site.begin(folder / "made.tarebook", clock) as record:
        if balance_source != "simulated":
            row = dict(next(r for k, r in site.ROWS if k == "balance"))
            site.put(record, "balance", row | {"source": balance_source})
        prep = site.planned(record, plan)

        def keep(guide: Guide) -> bool:
            if guide.on_page or guide.asks:
                return False
            act = guide.state.act.key if guide.state.act is not None else "end"
            moment = Moment(folder / f"{guide.state.step}-{act}", prep, clock.time(), guide.state.step, act)
            if moment.name not in found:
                backup(record.path, moment.path)
                found[moment.name] = moment
            return False

        Player(site.guide(record, prep, clock), time=clock.time, chance=Random(3), show=lambda _: None).play(
            until=keep
        )
    return found


def opened(path: Path, clock: site.TestClock) -> Record:
    """Open a copy."""
    return Record.open(path, now=clock, terminal="7F3A")
