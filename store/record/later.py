"""What can be written once for many entries: rows of preps and handlings as they stand, words, sums of days.

After a single entry it is written at once; while a whole history is folded, every few thousand entries, so
that a row which ten entries change is written once. Until then no fold reads from the file what waits here.
"""

import json
import sqlite3
from typing import Any

from store.procedure.state import PrepState
from store.record.day_sums import DaySums
from store.record.found_shape import PREP_TEXT, SEARCH, TEXT
from store.record.prep_row import standing
from store.record.taken_tables import Taken

KEEP = 1024
"""So many preps' hazard snapshots are kept in memory."""

_IN_TEXT = {"made_lot", "label"}
"""What a prep is found by in the list, and may change."""

Found = tuple[str, str, str]
"""Kind, id and words of a row of the search."""


class Later:
    """Changes that wait for `settle`."""

    def __init__(self, conn: sqlite3.Connection) -> None:
        self.conn, self.days, self.taken = conn, DaySums(conn), Taken(conn)
        self._preps: dict[str, tuple[PrepState, PrepState, dict[str, Any]]] = {}
        self._texts: set[str] = set()
        self._handlings: dict[int, dict[str, Any]] = {}
        self._words: dict[int, tuple[Found | None, bool]] = {}
        self._hazards: dict[str, dict[str, int]] = {}

    def forget(self) -> None:
        """Drop what is not written, and what was read."""
        for kept in (self._preps, self._handlings, self._words, self._hazards):
            kept.clear()
        self._texts.clear()
        self.days.forget()
        self.taken.forget()

    def settle(self) -> None:
        """Write everything that waits, in the order of its tables."""
        self._settle_words()
        for prep, (was, now, beside) in self._preps.items():
            had = standing(was)
            changed = {k: v for k, v in standing(now).items() if had[k] != v} | beside
            self._update("prep", changed, "prep", prep)
            if changed.keys() & _IN_TEXT:
                self._texts.add(prep)
        self._preps.clear()
        self._settle_texts()
        for handling, changed in self._handlings.items():
            self._update("handling", changed, "entry", handling)
        self._handlings.clear()
        self.days.settle()
        self.taken.settle()

    def _update(self, table: str, changed: dict[str, Any], key: str, of: str | int) -> None:
        """Write only the columns that changed: an index is touched when its column is named."""
        if changed:
            assignments = ", ".join(f"{name} = ?" for name in changed)
            self.conn.execute(f"UPDATE {table} SET {assignments} WHERE {key} = ?", (*changed.values(), of))

    # ---- preps and handlings ----

    def prep(self, old: PrepState, new: PrepState, beside: dict[str, Any]) -> None:
        """Let the row of a prep go from one state to the next; `beside` is what no state holds."""
        was, _, so_far = self._preps.get(new.prep, (old, old, {}))
        self._preps[new.prep] = (was, new, so_far | beside)

    def planned(self, prep: str) -> None:
        """Let a new prep be found by its text."""
        self._texts.add(prep)

    def _settle_texts(self) -> None:
        """Write what preps are found by, in the order of their entries, as words are."""
        if not self._texts:
            return
        found = self.conn.execute(
            f"SELECT entry, {TEXT} FROM prep WHERE prep IN (SELECT value FROM json_each(?)) ORDER BY entry",
            (json.dumps(sorted(self._texts)),),
        ).fetchall()
        self.conn.executemany(f"INSERT OR REPLACE INTO {PREP_TEXT} (rowid, text) VALUES (?, ?)", found)
        self._texts.clear()

    def handling(self, entry: int, changed: dict[str, Any]) -> None:
        """Let columns of a handling change."""
        self._handlings.setdefault(entry, {}).update(changed)

    def hazard_of(self, prep: str, substance: str) -> int:
        """Give the hazard snapshot that a prep took of a substance when planned; 0 where it took none."""
        taken = self._hazards.get(prep)
        if taken is None:
            if len(self._hazards) >= KEEP:
                self._hazards.clear()
            rows = self.conn.execute("SELECT substance, snapshot FROM prep_hazard WHERE prep = ?", (prep,))
            taken = self._hazards[prep] = dict(rows.fetchall())
        return taken.get(substance, 0)

    # ---- words that a search finds ----

    def words(self, number: int) -> str | None:
        """Give the words at an entry; None where there are none."""
        if number in self._words:
            found, _ = self._words[number]
            return found[2] if found is not None else None
        row = self.conn.execute(f"SELECT words FROM {SEARCH} WHERE rowid = ?", (number,)).fetchone()
        return row[0] if row is not None else None

    def put_words(self, number: int, found: Found | None, *, new: bool) -> None:
        """Let words stand at an entry, or none; `new` says that none stood there before."""
        _, in_file = self._words.get(number, (None, not new))
        self._words[number] = (found, in_file)

    def _settle_words(self) -> None:
        """Write words in the order of their entries, since each step back costs the index a new segment."""
        for number, (found, in_file) in sorted(self._words.items()):
            if in_file:
                self.conn.execute(f"DELETE FROM {SEARCH} WHERE rowid = ?", (number,))
            if found is not None:
                self.conn.execute(
                    f"INSERT INTO {SEARCH} (rowid, kind, id, words) VALUES (?, ?, ?, ?)", (number, *found)
                )
        self._words.clear()
