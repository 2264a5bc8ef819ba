"""What is asked of the exposure log, as conditions that an index can serve; nothing else is in the SQL."""

import json
from dataclasses import dataclass, replace
from typing import Any, Literal

from store.errors import BadInput
from store.queries import periods
from store.record.record import Record

Edition = Literal["then", "now"]
"""Whether hazard families are those of each prep's own snapshot, or those of the register today."""

MADE_OF = """
    WITH RECURSIVE made_of(lot) AS (
        SELECT :lot
        UNION
        SELECT p.made_lot FROM made_of AS m JOIN prep AS p ON p.lot = m.lot WHERE p.made_lot != ''
        UNION
        SELECT p.made_lot FROM made_of AS m JOIN prep AS p ON p.solvent_lot = m.lot WHERE p.made_lot != ''
    )
    SELECT h.entry FROM made_of AS m JOIN prep AS p ON p.lot = m.lot
    JOIN handling AS h ON h.prep = p.prep
    JOIN json_each(h.substances) AS held ON held.value = p.substance
    UNION
    SELECT h.entry FROM made_of AS m JOIN prep AS p ON p.solvent_lot = m.lot
    JOIN handling AS h ON h.prep = p.prep
    JOIN json_each(h.substances) AS held ON held.value = p.solvent
"""
"""Handlings in which a lot was open, itself or in what was made of it."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Conditions on `handling AS h`, and what was asked, in words for the head of an export."""

    where: str
    params: dict[str, Any]
    words: tuple[str, ...]
    person: str = ""
    substances: tuple[str, ...] = ()
    """Asked for by id, or all of a family as classified now; empty for any."""
    family: str = ""
    """As classified then; empty for any."""
    lot: str = ""
    enclosure: str = ""
    what: str = ""
    since: str = ""
    until: str = ""
    incidents: bool = False

    @property
    def scope(self) -> dict[str, Any]:
        """Values of the conditions that `on` gives."""
        named = {"person": self.person, "since": self.since, "until": self.until}
        return {name: value for name, value in named.items() if value}

    def on(self, person: str, day: str) -> str:
        """Give the conditions on the columns of person and day, each with a leading AND; empty if none."""
        return (
            (f" AND {person} = :person" if self.person and person else "")
            + (f" AND {day} >= :since" if self.since else "")
            + (f" AND {day} <= :until" if self.until else "")
        )

    def before(self, entry: int) -> "Asked":
        """Ask the same of what came before an entry."""
        return replace(
            self, where=f"({self.where}) AND h.entry < :before", params={**self.params, "before": entry}
        )


def asked(
    record: Record,
    *,
    person: str = "",
    substance: str = "",
    lot: str = "",
    family: str = "",
    enclosure: str = "",
    what: str = "",
    since: str = "",
    until: str = "",
    incidents: bool = False,
    as_classified: str = "then",
) -> Asked:
    """Put together what is asked.

    Raises
    ------
    BadDate
        A period that is none.
    BadInput
        An edition that is neither then nor now.
    """
    if as_classified not in ("then", "now"):
        raise BadInput(f"{as_classified!r}: ask as classified then, or now.")
    first, last = periods.since(since), periods.until(until)
    now = bool(family) and as_classified == "now"
    substances: tuple[str, ...] = (substance,) if substance else ()
    if now:
        of_family = classified_now(record, family)
        substances = tuple(s for s in substances if s in of_family) if substances else of_family
    which = Asked(
        where="",
        params={},
        words=_words(locals() | {"since": first, "until": last}),
        person=person,
        substances=substances,
        family="" if now else family,
        lot=lot,
        enclosure=enclosure,
        what=what,
        since=first,
        until=last,
        incidents=incidents,
    )
    return _with_sql(which, any_substance=not (substance or now))


def _with_sql(which: Asked, *, any_substance: bool) -> Asked:
    where, params = [], dict(which.scope)
    scope = which.on("person", "day")
    if which.family:
        where.append(f"h.entry IN (SELECT handling FROM handling_family WHERE family = :family{scope})")
        params["family"] = which.family
    if not any_substance:
        where.append(
            "h.entry IN (SELECT handling FROM handling_substance WHERE "
            f"substance IN (SELECT value FROM json_each(:substances)){scope})"
        )
        params["substances"] = json.dumps(which.substances)
    if not where and which.person:
        where.append(f"h.entry IN (SELECT handling FROM handling_person WHERE TRUE{scope})")
    if not where:
        where.append(f"TRUE{which.on('', 'h.day')}")
    if which.lot:
        where.append(f"h.entry IN ({MADE_OF})")
        params["lot"] = which.lot
    if which.enclosure:
        where.append("h.enclosure = :enclosure")
        params["enclosure"] = which.enclosure
    if which.what:
        where.append("(h.what = :what OR h.step_name = :what)")
        params["what"] = which.what
    if which.incidents:
        where.append("(h.unusual OR h.entry IN (SELECT handling FROM incident))")
    return replace(which, where=" AND ".join(where), params=params)


def classified_now(record: Record, family: str) -> tuple[str, ...]:
    """Give the substances that belong to a hazard family as the register classifies them today."""
    from store.hazards import snapshot
    from store.model.registers import Substance
    from store.queries import registers

    out = []
    for found in registers.rows(record, "substance", retired=True):
        of = Substance.from_body(found.row)
        taken = snapshot.take(
            of.classification,
            skin_notation=of.skin_notation,
            hazardous_drug=of.hazardous_drug,
            peroxide_former=of.peroxide_former,
            edition=of.edition,
        )
        if family in taken["families"]:
            out.append(of.id)
    return tuple(out)


def _words(given: dict[str, Any]) -> tuple[str, ...]:
    """Say what was asked, for people."""
    named = [
        f"{name} {given[name]}"
        for name in ("person", "substance", "lot", "enclosure", "what", "since", "until")
        if given[name]
    ]
    if given["family"]:
        named.append(f"hazard family {given['family']}, as classified {given['as_classified']}")
    if given["incidents"]:
        named.append("only with incidents or something unusual")
    return tuple(named) or ("everything",)
