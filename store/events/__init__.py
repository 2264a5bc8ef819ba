"""What can happen, past tense, frozen, unchecked: history must always load.

An event becomes the `body` of a journal entry. `kind` is the word that stands in the record and never
changes; `version` rises when a body changes its shape, and an upcaster is added beside it. Nothing is
checked here: today's rule is not yesterday's. Numbers are text as written, durations are seconds as text.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

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

if TYPE_CHECKING:
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

_APART = {
    "repeatability_measured": "RepeatabilityMeasured",
    "adjusted": "Adjusted",
    "handled_apart": "HandledApart",
    "monitored": "Monitored",
    "incident_detailed": "IncidentDetailed",
    "incident_closed": "IncidentClosed",
    "lot_verified": "LotVerified",
    "stock_taken": "StockTaken",
    "sealed_weighed": "SealedWeighed",
}
"""Kinds that few questions meet, by the name of their class: they are made when one is met."""


if not TYPE_CHECKING:

    def __getattr__(name):
        """Give a class of `apart`."""
        if name not in _APART.values():
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from store.events import apart

        return getattr(apart, name)


class _Kinds(Mapping[str, type[Event]]):
    """Classes by kind, those of `apart` on first use."""

    def __init__(self, *here: type[Event]) -> None:
        self._here = {cls.kind: cls for cls in here}

    def __getitem__(self, kind: str) -> type[Event]:
        if kind in _APART and kind not in self._here:
            from store.events import apart

            self._here |= {k: getattr(apart, name) for k, name in _APART.items()}
        return self._here[kind]

    def __iter__(self) -> Iterator[str]:
        return iter({**dict.fromkeys(self._here), **dict.fromkeys(_APART)})

    def __len__(self) -> int:
        return len({*self._here, *_APART})


KINDS: Mapping[str, type[Event]] = _Kinds(
    RecordBegun, Registered, Retired, PinSet, PinRefused, SignedIn, SignedOut, ClockStepped, Restored,
    TextKept, Planned, Acknowledged, Resumed, Confirmed, Read, Opened, Closed, Handled, Dosed,
    ExposureNoted, IncidentNoted, StepDone, WentBack, Corrected, Discarded, NeverHappened, PlaceRejected,
    PrepClosed, Assayed, Abandoned, Reviewed,
)  # fmt: skip
"""Every kind that may stand in a journal."""


def _incident_detailed_2(body: Body) -> Body:
    from store.events.apart import incident_detailed_2

    return incident_detailed_2(body)


UPCASTERS: Mapping[tuple[str, int], Callable[[Body], Body]] = {
    ("prep_closed", 1): prep_closed_2,
    ("incident_detailed", 1): _incident_detailed_2,
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
