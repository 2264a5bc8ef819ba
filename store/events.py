"""What can happen, past tense, frozen, unchecked: history must always load.

An event becomes the `body` of a journal entry. `kind` is the word that stands in the record and never
changes; `version` rises when a body changes its shape, and an upcaster is added beside it. Nothing is
checked here: today's rule is not yesterday's. Numbers are text as written, durations are seconds as text.
"""

from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any, ClassVar, Self

Body = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class Event:
    """One fact. Subclasses name their kind."""

    kind: ClassVar[str]
    version: ClassVar[int] = 1

    def to_body(self) -> dict[str, Any]:
        """Give the plain data that the journal stores."""
        return {f.name: _plain(getattr(self, f.name)) for f in fields(self)}

    @classmethod
    def from_body(cls, body: Body) -> Self:
        """Read a body of the present version; unknown keys of a later minor change are dropped."""
        known = {}
        for f in fields(cls):
            if f.name in body:
                value = body[f.name]
                known[f.name] = tuple(value) if isinstance(value, list) else value
            elif f.default is MISSING and f.default_factory is MISSING:
                known[f.name] = ""
        return cls(**known)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    return value


# ---- the record and the people at it ----


@dataclass(frozen=True, kw_only=True)
class RecordBegun(Event):
    """The first entry of a record."""

    kind = "begun"
    site: str
    program: str
    libraries: Body = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Registered(Event):
    """A register row was entered or changed; the whole row as it stands from now on."""

    kind = "registered"
    register: str
    id: str
    row: Body
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class Retired(Event):
    """A register row is not to be used any more; what used it keeps it."""

    kind = "retired"
    register: str
    id: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class PinSet(Event):
    """A person's PIN was set; the PIN itself is not in the journal."""

    kind = "pin_set"
    who: str
    digest: str = ""
    """SHA-256 over the credential, whose salt is not in the journal: tells a changed one, and no PIN."""


@dataclass(frozen=True, kw_only=True)
class PinRefused(Event):
    """A PIN for a known person did not fit."""

    kind = "pin_refused"
    who: str
    purpose: str = "sign in"


@dataclass(frozen=True, kw_only=True)
class SignedIn(Event):
    """A person signed in, or unlocked the screen."""

    kind = "signed_in"
    who: str
    how: str = "sign in"


@dataclass(frozen=True, kw_only=True)
class SignedOut(Event):
    """A person signed out, or the screen locked itself."""

    kind = "signed_out"
    who: str
    how: str = "sign out"


@dataclass(frozen=True, kw_only=True)
class ClockStepped(Event):
    """The clock stood over a minute before the entry before."""

    kind = "clock_stepped"
    back_s: str


@dataclass(frozen=True, kw_only=True)
class Restored(Event):
    """The record was restored from a backup."""

    kind = "restored"
    source: str
    source_entry: int
    source_digest: str
    aside: str
    aside_entry: int
    aside_digest: str


@dataclass(frozen=True, kw_only=True)
class TextKept(Event):
    """A text that was shown to a person, written once; `digest` is SHA-256 of it."""

    kind = "text_kept"
    digest: str
    text: str
    what: str


# ---- a balance, outside a prep; a check there is a `Read` without a prep ----


@dataclass(frozen=True, kw_only=True)
class RepeatabilityMeasured(Event):
    """Ten or more weighings of one small mass on a balance in its place, with a vessel's load on the pan."""

    kind = "repeatability_measured"
    balance: str
    enclosure: str
    """Where the balance stood."""
    load: str
    """What else lay on the pan, such as the empty vessel; empty where nothing did."""
    weighings: tuple[str, ...]
    """As the display showed them."""
    sd_mg: str
    readability_mg: str
    minimum_mg: str
    settings: Body = field(default_factory=dict)
    """Limit and factor that the minimum weight was computed with."""
    source: str = "typed"


@dataclass(frozen=True, kw_only=True)
class Adjusted(Event):
    """A balance was adjusted; a check before it stands no more."""

    kind = "adjusted"
    balance: str
    how: str
    air_kg_m3: str = ""
    """Density of the gas around its weight then; empty: the same as where it is used."""
    note: str = ""


# ---- handlings, measurements and incidents, apart from any prep ----


@dataclass(frozen=True, kw_only=True)
class HandledApart(Event):
    """A handling that belongs to no prep: glove or filter change, wipe-down, a visit; its note is in it."""

    kind = "handled_apart"
    what: str
    day: str
    """Local day on which it happened; it may be entered later."""
    enclosure: str
    gloves: str
    present: tuple[str, ...]
    substances: tuple[str, ...] = ()
    """What could be met: contamination counts as what it is of."""
    hazards: Body = field(default_factory=dict)
    """Hazard snapshots by substance, as in a plan."""
    open_s: str = ""
    """Estimated by who was there; empty where nothing was open."""
    unusual: bool = False
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Monitored(Event):
    """The result of a measurement of air or of a wiped surface, as a laboratory reported it."""

    kind = "monitored"
    what: str
    """air, personal air, wipe."""
    day: str
    """Local day of sampling."""
    substance: str
    value: str
    """As reported: `< 0.1 ug/m3` keeps its sign, digits and unit."""
    place: str = ""
    enclosure: str = ""
    who: str = ""
    """Whose breathing zone was sampled."""
    minutes: str = ""
    limit: str = ""
    limit_source: str = ""
    method: str = ""
    laboratory: str = ""
    report: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class IncidentDetailed(Event):
    """What is known of an incident by now, whole; an earlier one stays in the journal."""

    kind = "incident_detailed"
    incident: int
    """Entry of the incident."""
    route: str = ""
    body_part: str = ""
    amount: str = ""
    first_aid: str = ""
    referred: str = ""
    """To a physician: yes, no, or empty while it is not known; never a diagnosis."""
    cause: str = ""
    follow_up: str = ""
    substances: tuple[str, ...] = ()
    hazards: Body = field(default_factory=dict)
    present: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class IncidentClosed(Event):
    """A safety officer closed an incident."""

    kind = "incident_closed"
    incident: int
    reason: str


# ---- lots and containers, apart from any prep ----


@dataclass(frozen=True, kw_only=True)
class LotVerified(Event):
    """A lot was held against the one before, or against something independent of it."""

    kind = "lot_verified"
    lot: str
    how: str
    """previous lot, independent check."""
    against: str
    method: str
    ratio: str
    """Found over expected; 1 is agreement."""
    u: str = ""
    """Standard uncertainty of the ratio."""
    limit: str = ""
    """How far the ratio may be from 1."""
    within: bool = True
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class StockTaken(Event):
    """What is left in a container was looked at, and held against what the doses leave."""

    kind = "stock_taken"
    container: str
    how: str
    """weighed, estimated."""
    shown: str
    """As weighed or estimated, with its unit: of the content."""
    left_mg: str
    by_record_mg: str = ""
    """What content and doses left by then; empty where the record cannot know."""
    reason: str = ""
    """What a difference comes from, as far as it is known."""


@dataclass(frozen=True, kw_only=True)
class SealedWeighed(Event):
    """The gross of a sealed container: at closing, before a use or after it."""

    kind = "sealed_weighed"
    container: str
    when: str
    """at closing, before use, after use."""
    balance: str
    shown: str
    mass_mg: str
    computed: Body = field(default_factory=dict)
    """Loss since the weighing before, and what it leaves of the concentration, as computed then."""
    leaks: bool = False


# ---- a prep ----


@dataclass(frozen=True, kw_only=True)
class Planned(Event):
    """A prep was planned; everything decided then is in here."""

    kind = "planned"
    prep: str
    plan: Body
    steps: tuple[Body, ...]
    basis: Body
    """Register rows used, settings in force, hazard snapshots by substance."""
    aims: Body
    """What was computed: masses aimed at and their inputs."""
    let_through: tuple[Body, ...] = ()
    libraries: Body = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Acknowledged(Event):
    """A person acknowledged the caution page of a step; `how` is page or short."""

    kind = "acknowledged"
    prep: str
    step: int
    digest: str
    families: tuple[str, ...] = ()
    screens: int = 1
    how: str = "page"


@dataclass(frozen=True, kw_only=True)
class Resumed(Event):
    """The prep was taken up again after an interruption; acknowledgements stand no more."""

    kind = "resumed"
    prep: str
    why: str
    open_now: str = ""


@dataclass(frozen=True, kw_only=True)
class Confirmed(Event):
    """An act was done, answered or told."""

    kind = "confirmed"
    prep: str
    step: int
    act: str
    answer: str = ""
    let_through: tuple[Body, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Read(Event):
    """One reading of the balance that is not a dose: zero, check, vessel, return, sealed, continuity."""

    kind = "read"
    prep: str
    step: int
    act: str
    what: str
    balance: str
    shown: str
    mass_mg: str
    source: str = "typed"
    steady: bool = True
    expected_mg: str = ""
    limit_mg: str = ""
    within: bool = True
    conditions: Body = field(default_factory=dict)
    let_through: tuple[Body, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Opened(Event):
    """Something hazardous is open from here on: a handling began."""

    kind = "opened"
    prep: str
    step: int
    act: str
    what: str
    container: str = ""
    vessel: str = ""
    enclosure: str = ""
    substances: tuple[str, ...] = ()
    let_through: tuple[Body, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Closed(Event):
    """Closed again; `open_s` is monotonic, or estimated across an interruption."""

    kind = "closed"
    prep: str
    step: int
    act: str
    opened: int
    """Entry of the opening."""
    open_s: str
    estimated: bool = False


@dataclass(frozen=True, kw_only=True)
class Handled(Event):
    """A handling without an opening: transfer, waste bag, glove change."""

    kind = "handled"
    prep: str
    step: int
    act: str
    what: str
    enclosure: str = ""
    substances: tuple[str, ...] = ()
    detail: str = ""


@dataclass(frozen=True, kw_only=True)
class Dosed(Event):
    """One weighed addition of a container's content into a vessel, as the display showed it."""

    kind = "dosed"
    prep: str
    step: int
    act: str
    content: str
    """solid, solvent, aliquot."""
    container: str
    vessel: str
    shown: str
    """The display at acceptance, every digit kept."""
    net_mg: str
    """What this dose added."""
    total_mg: str
    """Of this content in the vessel with this dose."""
    source: str = "typed"
    steady: bool = True
    usable: bool = True
    reason: str = ""
    inside: bool = True
    ends: bool = True
    """False: more of it follows."""
    computed: Body = field(default_factory=dict)
    let_through: tuple[Body, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ExposureNoted(Event):
    """How the handlings went; every handling owes one."""

    kind = "exposure_noted"
    prep: str
    step: int
    act: str
    handlings: tuple[int, ...]
    enclosure: str
    gloves: str
    unusual: bool = False
    note: str = ""
    present: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class IncidentNoted(Event):
    """Something went wrong, or nearly did."""

    kind = "incident"
    prep: str
    what: str
    note: str
    substances: tuple[str, ...] = ()
    handling: int = 0
    enclosure: str = ""
    present: tuple[str, ...] = ()
    step: int = -1
    hazards: Body = field(default_factory=dict)
    """Hazard snapshots by substance, where no prep has taken them."""


@dataclass(frozen=True, kw_only=True)
class StepDone(Event):
    """All acts of a step are done; the next one is open."""

    kind = "step_done"
    prep: str
    step: int


@dataclass(frozen=True, kw_only=True)
class WentBack(Event):
    """The prep goes on at an earlier step, whose acts from `act` on are asked again."""

    kind = "went_back"
    prep: str
    step: int
    act: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Corrected(Event):
    """An entry was wrong: this is the reading as it should have been; the exposure stays."""

    kind = "corrected"
    prep: str
    entry: int
    shown: str
    net_mg: str
    total_mg: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Discarded(Event):
    """It happened, the content goes to waste; exposure and stock stay."""

    kind = "discarded"
    prep: str
    entry: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class NeverHappened(Event):
    """A second person agrees that it did not happen: it leaves the totals, it stays on the page."""

    kind = "never_happened"
    prep: str
    entry: int
    second: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class PrepClosed(Event):
    """The prep is done; the result with its inputs and budget, and the lot it makes."""

    kind = "prep_closed"
    prep: str
    result: Body
    lot: Body
    container: Body
    label: str


@dataclass(frozen=True, kw_only=True)
class Abandoned(Event):
    """The prep was given up; what became of the material."""

    kind = "abandoned"
    prep: str
    reason: str
    material: str


@dataclass(frozen=True, kw_only=True)
class Reviewed(Event):
    """A reviewer accepted or returned a prep."""

    kind = "reviewed"
    prep: str
    verdict: str
    reason: str
    meaning: str
    head: str
    """entry:digest of the prep as it was reviewed."""


KINDS: Mapping[str, type[Event]] = {
    cls.kind: cls
    for cls in (
        RecordBegun, Registered, Retired, PinSet, PinRefused, SignedIn, SignedOut, ClockStepped, Restored,
        TextKept, RepeatabilityMeasured, Adjusted, HandledApart, Monitored, IncidentDetailed, IncidentClosed,
        LotVerified, StockTaken, SealedWeighed, Planned, Acknowledged, Resumed, Confirmed, Read, Opened,
        Closed, Handled, Dosed, ExposureNoted, IncidentNoted, StepDone, WentBack, Corrected, Discarded,
        NeverHappened, PrepClosed, Abandoned, Reviewed,
    )
}  # fmt: skip
"""Every kind that may stand in a journal."""

UPCASTERS: Mapping[tuple[str, int], Callable[[Body], Body]] = {}
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
