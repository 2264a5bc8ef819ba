"""What can happen, past tense, frozen, unchecked: history must always load.

An event becomes the `body` of a journal entry. `kind` is the word that stands in the record and never
changes; `version` rises when a body changes its shape, and an upcaster is added beside it. Nothing is
checked here: today's rule is not yesterday's. Numbers are text as written, durations are seconds as text.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from store.events.apart import (
    Adjusted,
    HandledApart,
    IncidentClosed,
    IncidentDetailed,
    LotVerified,
    Monitored,
    RepeatabilityMeasured,
    SealedWeighed,
    StockTaken,
    incident_detailed_2,
)
from store.events.base import Body, Event
from store.events.course import (
    Abandoned,
    Assayed,
    Corrected,
    Discarded,
    ExposureNoted,
    IncidentNoted,
    NeverHappened,
    PlaceRejected,
    PrepClosed,
    Reviewed,
    StepDone,
    WentBack,
    prep_closed_2,
)
from store.events.site import (
    ClockStepped,
    PinRefused,
    PinSet,
    RecordBegun,
    Registered,
    Restored,
    Retired,
    SignedIn,
    SignedOut,
    TextKept,
)
from store.events.weighing import (
    Acknowledged,
    Closed,
    Confirmed,
    Dosed,
    Handled,
    Opened,
    Planned,
    Read,
    Resumed,
)

__all__ = [
    "KINDS",
    "UPCASTERS",
    "Abandoned",
    "Acknowledged",
    "Adjusted",
    "Assayed",
    "Body",
    "ClockStepped",
    "Closed",
    "Confirmed",
    "Corrected",
    "Discarded",
    "Dosed",
    "Entry",
    "Event",
    "ExposureNoted",
    "Handled",
    "HandledApart",
    "IncidentClosed",
    "IncidentDetailed",
    "IncidentNoted",
    "LotVerified",
    "Monitored",
    "NeverHappened",
    "Opened",
    "PinRefused",
    "PinSet",
    "PlaceRejected",
    "Planned",
    "PrepClosed",
    "Read",
    "RecordBegun",
    "Registered",
    "RepeatabilityMeasured",
    "Restored",
    "Resumed",
    "Retired",
    "Reviewed",
    "SealedWeighed",
    "SignedIn",
    "SignedOut",
    "StepDone",
    "StockTaken",
    "TextKept",
    "WentBack",
    "load",
]

KINDS: Mapping[str, type[Event]] = {
    cls.kind: cls
    for cls in (
        RecordBegun, Registered, Retired, PinSet, PinRefused, SignedIn, SignedOut, ClockStepped, Restored,
        TextKept, RepeatabilityMeasured, Adjusted, HandledApart, Monitored, IncidentDetailed, IncidentClosed,
        LotVerified, StockTaken, SealedWeighed, Planned, Acknowledged, Resumed, Confirmed, Read, Opened,
        Closed, Handled, Dosed, ExposureNoted, IncidentNoted, StepDone, WentBack, Corrected, Discarded,
        NeverHappened, PlaceRejected, PrepClosed, Assayed, Abandoned, Reviewed,
    )
}  # fmt: skip
"""Every kind that may stand in a journal."""

UPCASTERS: Mapping[tuple[str, int], Callable[[Body], Body]] = {
    ("prep_closed", 1): prep_closed_2,
    ("incident_detailed", 1): incident_detailed_2,
}
"""(kind, version) -> the body in the shape of version + 1."""


def load(kind: str, version: int, body: Body) -> Event:
    """Give the event of a stored body, brought up to the present version."""
    while (step := UPCASTERS.get((kind, version))) is not None:
        body, version = step(body), version + 1
    return KINDS[kind].from_body(body)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the journal."""

    entry: int
    at: str
    """UTC, ISO form with microseconds."""
    offset: str
    """The local offset then, `+01:00`."""
    terminal: str
    person: str
    subject: str
    event: Event
    digest: str
