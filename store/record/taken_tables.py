"""Fold what is taken of containers and lots: every change is a whole number added, never a sum made anew."""

import json
import sqlite3
from collections.abc import Iterable
from math import isfinite

from store.procedure.done import DISCARDED, NEVER, DoseDone, HandlingDone
from store.procedure.state import PrepState
from store.record.taken_shape import LARGE_MG, TENTH_NG

_ABOVE = """
    WITH RECURSIVE above(lot, substance) AS (
        SELECT lot, substance FROM used_lot WHERE prep = :prep
        UNION
        SELECT u.lot, a.substance
        FROM above AS a JOIN made AS m ON m.lot = a.lot JOIN used_lot AS u ON u.prep = m.prep
    )
    SELECT lot, substance FROM above
"""
"""The lots that a prep uses and all that they were made of, each with the substance that is then open."""

_BELOW = """
    WITH RECURSIVE below(prep) AS (
        SELECT prep FROM used_lot WHERE lot IN (SELECT value FROM json_each(:lots))
        UNION
        SELECT u.prep FROM below AS b JOIN made AS m ON m.prep = b.prep JOIN used_lot AS u ON u.lot = m.lot
    )
    SELECT prep FROM below
"""
"""Preps that use one of the lots, or what was made of it."""


_COLUMNS = (
    "openings", "preps", "doses", "used_tenth_ng", "wasted_tenth_ng", "discarded_tenth_ng", "large",
    "rehearsed",
)  # fmt: skip

_OPENINGS, _PREPS, _DOSES, _REHEARSED = 0, 1, 2, 7
"""Where they stand; from doses on, in the order of `_counts`."""

_SINCE = "SELECT coalesce(max(entry), 0) FROM stocktake WHERE container = ? AND entry < ?"

_OTHER = f"""EXISTS (
    SELECT 1 FROM dose INDEXED BY dose_prep
    WHERE prep = ? AND lot = ? AND entry {{}} ? AND state <> '{NEVER}'
)"""

_BESIDE = f"SELECT ({_SINCE}), {_OTHER.format('<')}"
"""The stocktake before a dose, and whether its prep has an earlier dose of the lot."""

_UPTO = """
    SELECT coalesce((SELECT entry FROM taken_upto), 0), coalesce((SELECT max(entry) FROM dose), 0)
"""

_AFTER = """
    SELECT d.container, d.entry, d.lot, d.person, d.net_mg, d.usable, p.rehearsal, d.prep
    FROM dose AS d JOIN prep AS p ON p.prep = d.prep WHERE d.entry > ? ORDER BY d.entry
"""

_ADD = f"""
    INSERT INTO taken VALUES ({", ".join("?" * (4 + len(_COLUMNS)))})
    ON CONFLICT DO UPDATE SET {", ".join(f"{name} = {name} + excluded.{name}" for name in _COLUMNS)}
"""

_Key = tuple[str, int, str, str]
"""Container, entry of the stocktake before, lot, person."""


class Taken:
    """What is to be added; kept until `settle` writes it."""

    def __init__(self, conn: sqlite3.Connection) -> None:
        self._conn = conn
        self._sums: dict[_Key, list[int]] = {}
        self._handlings: list[tuple[str, int]] = []
        self._above: tuple[str, list[tuple[str, str]]] = ("", [])

    def forget(self) -> None:
        """Drop what is not written, and what was read."""
        self._sums.clear()
        self._handlings.clear()
        self._above = ("", [])

    def settle(self) -> None:
        """Add what waits to the sums."""
        if self._sums:
            self._conn.executemany(_ADD, [(*of, *added) for of, added in sorted(self._sums.items())])
            self._sums.clear()
        if self._handlings:
            self._settle_handlings()
        # Another program may make what this prep was made of before the next entry.
        self._above = ("", [])

    def _settle_handlings(self) -> None:
        """Write them lot by lot: each lot's stand together in the file."""
        self._conn.executemany("INSERT OR IGNORE INTO lot_handling VALUES (?, ?)", sorted(self._handlings))
        self._handlings.clear()

    # ---- doses ----

    def catch_up(self) -> None:
        """Add the doses that were written since the last entry that was none; they all stand."""
        upto, last = self._conn.execute(_UPTO).fetchone()
        if last <= upto:
            return
        for container, entry, lot, person, net_mg, usable, rehearsal, prep in self._conn.execute(
            _AFTER, (upto,)
        ):
            since, another = self._conn.execute(_BESIDE, (container, entry, prep, lot, entry)).fetchone()
            sums = self._of(container, since, lot, person)
            if rehearsal:
                sums[_REHEARSED] += 1
                continue
            for n, added in enumerate(_counts(net_mg, usable=usable), _DOSES):
                sums[n] += added
            if lot and not another:
                sums[_PREPS] += 1
        self._conn.execute("INSERT OR REPLACE INTO taken_upto VALUES (1, ?)", (last,))

    def changed(self, state: PrepState, lot: str, had: DoseDone, now: DoseDone) -> None:
        """Take what a dose is now, in the place of what it was; its row stands in the file already."""
        was, is_now = _of_dose(had), _of_dose(now)
        (since,) = self._conn.execute(_SINCE, (now.container, now.entry)).fetchone()
        sums = self._of(now.container, since, lot, now.person)
        if state.plan.rehearsal:
            sums[_REHEARSED] += is_now[0] - was[0]
            return
        for n, (before, after) in enumerate(zip(was, is_now, strict=True), _DOSES):
            sums[n] += after - before
        if lot and was[0] != is_now[0] and not self._another(state.prep, lot, now.entry):
            sums[_PREPS] += is_now[0] - was[0]

    def _another(self, prep: str, lot: str, entry: int) -> bool:
        """Whether the prep has another dose of the lot."""
        return bool(self._conn.execute(f"SELECT {_OTHER.format('<>')}", (prep, lot, entry)).fetchone()[0])

    def _of(self, container: str, since: int, lot: str, person: str) -> list[int]:
        return self._sums.setdefault((container, since, lot, person), [0] * len(_COLUMNS))

    # ---- handlings ----

    def opened(self, state: PrepState, lot: str, handling: HandlingDone, times: int) -> None:
        """Count the opening of a container; minus one takes back what never happened."""
        if handling.container and not state.plan.rehearsal:
            (since,) = self._conn.execute(_SINCE, (handling.container, handling.entry)).fetchone()
            self._of(handling.container, since, lot, handling.person)[_OPENINGS] += times

    def handled(self, prep: str, handling: HandlingDone) -> None:
        """File a new handling under every lot that it had open, itself or in what was made of it."""
        self._handlings += [(lot, handling.entry) for lot in self._open(prep, handling.substances)]

    def _open(self, prep: str, substances: Iterable[str]) -> set[str]:
        if self._above[0] != prep:
            self._above = (prep, self._conn.execute(_ABOVE, {"prep": prep}).fetchall())
        held = set(substances)
        return {lot for lot, substance in self._above[1] if substance in held}

    def making(self, prep: str, lots: Iterable[str]) -> tuple[str, ...]:
        """Give the preps whose handlings stand under other lots once a prep has made these; filed under none.

        Mostly none: of a lot that was just made nothing was taken. In a dilution of several vessels it is the
        prep itself, whose vessels are made of one another. `made` files them again, when the lots stand.
        """
        had = {r[0] for r in self._conn.execute("SELECT lot FROM made WHERE prep = ?", (prep,))}
        now = set(lots)
        if had == now:
            return ()
        found = self._conn.execute(_BELOW, {"lots": json.dumps(sorted(had | now))}).fetchall()
        below = tuple(r[0] for r in found)
        if below:
            self._settle_handlings()
        for one in below:
            rows = [(lot, entry) for entry, held in self._of_prep(one) for lot in self._open(one, held)]
            self._conn.executemany("DELETE FROM lot_handling WHERE lot = ? AND handling = ?", rows)
        self._above = ("", [])
        return below

    def made(self, below: Iterable[str]) -> None:
        """File the handlings of preps under the lots as they stand now."""
        for one in below:
            self._handlings += [
                (lot, entry) for entry, held in self._of_prep(one) for lot in self._open(one, held)
            ]

    def _of_prep(self, prep: str) -> list[tuple[int, list[str]]]:
        found = self._conn.execute("SELECT entry, substances FROM handling WHERE prep = ?", (prep,))
        return [(entry, json.loads(held)) for entry, held in found]


def _of_dose(dose: DoseDone) -> tuple[int, int, int, int, int]:
    if dose.state == NEVER:
        return 0, 0, 0, 0, 0
    return _counts(dose.net_mg, usable=dose.usable, discarded=dose.state == DISCARDED)


def _counts(net_mg: float, *, usable: bool, discarded: bool = False) -> tuple[int, int, int, int, int]:
    """Give what a dose adds: doses, used, wasted, discarded, large."""
    if not isfinite(net_mg) or abs(net_mg) >= LARGE_MG:
        return 1, 0, 0, 0, 1
    mass = round(net_mg * TENTH_NG)
    return 1, mass, mass if discarded or not usable else 0, mass if discarded else 0, 0
