"""Lists that law or a works council asks for: who was exposed to CMR category 1, and totals without names."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from store.errors import BadInput
from store.queries import incidents, periods, rolled
from store.queries.asked import asked
from store.queries.beside import Beside, listed
from store.queries.incidents import UNUSUAL
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
    of = Beside(record)
    for someone in (person,) if person else _with_family(record):
        found = record.query(
            _CMR.format(period=which.on("", "hs.day")), **{**which.scope, "person": someone}, family=CMR_1
        )
        of.meet(found)
        for r in found:
            yield _cmr(someone, r, wrong.get((someone, r["year"], r["substance"]), (0, 0)), of)


def _with_family(record: Record) -> tuple[str, ...]:
    found = record.query(
        "SELECT DISTINCT person FROM yearly_family WHERE family = :family AND person <> '' ORDER BY person",
        family=CMR_1,
    )
    return tuple(r["person"] for r in found)


_CMR = """
    SELECT substr(hs.day, 1, 4) AS year, hs.substance,
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
    GROUP BY year, hs.substance ORDER BY year, hs.substance
"""


def _cmr(person: str, r: Mapping[str, Any], wrong: Sequence[int], of: Beside) -> CmrRow:
    places, year, substance = listed(r["enclosures"]), r["year"], of.substance(r["substance"])
    who, (statements, edition) = of.person(person), of.classified(r["snapshots"])
    return CmrRow(
        person=person,
        name=who["name"],
        employer=who["employer"],
        year=year,
        substance=r["substance"],
        substance_name=substance["name"],
        cas=substance["cas"],
        statements=statements,
        edition=edition,
        form=substance["form"],
        tasks=listed(r["tasks"]),
        handlings=r["handlings"],
        net_mg=r["net_mg"],
        open_s=r["open_s"],
        estimated_s=r["estimated_s"],
        longest_s=r["longest_s"],
        incidents=wrong[0],
        unusual=wrong[1],
        enclosures=places,
        places=of.names(places),
        enclosure_tests=of.tests(places, year),
        equipment=(*listed(r["gloves"]), *((f"fit tested: {who['fit_test']}",) if who["fit_test"] else ())),
        measured=of.measured(places, person=person, substance=r["substance"], year=year),
        entered_by=listed(r["entered_by"]),
        first_day=r["first_day"],
        last_day=r["last_day"],
    )


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
