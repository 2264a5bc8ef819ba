"""What happens apart from any prep: balances, handlings, measurements, incidents, lots, containers."""

from dataclasses import field

from store.events.base import Body, Event, fact


@fact
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


@fact
class Adjusted(Event):
    """A balance was adjusted; a check before it stands no more."""

    kind = "adjusted"
    balance: str
    how: str
    air_kg_m3: str = ""
    """Density of the gas around its weight then; empty: the same as where it is used."""
    note: str = ""


@fact
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


@fact
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


@fact
class IncidentDetailed(Event):
    """What is known of an incident by now, whole; an earlier one stays in the journal."""

    kind = "incident_detailed"
    version = 2
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
    enclosure: str | None = None
    """Where it happened, empty where in none; None: nobody was asked, and what was noted first stands."""


def incident_detailed_2(body: Body) -> Body:
    """Bring the first body of `incident_detailed` up to the second: it said nothing of the enclosure."""
    return {**body, "enclosure": None}


@fact
class IncidentClosed(Event):
    """A safety officer closed an incident."""

    kind = "incident_closed"
    incident: int
    reason: str


@fact
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


@fact
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


@fact
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
