"""What the screens and the shell ask of a lot that is in nearly every prep: lot W, container W-1, of `lab`.

Each as a screen asks it, or as a command does until its first rows are out.
"""

from collections.abc import Callable
from itertools import islice
from typing import Any

from store.queries import (
    exposures,
    incidents,
    lots,
    preps,
    recalled,
    registers,
    revised,
    spread,
    stale,
    taken,
    trace,
    unusable,
)
from store.queries.asked import asked
from store.record.record import Record

LOT, CONTAINER = "W", "W-1"

ASKED: dict[str, Callable[[Record], Any]] = {
    "what was made of the solvent of all": lambda r: trace.trace(r, LOT, newest=200),
    "uses of the solvent of all, the first 200": lambda r: tuple(islice(trace.each(r, LOT), 200)),
    "recall of the solvent of all": lambda r: recalled.newest(r, LOT, 200),
    "recall of the solvent of all, the first 200": lambda r: tuple(islice(recalled.each(r, LOT), 200)),
    "revised certificate of the solvent of all": lambda r: revised.newest(r, LOT, 40),
    "revised certificate of it, the first 40": lambda r: tuple(islice(revised.each(r, LOT), 40)),
    "what is left of the solvent of all": lambda r: lots.stock(r, CONTAINER),
    "how much was taken of the solvent of all": lambda r: taken.of_lot(r, LOT),
    "page of the solvent lot of all": lambda r: (
        registers.row(r, "lot", LOT),
        trace.trace(r, LOT, newest=20),
        lots.stock_of_lot(r, LOT),
        stale.stale_above(r, LOT),
        spread.few(r, LOT),
        unusable.of(r, CONTAINER),
    ),
    "past preps of the solvent lot of all": lambda r: preps.past(r, lot=LOT, limit=201),
    "handlings of it, of a person": lambda r: exposures.of(r, lot=LOT, person="op-3", limit=201),
    "handlings of it, of a family": lambda r: exposures.of(r, lot=LOT, family="CMR_1", limit=201),
    "handlings of it, of a year": lambda r: exposures.of(r, lot=LOT, since="2018", until="2018", limit=201),
    "what went wrong with the solvent of all": lambda r: incidents.of(r, asked(r, lot=LOT)),
}

OF_LAB = (
    "revised certificate of the solvent of all",
    "revised certificate of it, the first 40",
    "recall of the solvent of all, the first 200",
)
"""Those that read the journal, or containers of what was made: the small million has neither."""
