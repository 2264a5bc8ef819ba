"""What a prep's page shows besides its result, read from entries: cautions, changes, notes, reviews."""

from __future__ import annotations

from dataclasses import dataclass

from store import events as ev
from store.procedure.done import AckDone
from store.procedure.state import PrepState
from store.queries import texts
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class CautionShown:
    """One caution text as it was shown, and everybody who acknowledged it in this prep."""

    digest: str
    text: str
    """Empty where the record does not hold the text."""
    families: tuple[str, ...]
    acknowledged: tuple[AckDone, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One way back: an entry corrected, discarded, or agreed never to have happened."""

    entry: int
    at: str
    person: str
    how: str
    of: int
    was: str
    """The display of the entry as first written; empty for a handling."""
    now: str
    reason: str
    second: str = ""


@dataclass(frozen=True, slots=True)
class NoteShown:
    """One exposure note."""

    entry: int
    at: str
    person: str
    handlings: tuple[int, ...]
    enclosure: str
    gloves: str
    unusual: bool
    note: str
    present: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class IncidentShown:
    """One incident of a prep."""

    entry: int
    at: str
    person: str
    step: int
    what: str
    note: str
    present: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReviewShown:
    """One review: the verdict, what signing meant, and how far the journal went then."""

    entry: int
    at: str
    person: str
    verdict: str
    reason: str
    meaning: str
    head: str


def cautions(record: Record, state: PrepState, entries: tuple[ev.Entry, ...]) -> tuple[CautionShown, ...]:
    """Give every caution text that was acknowledged, the first first."""
    families = {e.event.digest: e.event.families for e in entries if isinstance(e.event, ev.Acknowledged)}
    shown = []
    for digest, of in families.items():
        kept = texts.kept(record, digest)
        acks = tuple(a for a in state.acks if a.digest == digest)
        shown.append(CautionShown(digest, kept.text if kept else "", of, acks))
    return tuple(shown)


def changes(entries: tuple[ev.Entry, ...]) -> tuple[Change, ...]:
    """Give every way back, in order."""
    first = {e.entry: e.event.shown for e in entries if isinstance(e.event, ev.Dosed)}
    last, out = dict(first), []
    for entry in entries:
        event = entry.event
        if isinstance(event, ev.Corrected | ev.Discarded | ev.NeverHappened):
            how = event.kind.replace("_", " ")
            was = last.get(event.entry, "")
            now = event.shown if isinstance(event, ev.Corrected) else ""
            second = event.second if isinstance(event, ev.NeverHappened) else ""
            if now:
                last[event.entry] = now
            out.append(
                Change(entry.entry, entry.at, entry.person, how, event.entry, was, now, event.reason, second)
            )
    return tuple(out)


def note(entry: ev.Entry, event: ev.ExposureNoted) -> NoteShown:
    """Give an exposure note."""
    return NoteShown(
        entry=entry.entry,
        at=entry.at,
        person=entry.person,
        handlings=event.handlings,
        enclosure=event.enclosure,
        gloves=event.gloves,
        unusual=event.unusual,
        note=event.note,
        present=event.present,
    )


def incident(entry: ev.Entry, event: ev.IncidentNoted) -> IncidentShown:
    """Give an incident of a prep."""
    return IncidentShown(
        entry=entry.entry,
        at=entry.at,
        person=entry.person,
        step=event.step,
        what=event.what,
        note=event.note,
        present=event.present,
    )


def review(entry: ev.Entry, event: ev.Reviewed) -> ReviewShown:
    """Give a review."""
    return ReviewShown(
        entry=entry.entry,
        at=entry.at,
        person=entry.person,
        verdict=event.verdict,
        reason=event.reason,
        meaning=event.meaning,
        head=event.head,
    )
