"""The whole terminal interface as a process of its own, in which time runs faster: `RECORD FROM_S`.

Nothing else is another one: the simulated balance settles, waits pass and things get old in scaled seconds,
and a key may follow the one before sooner. Only tests start it.
"""

import sys
import time
from datetime import datetime, timedelta
from pathlib import Path
from random import Random

from store.record.record import Record
from tests import site
from tui.app import TarebookApp
from tui.guide import keys
from tui.screens import step
from tui.screens.desk import Desk

PACE = 15.0
"""Seconds that pass in one."""
HZ = 20
"""The display is asked so often: a reading is old after a second of the faster time."""


def main() -> None:
    """Show the record, as if it were so many seconds after the site's first morning began."""
    path, from_s = Path(sys.argv[1]), float(sys.argv[2])
    begun_s = time.monotonic()

    def monotonic() -> float:
        return from_s + (time.monotonic() - begun_s) * PACE

    def now() -> datetime:
        return site.START + timedelta(seconds=monotonic())

    step.HZ = HZ
    keys.HELD_S = 1.0 / PACE
    keys.KeyMachine.__init__.__defaults__ = (keys.ACT_GAP_S / PACE, keys.QUIET_GAP_S / 5)
    with Record.open(path, now=now, terminal="7F3A") as record:
        desk = Desk(
            record=record, path=path, now=now, terminal="7F3A", monotonic=monotonic, chance=Random(7), seed=7
        )
        TarebookApp(desk).run(mouse=False)


if __name__ == "__main__":
    main()
