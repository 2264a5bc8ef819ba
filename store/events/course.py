"""What happens to a prep as a whole: notes, ways back, its end and its review."""

from dataclasses import field

from store.events.base import Body, Event, fact


@fact
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


@fact
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


@fact
class StepDone(Event):
    """All acts of a step are done; the next one is open."""

    kind = "step_done"
    prep: str
    step: int


@fact
class WentBack(Event):
    """The prep goes on at an earlier step, whose acts from `act` on are asked again."""

    kind = "went_back"
    prep: str
    step: int
    act: str
    reason: str
    part: str = ""
    """Only what this part needs is asked again; what other parts need stays done."""


@fact
class Corrected(Event):
    """An entry was wrong: this is the reading as it should have been; the exposure stays."""

    kind = "corrected"
    prep: str
    entry: int
    shown: str
    net_mg: str
    total_mg: str
    reason: str
    let_through: tuple[Body, ...] = ()


@fact
class Discarded(Event):
    """It happened, the content goes to waste; exposure and stock stay."""

    kind = "discarded"
    prep: str
    entry: int
    reason: str


@fact
class NeverHappened(Event):
    """A second person agrees that it did not happen: it leaves the totals, it stays on the page."""

    kind = "never_happened"
    prep: str
    entry: int
    second: str
    reason: str


@fact
class PlaceRejected(Event):
    """One place of a rack is out: nothing more is asked of it, and no portion is made of it."""

    kind = "place_rejected"
    prep: str
    part: str
    reason: str


@fact
class Assayed(Event):
    """What a laboratory found in portions of a rack, reported after it was closed."""

    kind = "assayed"
    prep: str
    units: Body = field(default_factory=dict)
    """Place -> content in % of the label, as reported; empty takes back what was entered before."""
    mean: str = ""
    """Mean content by an assay of the lot, in % of the label; `-` takes it back."""
    target: str = "100"
    """Target T of the label, in %."""
    method: str = ""
    laboratory: str = ""
    report: str = ""
    note: str = ""
    computed: Body = field(default_factory=dict)
    """How equal the portions were by it, as computed then."""


@fact
class PrepClosed(Event):
    """The prep is done; the result with its inputs and budget, and the lot it makes."""

    kind = "prep_closed"
    version = 2
    prep: str
    result: Body
    """Of several parts that of the last one, with what they share."""
    lot: Body
    container: Body
    label: str
    made: tuple[Body, ...] = ()
    """Of several parts each with its key: part, result, lot, container, label; empty where there is one."""


def prep_closed_2(body: Body) -> Body:
    """Bring the first body of `prep_closed` up to the second: a prep made one lot then."""
    return {**body, "made": ()}


@fact
class Abandoned(Event):
    """The prep was given up; what became of the material."""

    kind = "abandoned"
    prep: str
    reason: str
    material: str


@fact
class Reviewed(Event):
    """A reviewer accepted or returned a prep."""

    kind = "reviewed"
    prep: str
    verdict: str
    reason: str
    meaning: str
    head: str
    """entry:digest of the prep as it was reviewed."""
