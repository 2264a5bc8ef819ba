"""What stands beside a line of the CMR register, and is the same in many: names, classes, places, results."""

import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from store.queries import classified, monitoring
from store.queries.monitoring import Measured
from store.record.record import Record

NOT_MEASURED = "not measured"
NO_TEST = "no test in the register"


_UNKNOWN: Mapping[str, str] = dict.fromkeys(("name", "employer", "fit_test", "cas", "form"), "")
"""Of a person or a substance that is not in the register."""


# The rows of a register repeat the same few texts thousands of times.
@lru_cache(maxsize=1024)
def listed(text: str) -> tuple[str, ...]:
    """Give the texts of a JSON list in order, without empty ones.

    >>> listed('["nitrile", "", "butyl"]')
    ('butyl', 'nitrile')
    """
    return tuple(sorted(v for v in json.loads(text) if v))


class Beside:
    """Names, classes, enclosures through the years, and what was measured at them; each is looked up once."""

    def __init__(self, record: Record) -> None:
        self._record = record
        self._names = {
            r["id"]: r["name"]
            for r in record.query(
                "SELECT id, row ->> '$.name' AS name FROM register_row WHERE register = 'enclosure'"
            )
        }
        self._history = record.query(
            "SELECT id, substr(at, 1, 10) AS day, coalesce(row ->> '$.test_due', '') AS due "
            "FROM register_history WHERE register = 'enclosure' ORDER BY entry"
        )
        self._tests: dict[tuple[tuple[str, ...], str], tuple[str, ...]] = {}
        self._people: dict[str, Mapping[str, str]] = {}
        self._substances: dict[str, Mapping[str, str]] = {}
        self._snapshots: dict[int, Mapping[str, str]] = {}
        self._classes: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {}
        self._measured: dict[str, list[Measured]] = {}
        for result in monitoring.of(record):
            self._measured.setdefault(result.substance, []).append(result)

    def person(self, id: str) -> Mapping[str, str]:
        """Give name, employer and what was fit tested, as they stand in the register."""
        if id not in self._people:
            found = self._record.query("SELECT name, employer, fit_test FROM person WHERE id = :id", id=id)
            self._people[id] = found[0] if found else _UNKNOWN
        return self._people[id]

    def substance(self, id: str) -> Mapping[str, str]:
        """Give name, CAS number and form, as they stand in the register; empty where nothing does."""
        return self._substances[id]

    def classified(self, snapshots: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Give the codes and the editions of hazard snapshots, whose numbers come as JSON."""
        if (known := self._classes.get(snapshots)) is not None:
            return known
        taken = [self._snapshots[id] for id in sorted(json.loads(snapshots))]
        codes = classified.codes(s for one in taken for s in json.loads(one["statements"]))
        editions = tuple(sorted({one["edition"] for one in taken if one["edition"]}))
        self._classes[snapshots] = codes, editions
        return codes, editions

    def meet(self, rows: Sequence[Mapping[str, Any]]) -> None:
        """Look up all substances and hazard snapshots of some rows that were in none before."""
        held = "SELECT value FROM json_each(:ids)"
        if ids := sorted({r["substance"] for r in rows} - self._substances.keys()):
            self._substances |= dict.fromkeys(ids, _UNKNOWN)
            sql = f"SELECT id, name, cas, form FROM substance WHERE id IN ({held})"
            self._substances |= {r["id"]: r for r in self._record.query(sql, ids=json.dumps(ids))}
        taken = {id for text in {r["snapshots"] for r in rows} for id in json.loads(text)}
        if ids := sorted(taken - self._snapshots.keys()):
            sql = f"SELECT id, statements, edition FROM hazard_snapshot WHERE id IN ({held})"
            self._snapshots |= {r["id"]: r for r in self._record.query(sql, ids=json.dumps(ids))}

    def names(self, places: Sequence[str]) -> tuple[str, ...]:
        """Give what enclosures are called, as it stands in the register; the id of one without a name."""
        return tuple(self._names.get(id) or id for id in places)

    def tests(self, places: tuple[str, ...], year: str) -> tuple[str, ...]:
        """Give until when the test of each enclosure held, by the rows that stood during a year."""
        if (known := self._tests.get((places, year))) is not None:
            return known
        out = []
        for id in places:
            before = [r["due"] for r in self._history if r["id"] == id and r["day"][:4] < year][-1:]
            within = [r["due"] for r in self._history if r["id"] == id and r["day"][:4] == year]
            held = [d for d in dict.fromkeys((*before, *within)) if d]
            out.append(f"{id}: held until {', '.join(held)}" if held else f"{id}: {NO_TEST}")
        self._tests[places, year] = tuple(out)
        return tuple(out)

    def measured(self, places: Sequence[str], *, person: str, substance: str, year: str) -> tuple[str, ...]:
        """Give the results of a year for a substance: of the person's air, and at these enclosures."""
        held = [
            m
            for m in self._measured.get(substance, ())
            if m.day[:4] == year and (m.who == person if m.who else not m.enclosure or m.enclosure in places)
        ]
        return tuple(monitoring.shown(m) for m in reversed(held)) or (NOT_MEASURED,)
