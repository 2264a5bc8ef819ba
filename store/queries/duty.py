"""Lists that law or a works council asks for: who was exposed to CMR category 1, and totals without names."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

from store.errors import BadInput
from store.queries import classified, incidents, monitoring, periods, rolled
from store.queries.asked import asked
from store.queries.incidents import UNUSUAL
from store.queries.monitoring import Measured
from store.queries.totals import Total, totals
from store.record.record import Record

CMR_1 = "CMR_1"
"""Hazard family of carcinogens, mutagens and reprotoxic substances of category 1A or 1B."""

FEWEST = 3
"""Rows of fewer people are withheld in totals without names: the threshold rule, common practice."""


@dataclass(frozen=True, slots=True)
class CmrRow:
    """One person, one year, one substance of CMR category 1, as it was classified at each handling."""

    person: str
    name: str
    employer: str
    year: str
    substance: str
    substance_name: str
    cas: str
    statements: tuple[str, ...]
    edition: tuple[str, ...]
    form: str
    """As it stands in the register."""
    tasks: tuple[str, ...]
    """Steps of preps, and what was done apart from them."""
    handlings: int
    net_mg: float
    open_s: float
    """Measured."""
    estimated_s: float
    longest_s: float
    incidents: int
    unusual: int
    enclosures: tuple[str, ...]
    places: tuple[str, ...]
    """What these enclosures are, as they stand in the register."""
    enclosure_tests: tuple[str, ...]
    """Until when their leak or air flow test held, by the rows that stood during the year."""
    equipment: tuple[str, ...]
    """Gloves as noted, and what was fit tested for the person."""
    measured: tuple[str, ...]
    """Results of the year: of the person's air, and of air and surfaces at these enclosures."""
    entered_by: tuple[str, ...]
    first_day: str
    last_day: str


NOT_MEASURED = "not measured"
NO_TEST = "no test in the register"


def cmr_register(record: Record, *, person: str = "", since: str = "", until: str = "") -> tuple[CmrRow, ...]:
    """Give who handled which substance of CMR category 1, year by year.

    Raises
    ------
    BadDate
        A period that is none.
    """
    return tuple(cmr_rows(record, person=person, since=since, until=until))


def cmr_rows(record: Record, *, person: str = "", since: str = "", until: str = "") -> Iterator[CmrRow]:
    """Give the same one person after the other, so that a register of everybody is never held whole."""
    which = asked(record, person=person, family=CMR_1, since=since, until=until)
    wrong: dict[tuple[str, str, str], list[int]] = {}
    for i in incidents.of(record, which):
        for someone in i.present:
            for substance in i.substances:
                counts = wrong.setdefault((someone, i.day[:4], substance), [0, 0])
                counts[i.what == UNUSUAL] += 1
    of = _Places(record)
    for someone in (person,) if person else _with_family(record):
        found = record.query(
            _CMR.format(period=which.on("", "hs.day")), **{**which.scope, "person": someone}, family=CMR_1
        )
        for r in found:
            yield _cmr(dict(r), wrong.get((r["person"], r["year"], r["substance"]), [0, 0]), of)


def _with_family(record: Record) -> tuple[str, ...]:
    found = record.query(
        "SELECT DISTINCT person FROM yearly_family WHERE family = :family AND person <> '' ORDER BY person",
        family=CMR_1,
    )
    return tuple(r["person"] for r in found)


_CMR = """
    WITH handled AS (
        SELECT hs.person, substr(hs.day, 1, 4) AS year, hs.substance,
               json_group_array(DISTINCT hs.snapshot) AS snapshots,
               json_group_array(DISTINCT h.enclosure) AS enclosures,
               json_group_array(DISTINCT h.gloves) AS gloves,
               json_group_array(DISTINCT iif(h.step_name = '', h.what, h.step_name)) AS tasks,
               json_group_array(DISTINCT coalesce(
                   (SELECT n.person FROM exposure_note AS n WHERE n.entry = h.noted_entry),
                   (SELECT j.person FROM journal AS j WHERE j.entry = h.entry))) AS entered_by,
               count(*) AS handlings, round(sum(hs.net_mg), 6) AS net_mg,
               round(sum(CASE WHEN hs.estimated THEN 0 ELSE hs.open_s END), 3) AS open_s,
               round(sum(CASE WHEN hs.estimated THEN hs.open_s ELSE 0 END), 3) AS estimated_s,
               max(hs.open_s) AS longest_s, min(hs.day) AS first_day, max(hs.day) AS last_day
        FROM handling_substance AS hs
        CROSS JOIN handling AS h ON h.entry = hs.handling
        WHERE hs.person = :person AND hs.counts{period} AND hs.snapshot IN (
            SELECT s.id FROM hazard_snapshot AS s JOIN json_each(s.families) AS f WHERE f.value = :family)
        GROUP BY year, hs.substance
    )
    SELECT hd.person, hd.year, hd.substance, hd.enclosures, hd.gloves, hd.tasks, hd.entered_by,
           coalesce(what.form, '') AS form, coalesce(who.fit_test, '') AS fit_test,
           hd.handlings, hd.net_mg, hd.open_s,
           hd.estimated_s, hd.longest_s, hd.first_day, hd.last_day,
           coalesce(who.name, '') AS name, coalesce(who.employer, '') AS employer,
           coalesce(what.name, '') AS substance_name, coalesce(what.cas, '') AS cas,
           (SELECT json_group_array(statements) FROM hazard_snapshot
            WHERE id IN (SELECT value FROM json_each(hd.snapshots))) AS statements,
           (SELECT json_group_array(DISTINCT edition) FROM hazard_snapshot
            WHERE id IN (SELECT value FROM json_each(hd.snapshots))) AS edition
    FROM handled AS hd
    LEFT JOIN person AS who ON who.id = hd.person
    LEFT JOIN substance AS what ON what.id = hd.substance
    ORDER BY hd.year, hd.substance
"""


def _cmr(r: dict[str, Any], wrong: list[int], of: "_Places") -> CmrRow:
    lists = {n: _listed(r.pop(n)) for n in _LISTS}
    worn, fit = lists.pop("gloves"), r.pop("fit_test")
    places = lists["enclosures"]
    year = str(r["year"])
    return CmrRow(
        **{**r, **lists, "statements": _codes(r["statements"])},
        places=of.names(places),
        enclosure_tests=of.tests(places, year),
        equipment=(*worn, *((f"fit tested: {fit}",) if fit else ())),
        measured=of.measured(places, person=r["person"], substance=r["substance"], year=year),
        incidents=wrong[0],
        unusual=wrong[1],
    )


# The rows of a register repeat the same few texts thousands of times.
@lru_cache(maxsize=1024)
def _listed(text: str) -> tuple[str, ...]:
    return tuple(sorted(v for v in json.loads(text) if v))


@lru_cache(maxsize=1024)
def _codes(text: str) -> tuple[str, ...]:
    return classified.codes(s for one in json.loads(text) for s in json.loads(one))


_LISTS = ("edition", "enclosures", "gloves", "tasks", "entered_by")


class _Places:
    """Enclosures through the years, and what was measured at them; each is looked up once."""

    def __init__(self, record: Record) -> None:
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
        self._measured: dict[str, list[Measured]] = {}
        for result in monitoring.of(record):
            self._measured.setdefault(result.substance, []).append(result)

    def names(self, places: Sequence[str]) -> tuple[str, ...]:
        return tuple(self._names.get(id) or id for id in places)

    def tests(self, places: tuple[str, ...], year: str) -> tuple[str, ...]:
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
        held = [
            m
            for m in self._measured.get(substance, ())
            if m.day[:4] == year and (m.who == person if m.who else not m.enclosure or m.enclosure in places)
        ]
        return tuple(monitoring.shown(m) for m in reversed(held)) or (NOT_MEASURED,)


@dataclass(frozen=True, slots=True)
class NamelessTotal:
    """One total without names; where fewer than `FEWEST` people stand behind it, no figure is given."""

    key: str
    people: str
    """A number, or `fewer than 3`."""
    total: Total | None


def without_names(
    record: Record, by: Literal["substance", "family"] = "family", *, since: str = "", until: str = ""
) -> tuple[NamelessTotal, ...]:
    """Add the exposure log up without names.

    Raises
    ------
    BadInput
        A key other than substance or family.
    """
    if by not in ("substance", "family"):
        raise BadInput(f"{by!r}: totals without names are by substance or by family.")
    which = replace(asked(record, since=since, until=until), person="")
    people = {r["key"]: r["n"] for r in record.query(rolled.people(which, by), **which.scope)}
    out = []
    for total in totals(record, by, since=periods.since(since), until=periods.until(until)):
        n = people.get(total.key, 0)
        enough = n >= FEWEST
        out.append(
            NamelessTotal(total.key, str(n) if enough else f"fewer than {FEWEST}", total if enough else None)
        )
    return tuple(out)
