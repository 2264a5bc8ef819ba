"""What is due, owed, expiring, waiting: what the bench shows, and `tarebook due` prints.

Everything is judged by the later of now and the last entry: a clock that stands back makes nothing less due.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from store.model.words import NOT_CLASSIFIED, Role
from store.queries import incidents, lot_checks, lots, periods, preps, registers
from store.queries.due_checks import Due as Due
from store.queries.due_checks import checks as checks
from store.queries.due_checks import dated
from store.queries.preps import PrepRow
from store.record.record import Record

SHEET_YEARS = 3
"""Age in years after which a safety data sheet is named; common practice, no rule sets one age for all."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What stands on the bench for a person."""

    person: str
    owed: tuple[Due, ...]
    """This person's own first."""
    open: tuple[PrepRow, ...]
    due: tuple[Due, ...]
    expiring: tuple[Due, ...]
    reviews: int
    incidents: tuple[Due, ...] = ()
    """Open ones: all of them for a safety officer, else those that the person noted or met."""


def of(record: Record, *, within_days: int = 30) -> tuple[Due, ...]:
    """Give everything that is due, or will be within so many days; the most pressing of each group first."""
    return (
        *owed(record),
        *opened(record),
        *to_decide(record),
        *checks(record, within_days=within_days),
        *expiring(record, within_days=within_days),
        *reviews(record),
        *open_incidents(record),
        *sheets(record),
    )


PAST_DAYS = 90
"""The bench names solutions made here, of which there are many, only so long after they expired.

What was bought it names until it is retired, as `tarebook due` does for everything.
"""


def bench(record: Record, person: str, *, within_days: int = 14) -> Bench:
    """Give what the bench shows a person: owed, open, due, expiring, and how many preps wait for review."""
    notes = owed(record)
    return Bench(
        person=person,
        owed=tuple(sorted(notes, key=lambda d: d.person != person)),
        open=preps.open_preps(record),
        due=(*to_decide(record), *checks(record, within_days=within_days)),
        expiring=expiring(record, within_days=within_days, past_days=PAST_DAYS),
        reviews=record.query("SELECT count(*) AS n FROM prep WHERE status = 'closed' AND NOT rehearsal")[0][
            "n"
        ],
        incidents=open_incidents(record, person=person),
    )


def today(record: Record) -> date:
    """Give the day that due and expiry are judged by."""
    return record.due_now().date()


def owed(record: Record) -> tuple[Due, ...]:
    """Give the preps that owe an exposure note, the longest waiting first."""
    found = record.query(
        """
        WITH owing AS MATERIALIZED (SELECT prep, substance, target FROM prep WHERE owed)
        SELECT p.prep, p.substance, p.target, min(h.entry) AS entry, h.person, h.day, h.step_name, h.at,
               count(*) AS notes
        FROM owing AS p CROSS JOIN handling AS h ON h.prep = p.prep
        WHERE NOT h.noted_entry AND h.state != 'never happened'
        GROUP BY p.prep ORDER BY entry
        """
    )
    now = today(record)
    return tuple(
        Due(
            group="owed",
            what="exposure note",
            register="prep",
            id=r["prep"],
            name=f"{r['substance']} {r['target']}",
            day=r["at"],
            days=periods.days_from(r["day"], now),
            person=r["person"],
            why=r["step_name"] + (f", {r['notes']} handlings" if r["notes"] > 1 else ""),
        )
        for r in found
    )


def opened(record: Record) -> tuple[Due, ...]:
    """Give the open preps, the one last worked on first."""
    now = today(record)
    return tuple(
        Due(
            group="open",
            what=f"step {min(p.step + 1, p.steps)} of {p.steps}",
            register="prep",
            id=p.prep,
            name=f"{p.substance} {p.target}",
            day=p.last_at,
            days=periods.days_from(p.planned_day, now),
            person=p.last_person,
            why=p.step_name or "to be closed",
        )
        for p in preps.open_preps(record)
    )


def to_decide(record: Record) -> tuple[Due, ...]:
    """Give the lots that are used on though their last verification was out of its limit."""
    now = today(record)
    return tuple(
        Due(
            group="decide",
            what=lot_checks.OUT,
            register="lot",
            id=u.lot,
            name=u.substance,
            day=u.day,
            days=periods.days_from(u.day, now),
            person=u.person,
            why=u.said,
        )
        for u in lot_checks.undecided(record)
    )


def expiring(record: Record, *, within_days: int, past_days: int | None = None) -> tuple[Due, ...]:
    """Give lots and containers that expire, must be retested, or were opened long ago; no blocked ones.

    Parameters
    ----------
    past_days
        Leave out solutions made here that have been past for longer; None for all that is not retired.
    """
    now = record.due_now()
    first = "" if past_days is None else (now.date() - timedelta(days=past_days)).isoformat()
    last = (now.date() + timedelta(days=within_days)).isoformat()
    out: list[Due] = []
    for what in ("expiry", "retest"):
        for r in (
            *record.query(_LOTS.format(what=what), first=first, last=last),
            *(record.query(_BOUGHT.format(what=what), first=first) if first else ()),
        ):
            out.extend(dated("lot", r["id"], _held(r), what, r["day"], now, within_days))
    for c in record.query(_CONTAINERS):
        day = lots.last_day_of_use(c["opened_on"] or c["first_opened"] or "", c["days"])
        if day >= first or (day and not c["concentration"]):
            name = f"{_held(c)}, lot {c['lot']}"
            out.extend(dated("container", c["id"], name, "end of use once opened", day, now, within_days))
    return tuple(sorted(out, key=lambda d: (d.day, d.id)))


def _held(r: Mapping[str, Any]) -> str:
    return f"{r['substance']} {r['concentration'] or ''}".strip()


_STOPPED = "coalesce(l.row ->> '$.status', '') NOT IN ('blocked', 'recalled')"
_LOTS = f"""
    SELECT l.id, l.row ->> '$.substance' AS substance, l.row ->> '$.concentration' AS concentration,
           l.row ->> '$.{{what}}' AS day
    FROM register_row AS l INDEXED BY register_row_{{what}}
    WHERE l.register = 'lot' AND NOT l.retired AND l.row ->> '$.{{what}}' > ''
        AND l.row ->> '$.{{what}}' BETWEEN :first AND :last AND {_STOPPED}
"""
"""Lots with a day between two, by the index of that day."""
_BOUGHT = f"""
    SELECT l.id, l.row ->> '$.substance' AS substance, NULL AS concentration, l.row ->> '$.{{what}}' AS day
    FROM register_row AS l INDEXED BY register_row_bought
    WHERE l.register = 'lot' AND NOT l.retired AND l.row ->> '$.concentration' IS NULL
        AND l.row ->> '$.{{what}}' > '' AND l.row ->> '$.{{what}}' < :first AND {_STOPPED}
"""
"""Lots that were bought, with a day before one: few, and still on the shelf."""
_CONTAINERS = f"""
    SELECT c.id, l.id AS lot, l.row ->> '$.substance' AS substance,
           l.row ->> '$.concentration' AS concentration, c.row ->> '$.opened_on' AS opened_on,
           c.row ->> '$.in_use_days' AS days,
           (SELECT h.day FROM handling AS h JOIN prep AS p ON p.prep = h.prep
            WHERE h.container = c.id AND h.state <> 'never happened' AND NOT p.rehearsal
            ORDER BY h.day LIMIT 1) AS first_opened
    FROM register_row AS c INDEXED BY register_row_in_use
    JOIN register_row AS l ON l.register = 'lot' AND l.id = c.row ->> '$.lot'
    WHERE c.register = 'container' AND NOT c.retired AND c.row ->> '$.in_use_days' IS NOT NULL
        AND NOT l.retired AND {_STOPPED}
    ORDER BY natural_order(c.id)
"""
"""Containers with a time of use, with the day on which each was first opened, as in `lots.first_opened`."""


def reviews(record: Record) -> tuple[Due, ...]:
    """Give the preps that wait for a reviewer, the longest waiting first."""
    now = today(record)
    return tuple(
        Due(
            group="review",
            what="review",
            register="prep",
            id=p.prep,
            name=f"{p.substance} {p.target}",
            day=p.closed_day,
            days=periods.days_from(p.closed_day, now),
            person=p.planned_by,
            why="stale: " + p.stale if p.stale else "",
        )
        for p in preps.waiting_for_review(record)
    )


def open_incidents(record: Record, *, person: str = "") -> tuple[Due, ...]:
    """Give the incidents that nobody has closed, the oldest first.

    Parameters
    ----------
    person
        Who looks: one who is no safety officer sees those noted or met; empty for all.
    """
    now = today(record)
    if person:
        held = registers.rows(record, "person")
        officers = {r.id for r in held if Role.SAFETY_OFFICER in r.row.get("roles", ())}
        person = "" if person in officers else person
    return tuple(
        Due(
            group="incident",
            what=i.what,
            register="incident",
            id=str(i.entry),
            name=i.note,
            day=i.day,
            days=periods.days_from(i.day, now),
            person=i.person,
            why=i.prep or "outside any prep",
        )
        for i in incidents.standing_open(record, person=person)
    )


def sheets(record: Record) -> tuple[Due, ...]:
    """Give substances whose safety data sheet is undated or older than `SHEET_YEARS`, undated first."""
    now, out = today(record), []
    for found in registers.rows(record, "substance"):
        sheet, classes = str(found.row.get("sds_date", "")), found.row.get("classification", ())
        if not sheet and list(classes) == [NOT_CLASSIFIED]:
            continue
        name = str(found.row.get("name", ""))
        if not sheet:
            out.append(
                Due("sheets", "safety data sheet", "substance", found.id, name, "", None, why="no date")
            )
        elif (age := -periods.days_from(sheet, now)) > SHEET_YEARS * 365.25:
            out.append(
                Due("sheets", "safety data sheet", "substance", found.id, name, sheet, -age,
                    why=f"dated over {SHEET_YEARS} years ago")
            )  # fmt: skip
    return tuple(sorted(out, key=lambda d: (d.day, d.id)))
