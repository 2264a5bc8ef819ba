"""A person's own page: everything that the record holds about one person, on a screen or as a file."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from itertools import chain
from typing import Any, TextIO

from store.errors import BadInput
from store.exchange import for_people, printed
from store.exchange.cells import as_text, fields_of
from store.exchange.head import Head, made
from store.exchange.printed import Section
from store.exchange.said import ABOUT, IS_NOT
from store.queries import (
    duty,
    exposures,
    incidents,
    monitoring,
    periods,
    registers,
    rehearsals,
    row_history,
    totals,
)
from store.queries.asked import asked
from store.record.record import Record

KIND = "person-page"
NEVER = "What never happened stands here as such, and is in no sum."
FIGURES = ("key", "handlings", "net_mg", "open_s", "estimated_s", "longest_s", "incidents", "unusual")
WRONG = ("day", "what", "note", "substances", "enclosure", "prep", "closed")


@dataclass(frozen=True, slots=True)
class About:
    """What is asked: whom, and which days."""

    person: str
    since: str = ""
    until: str = ""


def head(record: Record, about: About, *, made_by: str) -> Head:
    """Give the head of a person's page made now."""
    first, last = periods.since(about.since), periods.until(about.until)
    return made(
        record,
        title=f"Everything about {about.person}",
        what_it_is=ABOUT,
        what_it_is_not=IS_NOT,
        asked=f"person {about.person}",
        period=f"{first or 'the first entry'} to {last or 'the last entry'}",
        made_by=made_by,
    )


def sections(record: Record, about: About, *, newest: int = -1) -> Iterator[Section]:
    """Give the parts of the page, each with its rows on demand.

    Parameters
    ----------
    newest
        Handlings at the most; -1 for all of them.

    Raises
    ------
    NotFound
        There is no such person.
    BadDate
        A period that is none.
    """
    person, since, until = about.person, about.since, about.until
    row = registers.row(record, "person", person)
    which = asked(record, person=person, since=since, until=until)
    yield Section("In the register", _fields(row.row))
    yield Section("How it came to be", _changes(record, person))
    for by in ("year", "family", "substance"):
        sums = totals.of(record, which, totals.by_key(by))
        yield Section(f"Added up by {by}", (_only(t, FIGURES) for t in sums))
    yield Section(
        "Substances of CMR category 1, by year",
        (fields_of(r) for r in duty.cmr_register(record, person=person, since=since, until=until)),
    )
    own = monitoring.of(record, person=person, since=since, until=until)
    yield Section(
        "Air measured at the person",
        ({"result": monitoring.shown(m), "of": m.substance, "report": m.report} for m in own if m.who),
    )
    wrong = incidents.of(record, which)
    yield Section("What went wrong or was unusual", (_only(i, WRONG) for i in wrong))
    yield Section("Rehearsals", (fields_of(r) for r in rehearsals.done(record, person=person)))
    yield Section("Reviews signed", _reviews(record, about))
    yield Section("Handlings, the newest first", _handlings(record, about, newest), NEVER)


def _only(row: object, names: Iterable[str]) -> Mapping[str, Any]:
    return {name: getattr(row, name) for name in names}


def _fields(row: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    return ({"field": name.replace("_", " "), "says": value} for name, value in row.items())


def _changes(record: Record, person: str) -> Iterator[Mapping[str, Any]]:
    for c in row_history.history(record, "person", person):
        says = "; ".join(f"{name}: {old or 'empty'} to {new or 'empty'}" for name, old, new in c.differs)
        what = "retired" if c.retired else "changed" if c.differs else "entered"
        yield {"entry": c.entry, "at": c.at, "by": c.by, "what": what, "says": says, "why": c.reason}


def _reviews(record: Record, about: About) -> Iterator[Mapping[str, Any]]:
    found = record.query(
        "SELECT entry, at, prep, verdict, reason, meaning FROM review WHERE person = :person "
        "AND substr(at, 1, 10) >= :since AND (:until = '' OR substr(at, 1, 10) <= :until) "
        "ORDER BY entry DESC",
        person=about.person,
        since=periods.since(about.since),
        until=periods.until(about.until),
    )
    return (dict(r) for r in found)


def _handlings(record: Record, about: About, newest: int) -> Iterator[Mapping[str, Any]]:
    """Other people's names are left out: this page is about one."""
    which = asked(record, person=about.person, since=about.since, until=about.until)
    which = which.before(record.head().entry + 1)
    found: Iterable[exposures.HandlingRow] = (
        exposures.each(record, which) if newest < 0 else exposures.rows(record, which, limit=newest)
    )
    for h in found:
        yield {
            "entry": h.entry,
            "day": h.day,
            "was": "did it" if h.person == about.person else "was present",
            "what": h.what,
            "prep": h.prep,
            "substances": h.substances,
            "families": h.families,
            "mg": h.net_mg or None,
            "open_s": h.open_s or None,
            "estimated": h.estimated or None,
            "enclosure": h.enclosure,
            "gloves": h.gloves,
            "note": "; ".join(p for p in (h.note, "" if h.state == "stands" else h.state) if p),
        }


def write(
    record: Record,
    about: About,
    out: TextIO,
    *,
    form: str,
    made_by: str,
    walked: Callable[[int], None] | None = None,
) -> int:
    """Write the page as html, text or json, and give the number of its rows.

    Raises
    ------
    NotFound
        There is no such person.
    BadInput
        Nobody was named, or another form was asked for.
    """
    if not about.person:
        raise BadInput("Say whose page: add --person ID.")
    if form not in _WRITERS:
        raise BadInput("A person's page has several tables: write --format html, text or json.")
    parts = sections(record, about)
    first = next(parts)
    return _WRITERS[form](head(record, about, made_by=made_by), _told(chain((first,), parts), walked), out)


def _told(parts: Iterable[Section], walked: Callable[[int], None] | None) -> Iterator[Section]:
    from store.exchange.exports import told

    for part in parts:
        yield part if walked is None else Section(part.title, told(part.rows, walked), part.says)


def _html(head: Head, parts: Iterable[Section], out: TextIO) -> int:
    printed.begin(head, out)
    count = sum(printed.section(part, out) for part in parts)
    printed.end(out)
    return count


def _text(head: Head, parts: Iterable[Section], out: TextIO) -> int:
    count = 0
    for name, value in asdict(head).items():
        out.write(f"{name.replace('_', ' ')}: {as_text(value)}\n")
    for part in parts:
        out.write(f"\n{part.title.upper()}\n" + (f"{part.says}\n" if part.says else ""))
        for row in part.rows:
            out.write("\n")
            out.writelines(for_people.lines(row))
            count += 1
    return count


def _json(head: Head, parts: Iterable[Section], out: TextIO) -> int:
    out.write('{"head": ' + json.dumps(asdict(head), ensure_ascii=False) + ', "sections": [')
    count = 0
    for n, part in enumerate(parts):
        title = json.dumps(part.title, ensure_ascii=False)
        out.write((",\n" if n else "\n") + '{"title": ' + title + ', "rows": [')
        for m, row in enumerate(part.rows):
            out.write((",\n" if m else "\n") + json.dumps(row, ensure_ascii=False, allow_nan=False))
            count += 1
        out.write("]}")
    out.write("\n]}\n")
    return count


_WRITERS: Mapping[str, Callable[[Head, Iterable[Section], TextIO], int]] = {
    "html": _html,
    "text": _text,
    "json": _json,
}
