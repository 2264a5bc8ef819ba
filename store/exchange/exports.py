"""Query results as files that leave the site: each says what it is, what it is not, and how long it is kept.

Written row by row, so that a record of any length can be exported. Times are UTC, days are local.
"""

import csv
import json
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal, TextIO

from store.errors import BadInput
from store.exchange import for_people, printed
from store.exchange.cells import as_text, fields_of, guarded, plain
from store.exchange.head import Head, made
from store.exchange.said import IS, IS_NOT, NO_NAMES, PREPS_ARE, PREPS_ARE_NOT
from store.queries import duty, exposures, named, periods, preps, totals
from store.queries.asked import Asked, asked
from store.queries.duty import CmrRow
from store.queries.exposures import HandlingRow
from store.queries.preps import PrepRow
from store.record.record import Record

Form = Literal["csv", "json", "text", "html"]


TOLD_EVERY = 5000
"""Rows between two words of progress."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What an export is asked for; a filter that a kind has no use for is refused."""

    person: str = ""
    substance: str = ""
    lot: str = ""
    family: str = ""
    status: str = ""
    since: str = ""
    until: str = ""
    enclosure: str = ""
    what: str = ""
    incidents: str = ""
    """`yes`: only what had an incident, or was unusual; empty for all."""
    now: str = ""
    """`yes`: hazard families as classified today; empty: as classified then."""


KINDS: Mapping[str, tuple[str, str, str, tuple[str, ...]]] = {
    "exposures": (
        "Exposure log",
        IS,
        IS_NOT,
        ("person", "substance", "lot", "family", "enclosure", "what", "incidents", "now", "since", "until"),
    ),
    "preps": ("Preps", PREPS_ARE, PREPS_ARE_NOT, ("substance", "lot", "status", "since", "until")),
    "cmr-register": (
        "Handlings of carcinogens, mutagens and reprotoxic substances of category 1, by person and year",
        IS,
        IS_NOT,
        ("person", "since", "until"),
    ),
    "totals-by-family": (
        "Exposure log by hazard family, without names",
        NO_NAMES,
        IS_NOT,
        ("since", "until"),
    ),
    "totals-by-substance": ("Exposure log by substance, without names", NO_NAMES, IS_NOT, ("since", "until")),
}
"""Kind -> title, what it is, what it is not, the filters that it knows."""


def write(
    record: Record,
    kind: str,
    out: TextIO,
    *,
    form: Form = "csv",
    made_by: str,
    wanted: Wanted | None = None,
    walked: Callable[[int], None] | None = None,
) -> int:
    """Write one export, and give the number of its rows.

    Parameters
    ----------
    kind
        A key of `KINDS`.
    out
        An open text file; for CSV opened with `newline=""`.
    made_by
        Who made it, for its head.
    walked
        Called now and then with the number of rows so far.

    Raises
    ------
    BadInput
        No such kind or form, or a filter that this kind does not know.
    BadDate
        A period that is none.
    NotFound, UnknownCode
        A person, substance, lot or family that is none: an empty file would say that nothing was handled.
    """
    wanted = wanted or Wanted()
    if kind not in KINDS:
        raise BadInput(f"There is no export {kind!r}: write one of {', '.join(KINDS)}.")
    if form not in ("csv", *_WRITERS):
        raise BadInput(f"There is no form {form!r}: write csv, json, text or html.")
    unknown = [name for name, value in asdict(wanted).items() if value and name not in KINDS[kind][3]]
    if unknown:
        known = ", ".join(KINDS[kind][3])
        raise BadInput(f"The export {kind} is not narrowed by {', '.join(unknown)}: it knows {known}.")
    wanted = _known(record, wanted)
    first = head(record, kind, made_by=made_by, wanted=wanted)
    rows: Iterator[Mapping[str, Any]] = map(_measured, _rows(record, kind, wanted))
    if form == "html" and kind == "exposures":
        shown = told(rows, walked) if walked is not None else rows
        return printed.page(first, shown, out, _sums(record, wanted))
    shown = told(rows, walked) if walked is not None else rows
    return _csv(first, shown, out, _names(kind)) if form == "csv" else _WRITERS[form](first, shown, out)


def _known(record: Record, wanted: Wanted) -> Wanted:
    """Give the ids of what was typed: a name or a CAS number finds what its id finds."""
    periods.in_order(wanted.since, wanted.until)
    if wanted.status:
        preps.past(record, status=wanted.status, limit=1)  # refused before a head stands in the file
    return Wanted(
        person=named.person(record, wanted.person),
        substance=named.substance(record, wanted.substance),
        lot=named.lot(record, wanted.lot),
        family=named.family(record, wanted.family),
        status=wanted.status,
        since=wanted.since,
        until=wanted.until,
        enclosure=named.enclosure(record, wanted.enclosure),
        what=named.what(record, wanted.what),
        incidents=wanted.incidents,
        now=wanted.now,
    )


ROWS: Mapping[str, type] = {"exposures": HandlingRow, "preps": PrepRow, "cmr-register": CmrRow}
"""Kind -> what a row of it is; the other kinds are totals without names."""


def _names(kind: str) -> tuple[str, ...]:
    """Give the names of the columns, which stand there without any row too."""
    return tuple(f.name for f in fields(ROWS[kind])) if kind in ROWS else ("key", "people", *FIGURES)


def told(rows: Iterable[Mapping[str, Any]], walked: Callable[[int], None]) -> Iterator[Mapping[str, Any]]:
    """Give the rows, and say now and then how many have been."""
    for count, row in enumerate(rows):
        if count and not count % TOLD_EVERY:
            walked(count)
        yield row


def head(record: Record, kind: str, *, made_by: str, wanted: Wanted) -> Head:
    """Give the head of an export made now."""
    title, what_it_is, what_it_is_not, _ = KINDS[kind]
    first, last = periods.since(wanted.since), periods.until(wanted.until)
    filters = [f"{n} {v}" for n, v in asdict(wanted).items() if v and n not in ("since", "until")]
    return made(
        record,
        title=title,
        what_it_is=what_it_is,
        what_it_is_not=what_it_is_not,
        asked=", ".join(filters) or "everything",
        period=f"{first or 'the first entry'} to {last or 'the last entry'}",
        made_by=made_by,
    )


def _asked(record: Record, wanted: Wanted) -> Asked:
    return asked(
        record,
        person=wanted.person,
        substance=wanted.substance,
        lot=wanted.lot,
        family=wanted.family,
        since=wanted.since,
        until=wanted.until,
        enclosure=wanted.enclosure,
        what=wanted.what,
        incidents=bool(wanted.incidents),
        as_classified="now" if wanted.now else "then",
    )


def _sums(record: Record, wanted: Wanted) -> Iterator[printed.Section]:
    """Give what the log adds up to, by substance and by person."""
    says = "Rehearsals and what never happened are in no sum. A handling counts for everybody present."
    for by in ("substance", "person"):
        found = totals.of(record, _asked(record, wanted), totals.by_key(by))
        rows = ({n: v for n, v in asdict(t).items() if n in ("key", *FIGURES)} for t in found)
        yield printed.Section(f"Added up by {by}", map(_measured, rows), says)


def _measured(row: Mapping[str, Any]) -> Mapping[str, Any]:
    """Leave out of masses and times the digits that no balance and no clock gave: floats add them."""
    return {
        name: round(value, _DECIMALS[name[-2:]])
        if isinstance(value, float) and name.endswith(("_mg", "_s"))
        else value
        for name, value in row.items()
    }


_DECIMALS = {"mg": 4, "_s": 1}


def _rows(record: Record, kind: str, wanted: Wanted) -> Iterator[Mapping[str, Any]]:
    since, until = wanted.since, wanted.until
    if kind == "exposures":
        # Handlings that are written meanwhile are later than the entry that the head names.
        for handling in exposures.each(record, _asked(record, wanted).before(record.head().entry + 1)):
            yield fields_of(handling)
    elif kind == "preps":
        after, chunk = 0, 500
        while True:
            found = preps.past(
                record,
                substance=wanted.substance,
                lot=wanted.lot,
                status=wanted.status,
                since=since,
                until=until,
                sort="oldest",
                limit=chunk,
                after=after,
            )
            yield from (fields_of(row) for row in found)
            if len(found) < chunk:
                return
            after = found[-1].entry
    elif kind == "cmr-register":
        yield from (
            fields_of(row) for row in duty.cmr_rows(record, person=wanted.person, since=since, until=until)
        )
    else:
        by: Literal["family", "substance"] = "family" if kind == "totals-by-family" else "substance"
        for nameless in duty.without_names(record, by, since=since, until=until):
            figures = asdict(nameless.total) if nameless.total else dict.fromkeys(FIGURES)
            yield {"key": nameless.key, "people": nameless.people, **{f: figures[f] for f in FIGURES}}


FIGURES = (
    "handlings", "net_mg", "open_s", "estimated", "estimated_s", "longest_s", "incidents", "unusual",
)  # fmt: skip


def _csv(head: Head, rows: Iterable[Mapping[str, Any]], out: TextIO, names: Iterable[str]) -> int:
    """The head stands in lines that begin with `#`, each one cell, above the names of the columns."""
    writer = csv.writer(out)
    for name, value in asdict(head).items():
        writer.writerow([f"# {name.replace('_', ' ')}: {value}"])
    names, count = tuple(names), 0
    writer.writerow(names)
    for row in rows:
        writer.writerow([guarded(plain(row[name])) for name in names])
        count += 1
    return count


def _json(head: Head, rows: Iterable[Mapping[str, Any]], out: TextIO) -> int:
    out.write('{"head": ' + json.dumps(asdict(head), ensure_ascii=False) + ', "rows": [')
    count = 0
    for row in rows:
        out.write(",\n" if count else "\n")
        out.write(json.dumps(row, ensure_ascii=False, allow_nan=False))
        count += 1
    out.write("\n]}\n")
    return count


def _text(head: Head, rows: Iterable[Mapping[str, Any]], out: TextIO) -> int:
    """One line a field, one block a row: nothing is cut to fit a column."""
    for name, value in asdict(head).items():
        label = f"{name.replace('_', ' ')}: "
        out.write(
            textwrap.fill(as_text(value) or "-", 76, initial_indent=label, subsequent_indent="    ") + "\n"
        )
    count = 0
    for row in rows:
        out.write("\n")
        out.writelines(for_people.lines(row))
        count += 1
    return count


_WRITERS: Mapping[str, Callable[[Head, Iterable[Mapping[str, Any]], TextIO], int]] = {
    "json": _json,
    "text": _text,
    "html": printed.page,
}
