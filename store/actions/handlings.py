"""Handlings that belong to no prep, and measurements of air and surfaces: what was done, met, found."""

from collections.abc import Sequence
from datetime import date

from store import events as ev
from store.actions.acting import Acting, LetThrough
from store.actions.hazards_now import hazards_now
from store.errors import BadDate, BadField, BadInput, NotFound
from store.events import Entry
from store.model.words import GLOVE_CHANGE, Role
from store.queries import registers
from store.record.record import Record
from store.units import number

SUBJECT, MONITORING = "handling", "monitoring"
"""Journal subjects."""
WHAT = (GLOVE_CHANGE, "filter change", "wipe-down", "visit", "maintenance", "waste taken away")
"""What is offered; other words are taken as they are."""
MOST_MINUTES = 24 * 60
SAMPLES = ("air", "personal air", "wipe")
UNITS_IN_AIR = ("mg/m3", "ug/m3", "ng/m3", "mL/m3")
UNITS_OF_WIPES = ("mg", "ug", "ng", "ug/100cm2", "ng/100cm2", "ug/cm2", "ng/cm2")


def handle_apart(
    acting: Acting,
    *,
    what: str,
    day: str = "",
    enclosure: str = "",
    gloves: str = "",
    substances: Sequence[str] = (),
    present: Sequence[str] = (),
    minutes: str = "",
    unusual: bool = False,
    note: str = "",
) -> Entry:
    """Write a handling without a prep; it counts in the exposure log of everybody present.

    Parameters
    ----------
    day
        Local day on which it happened; empty for today.
    substances
        What could be met: contamination counts as what it is of.
    present
        Everybody who was there, who did it first; empty for the person who writes it.
    minutes
        How long something was open or touched, estimated; empty where nothing was.

    Raises
    ------
    BadField
        A field that cannot be used, with what to write instead.
    NotFound
        Enclosure, substance or person is in no register.
    """
    acting.must(Role.OPERATOR, Role.SAFETY_OFFICER)
    record = acting.record
    if not what.strip():
        raise BadField("what", f"write what was done, such as {', '.join(WHAT[:4])}.")
    if unusual and not note.strip():
        raise BadField("note", "write what was unusual.")
    with record.immediate():
        held = tuple(dict.fromkeys(substances))
        there = _people(record, present) or (acting.person,)
        if enclosure:
            registers.row(record, "enclosure", enclosure)
        event = ev.HandledApart(
            what=what.strip(),
            day=day_of(record, day),
            enclosure=enclosure,
            gloves=gloves.strip(),
            present=there,
            substances=held,
            hazards=hazards_now(record, held),
            open_s=_seconds(minutes),
            unusual=unusual,
            note=note.strip(),
        )
        return record.append(event, person=acting.person, subject=SUBJECT)


def _people(record: Record, ids: Sequence[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(registers.row(record, "person", id).id for id in ids))


def day_of(record: Record, text: str) -> str:
    """Give a local day that has been, today where nothing was typed.

    Raises
    ------
    BadField
        It is no day, or it is to come.
    """
    today = record.now().date()
    if not text.strip():
        return today.isoformat()
    try:
        found = date.fromisoformat(text.strip())
        if found.isoformat() != text.strip():
            raise BadDate(text)
    except (ValueError, BadDate):
        raise BadField("day", f"{text.strip()!r} is no day: write it as 2026-03-02.") from None
    if found > today:
        raise BadField("day", f"{found} is still to come: write the day on which it happened.")
    return found.isoformat()


def _seconds(minutes: str) -> str:
    if not minutes.strip():
        return ""
    try:
        found = float(number(minutes))
    except BadInput as error:
        raise BadField("minutes", str(error)) from error
    if not 0 <= found <= MOST_MINUTES:
        raise BadField("minutes", f"write minutes from 0 to {MOST_MINUTES}.")
    return f"{60 * found:.1f}"


def never_happened(acting: Acting, entry: int, *, let_through: LetThrough) -> Entry:
    """A second person agrees that a handling without a prep did not happen: it leaves the totals.

    Raises
    ------
    NotFound
        The entry is no such handling, or it was withdrawn already.
    """
    acting.must(Role.OPERATOR, Role.SAFETY_OFFICER)
    record = acting.record
    with record.immediate():
        standing = record.query(
            "SELECT 1 FROM handling WHERE entry = :entry AND prep = '' AND state = 'stands'", entry=entry
        )
        if not standing:
            raise NotFound(f"Entry {entry} is no standing handling without a prep.")
        event = ev.NeverHappened(prep="", entry=entry, second=let_through.second, reason=let_through.reason)
        return record.append(event, person=acting.person, subject=SUBJECT)


def monitor(
    acting: Acting,
    *,
    what: str,
    substance: str,
    value: str,
    day: str = "",
    place: str = "",
    enclosure: str = "",
    who: str = "",
    minutes: str = "",
    limit: str = "",
    limit_source: str = "",
    method: str = "",
    laboratory: str = "",
    report: str = "",
    note: str = "",
) -> Entry:
    """Write the result of a measurement of air or of a wiped surface, as a laboratory reported it.

    Nothing is compared or averaged: what a result means under the local law is for a competent person.

    Raises
    ------
    BadField
        A field that cannot be used, with what to write instead.
    """
    acting.must(Role.SAFETY_OFFICER)
    record = acting.record
    if what not in SAMPLES:
        raise BadField("what", f"write one of {', '.join(SAMPLES)}.")
    units = UNITS_OF_WIPES if what == "wipe" else UNITS_IN_AIR
    if what == "personal air" and not who:
        raise BadField("who", "write whose breathing zone was sampled.")
    if limit.strip() and not limit_source.strip():
        raise BadField("limit_source", "write where the limit comes from.")
    with record.immediate():
        registers.row(record, "substance", substance)
        if enclosure:
            registers.row(record, "enclosure", enclosure)
        if who:
            registers.row(record, "person", who)
        _seconds(minutes)
        event = ev.Monitored(
            what=what,
            day=day_of(record, day),
            substance=substance,
            value=_reported(value, units, "value"),
            place=place.strip(),
            enclosure=enclosure,
            who=who,
            minutes=minutes.strip(),
            limit=_reported(limit, units, "limit") if limit.strip() else "",
            limit_source=limit_source.strip(),
            method=method.strip(),
            laboratory=laboratory.strip(),
            report=report.strip(),
            note=note.strip(),
        )
        return record.append(event, person=acting.person, subject=MONITORING)


def _reported(text: str, units: Sequence[str], field: str) -> str:
    """Give `< 0.1 ug/m3` or `0.12 ug/m3` with every digit kept."""
    sign, rest = ("< ", text.strip()[1:]) if text.strip().startswith("<") else ("", text)
    figure, _, unit = rest.strip().partition(" ")
    try:
        found = number(figure)
    except BadInput:
        raise BadField(field, f"write it as reported: 0.12 {units[1]} or < 0.05 {units[1]}.") from None
    if unit.strip() not in units:
        raise BadField(field, f"write a unit: {', '.join(units)}.")
    if found < 0:
        raise BadField(field, "a result below zero is written as < and the reporting limit.")
    return f"{sign}{figure.replace(',', '.')} {unit.strip()}"
