"""What must hold of a prep's entries, read from the journal alone and by rules written down a second time.

Nothing here asks the fold, the standing of an acknowledgement or the sums of the program: what is found
must agree with them, and can only agree if both are right.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from store import events as ev
from store.record.record import Record

GUARDED = (ev.Dosed, ev.Read, ev.Opened, ev.Confirmed, ev.Handled)
INTERRUPTIONS = (ev.Resumed, ev.IncidentNoted, ev.WentBack)


@dataclass
class _Dose:
    entry: int
    vessel: str
    content: str
    base: int
    shown_mg: float
    counts: bool = True


@dataclass
class Audit:
    """The findings of one prep's entries."""

    faults: list[str] = field(default_factory=list)
    doses: list[int] = field(default_factory=list)
    """Entries of every dose ever accepted."""
    standing: list[int] = field(default_factory=list)
    totals_mg: dict[str, float] = field(default_factory=dict)
    """What is in the vessel, by content, from the readings."""
    open: int = 0
    owed: set[int] = field(default_factory=set)
    closed: bool = False

    def fault(self, entry: ev.Entry, what: str) -> None:
        self.faults.append(f"entry {entry.entry}, {entry.event.kind}: {what}")


def mass_mg(shown: str) -> float:
    """Read `12.50 mg` or `1.2345 g`."""
    number, unit = shown.replace(",", ".").split()
    return float(number) * {"mg": 1.0, "g": 1000.0}[unit]


def of_prep(record: Record, prep: str) -> Audit:
    """Audit the entries of a prep."""
    return audit(record.entries(subject=f"prep:{prep}"))


def audit(entries: Iterable[ev.Entry]) -> Audit:
    """Walk the entries once."""
    out = Audit()
    acknowledged: tuple[str, int] | None = None
    bases: list[tuple[str, float]] = []
    """The display at each new zero, and the place of a rack whose vessel it is of; before the first no dose
    can be."""
    untaken: dict[tuple[int, str], ev.Read] = {}
    doses: list[_Dose] = []
    for entry in entries:
        event = entry.event
        if isinstance(event, INTERRUPTIONS):
            acknowledged = None
        elif isinstance(event, ev.Acknowledged):
            acknowledged = (entry.person, event.step)
        elif (
            isinstance(event, GUARDED)
            and event.act  # a glove change belongs to no act, and may come at any time
            and acknowledged != (entry.person, event.step)
        ):
            out.fault(entry, f"{entry.person} had not acknowledged step {event.step}: {acknowledged}")
        if out.closed and not isinstance(
            event,
            ev.Corrected | ev.Discarded | ev.NeverHappened | ev.PrepClosed | ev.Reviewed | ev.IncidentNoted,
        ):
            out.fault(entry, "after the end of the prep")
        if isinstance(event, ev.Read) and event.what in ("vessel", "tared"):
            if event.within:
                bases.append((_place(event.act), mass_mg(event.shown)))
            else:
                untaken[event.step, event.act] = event
        elif isinstance(event, ev.Confirmed) and (event.step, event.act) in untaken:
            bases.append((_place(event.act), mass_mg(untaken.pop((event.step, event.act)).shown)))
        elif isinstance(event, ev.Dosed):
            if not out.open:
                out.fault(entry, "nothing was open")
            place = _place(event.act)
            own = [n for n, (of, _) in enumerate(bases) if not place or of in ("", place)]
            if not own:
                out.fault(entry, "nothing was tared")
            out.doses.append(entry.entry)
            base = own[-1] if own else -1
            doses.append(_Dose(entry.entry, event.vessel, event.content, base, mass_mg(event.shown)))
        elif isinstance(event, ev.Corrected):
            for dose in doses:
                if dose.entry == event.entry:
                    dose.shown_mg = mass_mg(event.shown)
        elif isinstance(event, ev.Discarded | ev.NeverHappened):
            for dose in doses:
                dose.counts = dose.counts and dose.entry != event.entry
            if isinstance(event, ev.NeverHappened):
                out.owed.discard(event.entry)
        else:
            _open_and_owed(out, entry)
        in_each = _totals(doses, bases)
        out.totals_mg = {}
        for (_, content), mg in in_each.items():
            out.totals_mg[content] = out.totals_mg.get(content, 0.0) + mg
        if (
            isinstance(event, ev.Dosed)
            and abs(in_each[event.vessel, event.content] - float(event.total_mg)) > 1e-6
        ):
            out.fault(entry, f"total {event.total_mg}, the readings say {in_each}")
        if isinstance(event, ev.PrepClosed | ev.Abandoned):
            out.closed = True
            if out.open or out.owed:
                out.fault(entry, f"open: {out.open}, owed: {sorted(out.owed)}")
        if isinstance(event, ev.PrepClosed) and not {"solvent"} < set(out.totals_mg):
            out.fault(entry, f"a solution without one of its parts: {out.totals_mg}")
    out.standing = [d.entry for d in doses if d.counts]
    return out


def _open_and_owed(out: Audit, entry: ev.Entry) -> None:
    event = entry.event
    if isinstance(event, ev.Opened):
        if out.open:
            out.fault(entry, f"entry {out.open} was still open")
        out.open = entry.entry
        out.owed.add(entry.entry)
    elif isinstance(event, ev.Closed):
        if event.opened != out.open:
            out.fault(entry, f"it closes {event.opened}, open was {out.open}")
        out.open = 0
    elif isinstance(event, ev.Handled):
        out.owed.add(entry.entry)
    elif isinstance(event, ev.ExposureNoted):
        if not set(event.handlings) <= out.owed - {out.open}:
            out.fault(entry, f"notes of {event.handlings}, owed were {sorted(out.owed)}, open {out.open}")
        out.owed -= set(event.handlings)


def _place(act: str) -> str:
    """Give the place of a rack that an act is of, from the end of its key; empty where it is of none."""
    last = act.replace(":", " ").rsplit(" ", 1)[-1]
    return last if last.isdigit() else ""


def _totals(doses: Iterable[_Dose], bases: list[tuple[str, float]]) -> dict[tuple[str, str], float]:
    """A reading is cumulative since its zero: what a dose added is what the display went up by."""
    display = {n: mg for n, (_, mg) in enumerate(bases)}
    totals: dict[tuple[str, str], float] = {}
    for dose in doses:
        if dose.counts:
            added = dose.shown_mg - display.get(dose.base, 0.0)
            place = dose.vessel, dose.content
            totals[place] = totals.get(place, 0.0) + added
            display[dose.base] = dose.shown_mg
    return totals
