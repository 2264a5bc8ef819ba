"""What happens in the steps of a prep: acknowledged, read, opened, dosed, closed."""

from dataclasses import field

from store.events.base import Body, Event, fact


@fact
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


@fact
class Acknowledged(Event):
    """A person acknowledged the caution page of a step; `how` is page or short.

    `news` says what stood first on the screen, marked as new; the digest is of the text in its own order.
    """

    kind = "acknowledged"
    prep: str
    step: int
    digest: str
    families: tuple[str, ...] = ()
    screens: int = 1
    how: str = "page"
    news: str = ""


@fact
class Resumed(Event):
    """The prep was taken up again after an interruption; acknowledgements stand no more."""

    kind = "resumed"
    prep: str
    why: str
    open_now: str = ""


@fact
class Confirmed(Event):
    """An act was done, answered or told."""

    kind = "confirmed"
    prep: str
    step: int
    act: str
    answer: str = ""
    let_through: tuple[Body, ...] = ()


@fact
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


@fact
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


@fact
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


@fact
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
    let_through: tuple[Body, ...] = ()


@fact
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
