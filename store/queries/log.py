"""The journal in a person's words: one line an entry, nothing left out, nothing decided anew."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from store import events as ev
from store.record.record import Record
from store.units import clock, figure


@dataclass(frozen=True, slots=True)
class LogLine:
    """One entry as a person reads it; `digest` is the chain's digest of the entry."""

    entry: int
    at: str
    offset: str
    person: str
    terminal: str
    kind: str
    says: str
    digest: str


def line(entry: ev.Entry) -> LogLine:
    """Give one entry as a line."""
    return LogLine(
        entry=entry.entry,
        at=entry.at,
        offset=entry.offset,
        person=entry.person,
        terminal=entry.terminal,
        kind=entry.event.kind,
        says=says(entry.event),
        digest=entry.digest,
    )


def of_subject(record: Record, subject: str) -> tuple[LogLine, ...]:
    """Give every entry about a subject, such as `prep:P-7F3A-0012` or `lot:KD-2`, oldest first."""
    return tuple(line(entry) for entry in record.entries(subject=subject))


def says(event: ev.Event) -> str:
    """Say what an event tells, in one line.

    Examples
    --------
    >>> says(ev.StepDone(prep="P-7F3A-0001", step=3))
    'step 4 done'
    >>> says(ev.Discarded(prep="P-7F3A-0001", entry=40, reason="wrong vessel"))
    'entry 40 discarded: wrong vessel'
    """
    words = _WORDS.get(event.kind)
    return words(event) if words is not None else event.kind


def through(decisions: tuple[Mapping[str, Any], ...]) -> str:
    """Say who let what through, and why; empty where nobody had to."""
    return "".join(
        f"; let through by {d.get('second', '?')}: {'; '.join(d.get('what', ()))} ({d.get('reason', '')})"
        for d in decisions
    )


def _planned(e: ev.Planned) -> str:
    plan = e.plan
    return (
        f"planned {plan['target']}, {plan['amount']} from container {plan['container']} in vessel "
        f"{plan['vessel']}, {len(e.steps)} steps{through(e.let_through)}"
    )


def _acknowledged(e: ev.Acknowledged) -> str:
    how = f"{e.screens} screens read" if e.how == "page" else "short form, unchanged"
    first = f", first as new: {e.news}" if e.news else ""
    return f"step {e.step + 1}: cautions acknowledged, {how}{first}, text {e.digest[:16]}"


def _read(e: ev.Read) -> str:
    limit = f", expected {e.expected_mg} ± {e.limit_mg} mg" if e.expected_mg and e.limit_mg else ""
    state = "" if e.within else ", OUT OF LIMIT"
    steady = "" if e.steady else ", not steady"
    where = f"step {e.step + 1}: " if e.prep else ""
    return f"{where}{e.what} read {e.shown} on {e.balance}{limit}{state}{steady} ({e.source})" + through(
        e.let_through
    )


def _dosed(e: ev.Dosed) -> str:
    state = "" if e.usable else ", NOT USABLE"
    state += "" if e.inside else ", outside the tolerance"
    state += "" if e.steady else ", not steady"
    why = f": {e.reason}" if e.reason else ""
    more = "" if e.ends else ", more follows"
    return (
        f"step {e.step + 1}: {e.content} from container {e.container} into {e.vessel}, display {e.shown}, "
        f"added {e.net_mg} mg, in the vessel {e.total_mg} mg ({e.source}){more}{state}{why}"
        + through(e.let_through)
    )


def _noted(e: ev.ExposureNoted) -> str:
    how = f"unusual: {e.note}" if e.unusual else e.note or "nothing unusual"
    if not e.handlings and e.note and not e.unusual:
        return f"note: {e.note}; by {', '.join(e.present)} at {e.enclosure}"
    which = ", ".join(map(str, e.handlings))
    present = ", ".join(e.present)
    return f"exposure note for entries {which}: {e.enclosure}, gloves {e.gloves}, {how}; present {present}"


def _opened(e: ev.Opened) -> str:
    which = " ".join(
        part
        for part in (e.container and f"container {e.container}", e.vessel and f"vessel {e.vessel}")
        if part
    )
    opened = f"step {e.step + 1}: opened {e.what}{', ' + which if which else ''} in {e.enclosure}"
    return opened + through(e.let_through)


def _handled(e: ev.Handled) -> str:
    said = f": {e.detail}" if e.detail else ""
    return f"step {e.step + 1}: {e.what}{said} ({e.enclosure}){through(e.let_through)}"


def _incident(e: ev.IncidentNoted) -> str:
    return f"INCIDENT {e.what}: {e.note}; present {', '.join(e.present)}"


def _confirmed(e: ev.Confirmed) -> str:
    answer = e.answer if len(e.answer) < 60 else f"text {e.answer[:16]}"
    return f"step {e.step + 1}: {e.act}{': ' + answer if answer else ''}{through(e.let_through)}"


def _closed_prep(e: ev.PrepClosed) -> str:
    result = e.result
    made = f", made lot {e.lot['id']}" if e.lot else ""
    return f"prep closed: {result.get('value', '?')} {result.get('unit', '')}, u {result.get('u', '?')}{made}"


def _handled_apart(e: ev.HandledApart) -> str:
    held = f" of {', '.join(e.substances)}" if e.substances else ""
    how = f"; {'unusual: ' if e.unusual else ''}{e.note}" if e.note else ""
    return (
        f"{e.what}{held} on {e.day} in {e.enclosure or 'no enclosure'}, gloves {e.gloves or 'none'}; "
        f"present {', '.join(e.present)}{how}"
    )


def _incident_detailed(e: ev.IncidentDetailed) -> str:
    said = (
        ("route", e.route), ("part of the body", e.body_part), ("amount", e.amount),
        ("first aid", e.first_aid), ("referred to a physician", e.referred), ("cause", e.cause),
        ("follow-up", e.follow_up), ("present", ", ".join(e.present)),
        ("enclosure", e.enclosure),
    )  # fmt: skip
    return f"incident {e.incident}: " + "; ".join(f"{name} {text}" for name, text in said if text)


def _monitored(e: ev.Monitored) -> str:
    where = ", ".join(w for w in (e.place, e.enclosure, e.who) if w)
    limit = f", limit {e.limit} ({e.limit_source})" if e.limit else ""
    return f"{e.what} on {e.day}{' at ' + where if where else ''}: {e.substance} {e.value}{limit}"


def _lot_verified(e: ev.LotVerified) -> str:
    spread = f" ± {e.u} (u)" if e.u else ""
    state = "" if e.within else ", OUT OF LIMIT"
    return f"lot {e.lot} against {e.against} ({e.how}, {e.method}): ratio {e.ratio}{spread}{state}" + (
        f"; {e.note}" if e.note else ""
    )


def _stock_taken(e: ev.StockTaken) -> str:
    by = f", by the record {e.by_record_mg} mg" if e.by_record_mg else ""
    return f"container {e.container} {e.how}: {e.shown} left{by}{'; ' + e.reason if e.reason else ''}"


def _sealed_weighed(e: ev.SealedWeighed) -> str:
    loss = e.computed.get("loss_mg", "")
    return f"sealed {e.container} {e.when}: {e.shown} on {e.balance}" + (
        f", lost {loss} mg since{', LEAKS' if e.leaks else ''}" if loss else ""
    )


def _assayed(e: ev.Assayed) -> str:
    in_order = sorted(e.units.items(), key=lambda unit: (len(unit[0]), unit[0]))
    found = [f"{place}: {content or 'taken back'}" for place, content in in_order]
    found += [f"mean {'taken back' if e.mean == '-' else e.mean}"] if e.mean else []
    av = e.computed.get("acceptance_value", "")
    by = ", ".join(x for x in (e.method, e.laboratory, e.report) if x)
    return (
        f"assayed, % of the label: {', '.join(found)} ({by})"
        + (f"; acceptance value {figure(float(av), 3)}" if av else "")
        + (f"; {e.note}" if e.note else "")
    )


_WORDS: Mapping[str, Callable[[Any], str]] = {
    "begun": lambda e: f"record begun at {e.site} with Tarebook {e.program}",
    "registered": lambda e: f"{e.register} {e.id} entered{': ' + e.reason if e.reason else ''}",
    "retired": lambda e: f"{e.register} {e.id} retired: {e.reason}",
    "pin_set": lambda e: f"PIN of {e.who} set",
    "pin_refused": lambda e: f"PIN of {e.who} refused ({e.purpose})",
    "signed_in": lambda e: f"{e.who} signed in ({e.how})",
    "signed_out": lambda e: f"{e.who} signed out ({e.how})",
    "clock_stepped": lambda e: f"the clock stepped back by {e.back_s} s",
    "restored": lambda e: f"restored from {e.source}, entry {e.source_entry}; {e.aside} holds what was here",
    "text_kept": lambda e: f"{e.what} kept, text {e.digest[:16]}",
    "repeatability_measured": lambda e: (
        f"repeatability of {e.balance} in {e.enclosure or 'its place'}: s {e.sd_mg} mg "
        f"from {len(e.weighings)} weighings{', load ' + e.load if e.load else ''} ({e.source})"
    ),
    "adjusted": lambda e: (
        f"{e.balance} adjusted by {e.how}"
        + (f", air {e.air_kg_m3} kg/m3" if e.air_kg_m3 else "")
        + (f": {e.note}" if e.note else "")
    ),
    "handled_apart": _handled_apart,
    "monitored": _monitored,
    "incident_detailed": _incident_detailed,
    "incident_closed": lambda e: f"incident {e.incident} closed: {e.reason}",
    "lot_verified": _lot_verified,
    "stock_taken": _stock_taken,
    "sealed_weighed": _sealed_weighed,
    "planned": _planned,
    "acknowledged": _acknowledged,
    "resumed": lambda e: f"taken up again: {e.why}{', open then: ' + e.open_now if e.open_now else ''}",
    "confirmed": _confirmed,
    "read": _read,
    "opened": _opened,
    "closed": lambda e: (
        f"step {e.step + 1}: closed after {clock(float(e.open_s), estimated=e.estimated)}, "
        f"opened in entry {e.opened}"
    ),
    "handled": _handled,
    "dosed": _dosed,
    "exposure_noted": _noted,
    "incident": _incident,
    "step_done": lambda e: f"step {e.step + 1} done",
    "went_back": lambda e: f"back to step {e.step + 1}{', ' + e.act if e.act else ''}: {e.reason}",
    "corrected": lambda e: (
        f"entry {e.entry} corrected to display {e.shown}, added {e.net_mg} mg, "
        f"in the vessel {e.total_mg} mg: {e.reason}{through(e.let_through)}"
    ),
    "discarded": lambda e: f"entry {e.entry} discarded: {e.reason}",
    "never_happened": lambda e: f"entry {e.entry} never happened, agreed by {e.second}: {e.reason}",
    "prep_closed": _closed_prep,
    "place_rejected": lambda e: f"place {e.part} rejected: {e.reason}",
    "assayed": _assayed,
    "abandoned": lambda e: f"given up: {e.reason}; material: {e.material}",
    "reviewed": lambda e: (
        f"{e.verdict}, {e.meaning}{': ' + e.reason if e.reason else ''}, seen up to {e.head[:24]}"
    ),
}
"""Kind of an entry -> what it tells."""
