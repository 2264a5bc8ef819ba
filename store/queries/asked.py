"""What is asked of the exposure log, as a walk that an index can serve; nothing else is in the SQL."""

import json
from dataclasses import dataclass, replace
from typing import Any, Literal, TypedDict, Unpack

from store.errors import BadInput
from store.queries import classified, of_lot, periods
from store.record.record import Record

Edition = Literal["then", "now"]
"""Whether hazard families are those of each prep's own snapshot, or those of the register today."""

WRONG = "SELECT handling FROM incident UNION ALL SELECT entry FROM handling WHERE unusual"
"""Handlings with an incident, or noted as unusual."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked, as the source, the key and the conditions of a walk over handlings, newest first.

    `source` is the narrowest table that the question names: `handling AS h`, or one by person, substance or
    family, each walked in the order of entries. `words` say it for people.
    """

    source: str
    key: str
    where: str
    or_where: str
    """The other place where a word may stand, so that an index serves each; empty where there is one."""
    params: dict[str, Any]
    words: tuple[str, ...]
    person: str = ""
    substances: tuple[str, ...] | None = None
    """Asked for by id, or all of a family as classified now; None for any."""
    family: str = ""
    """As classified then; empty for any."""
    now: str = ""
    """As classified now: `substances` are all of it, or the one that is named of them."""
    named: bool = False
    """One substance is named."""
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

    @property
    def task(self) -> str:
        """The conditions on enclosure and kind of handling, each with a leading AND; empty if none."""
        return (" AND enclosure = :enclosure" if self.enclosure else "") + (
            " AND (what = :what OR step_name = :what)" if self.what else ""
        )

    def of_one_table(self, by: str) -> bool:
        """Whether nothing is asked but who, when, at which task, and which substance or family."""
        other = self.substances is not None and (by == "family" or bool(self.family))
        return not (self.lot or self.incidents or other)

    @property
    def entries(self) -> str:
        """The SQL that gives the entry of each handling, once."""
        walk = f"SELECT DISTINCT {self.key} AS entry FROM {self.source} WHERE"
        return " UNION ".join(f"{walk} {where}" for where in (self.where, self.or_where) if where)

    def before(self, entry: int) -> "Asked":
        """Ask the same of what came before an entry."""
        older = f" AND {self.key} < :before"
        return replace(
            self,
            where=self.where + older,
            or_where=self.or_where and self.or_where + older,
            params={**self.params, "before": entry},
        )


class Filters(TypedDict, total=False):
    """What may be asked of the exposure log: every filter that is given must hold."""

    person: str
    """Present at the handling."""
    substance: str
    """Held by what was open, alone or dissolved."""
    lot: str
    """Handled itself, or in a solution made of it, however many dilutions on."""
    family: str
    """Held by what was open, alone or dissolved."""
    enclosure: str
    what: str
    """What was opened or done, or the step."""
    since: str
    """A local day in ISO form, or a month or year, included; so is `until`."""
    until: str
    incidents: bool
    """Only what was noted as unusual, or had an incident."""
    as_classified: Edition
    """`then`: families as each prep's hazard snapshot had them; `now`: as the register classifies today."""


_ANY: Filters = {
    "person": "",
    "substance": "",
    "lot": "",
    "family": "",
    "enclosure": "",
    "what": "",
    "since": "",
    "until": "",
    "incidents": False,
    "as_classified": "then",
}


def asked(record: Record, **filters: Unpack[Filters]) -> Asked:
    """Put together what is asked.

    Raises
    ------
    BadDate
        A period that is none.
    BadInput
        An edition that is neither then nor now.
    """
    given: Filters = {**_ANY, **filters}
    if given["as_classified"] not in ("then", "now"):
        raise BadInput(f"{given['as_classified']!r}: ask as classified then, or now.")
    given["since"], given["until"] = periods.since(given["since"]), periods.until(given["until"])
    family, substance = given["family"], given["substance"]
    now = bool(family) and given["as_classified"] == "now"
    substances: tuple[str, ...] | None = (substance,) if substance else None
    if now:
        of_family = classified.now(record, family)
        substances = tuple(s for s in substances if s in of_family) if substances else of_family
    which = Asked(
        source="",
        key="",
        where="",
        or_where="",
        params={},
        words=_words(given),
        person=given["person"],
        substances=substances,
        family="" if now else family,
        now=family if now else "",
        named=bool(substance),
        lot=given["lot"],
        enclosure=given["enclosure"],
        what=given["what"],
        since=given["since"],
        until=given["until"],
        incidents=given["incidents"],
    )
    return _with_sql(record, which)


FEW = 16
"""So many substances are walked one after the other; of more, each handling is held up to the list."""
LISTED = "SELECT value FROM json_each(:substances)"


def _with_sql(record: Record, which: Asked) -> Asked:
    """Choose the source; every other condition is looked up by the entry of the handling."""
    params: dict[str, Any] = dict(which.scope)
    by_family = bool(which.family)
    if by_family and which.substances is not None and len(which.substances) == 1:
        by_family = _often(record, "family", which.family) < _often(record, "substance", which.substances[0])
    if by_family:
        table, where = "handling_family AS d", ["d.family = :family"]
        params["family"] = which.family
    elif which.substances is not None and len(which.substances) == 1:
        table, where = "handling_substance AS d", ["d.substance = :substance"]
        params["substance"] = which.substances[0]
    elif which.substances is not None and len(which.substances) <= FEW:
        table, where = "handling_substance AS d", [f"d.substance IN ({LISTED})"]
        params["substances"] = json.dumps(which.substances)
    elif which.person:
        table, where = "handling_person AS d", ["TRUE"]
    else:
        table, where = "handling AS h", ["TRUE"]
    own = table == "handling AS h"
    key, day = ("h.entry", "h.day") if own else ("d.handling", "d.day")
    if which.lot:
        params["lot"] = which.lot
        if own and not which.what:
            table, key = "lot_handling AS l CROSS JOIN handling AS h ON h.entry = l.handling", "l.handling"
            where[0] = "l.lot = :lot"
        else:
            where.append(of_lot.handlings(record, which.lot, key))
    where[0] += which.on("" if own else "d.person", day)
    if which.since or which.until:
        where.append(f"{key} BETWEEN :first AND :last")
        params |= _span(record, which)
    listed = which.substances is not None and not params.keys() & {"substance", "substances"}
    if listed:
        # Held up to the list, handling by handling: each holds two or three, the list may be hundreds long.
        where.append(f"EXISTS (SELECT 1 FROM json_each(h.substances) AS s WHERE s.value IN ({LISTED}))")
        params["substances"] = json.dumps(which.substances)
    if which.family and not by_family:
        held = "SELECT 1 FROM handling_family AS f WHERE f.family = :family AND f.handling = d.handling"
        where.append(f"EXISTS ({held})")
        params["family"] = which.family
    if which.enclosure:
        where.append("h.enclosure = :enclosure")
        params["enclosure"] = which.enclosure
    if which.incidents:
        where.append(f"{key} IN ({WRONG})")
    if not own and (which.enclosure or which.what or listed):
        table += " CROSS JOIN handling AS h ON h.entry = d.handling"
    rest, or_where = " AND ".join(where), ""
    if which.what:
        params["what"] = which.what
        if own:
            rest, or_where = f"h.what = :what AND {rest}", f"h.step_name = :what AND {rest}"
        else:
            rest += " AND (h.what = :what OR h.step_name = :what)"
    return replace(which, source=table, key=key, where=rest, or_where=or_where, params=params)


def _often(record: Record, by: str, one: str) -> int:
    """Give how many handlings the sums know of a substance or a family."""
    found = record.query(
        f"SELECT sum(handlings) AS n FROM yearly_{by} WHERE person = '' AND {by} = :one", one=one
    )
    return int(found[0]["n"] or 0)


def _span(record: Record, which: Asked) -> dict[str, int]:
    """Between which entries the handlings of the period lie; a clock that stepped back widens it."""
    found = record.query(
        f"SELECT min(first) AS first, max(last) AS last FROM handling_day WHERE TRUE{which.on('', 'day')}",
        **{name: value for name, value in which.scope.items() if name != "person"},
    )[0]
    return {"first": found["first"] or 1, "last": found["last"] or 0}


def _words(given: Filters) -> tuple[str, ...]:
    """Say what was asked, for people."""
    said = {
        "person": given["person"],
        "substance": given["substance"],
        "lot": given["lot"],
        "enclosure": given["enclosure"],
        "what": given["what"],
        "since": given["since"],
        "until": given["until"],
    }
    named = [f"{name} {value}" for name, value in said.items() if value]
    if given["family"]:
        named.append(f"hazard family {given['family']}, as classified {given['as_classified']}")
    if given["incidents"]:
        named.append("only with incidents or something unusual")
    return tuple(named) or ("everything",)
