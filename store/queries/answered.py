"""What a key led to in a prep, in one short line: from the entries that it wrote. Nothing is decided anew."""

from collections.abc import Iterable

from store import events as ev
from store.model.words import ActKind
from store.procedure.state import PrepState
from store.units import clock

READ = {
    "zero": "Zero",
    "check": "Check weight",
    "vessel": "Vessel",
    "tared": "Tare",
    "return": "Empty pan",
    "sealed": "Sealed vessel",
    "continuity": "Continuity",
}


def words(entries: Iterable[ev.Entry], state: PrepState) -> str:
    """Say what was written, the gravest of it; empty where nothing was.

    `state` is that of the prep after it.
    """
    found = [text for entry in entries if (text := _said(entry.event, state))]
    return found[-1] if found else ""


def _said(event: ev.Event, state: PrepState) -> str:
    match event:
        case ev.Read() if event.within:
            what = READ.get(event.what, event.what.capitalize())
            return f"{what} {event.shown}: {_held(event)}"
        case ev.Dosed():
            rest = "" if event.ends else "; more follows"
            return f"Taken: display {event.shown}{rest}."
        case ev.Corrected():
            return (
                f"Corrected: entry {event.entry} reads {event.shown} now; what stood first stays on the page."
            )
        case ev.NeverHappened():
            return f"Entry {event.entry} never happened, agreed by {event.second}; it stays on the page."
        case ev.WentBack():
            return f"Gone back to step {event.step + 1}: {event.reason}."
        case ev.Opened():
            return "Opened: its time open runs from here."
        case ev.Closed():
            return f"Closed after {clock(float(event.open_s))}."
        case ev.Handled():
            return f"Written: {event.what}."
        case ev.ExposureNoted():
            return "Exposure note written."
        case ev.Confirmed():
            return _confirmed(event, state)
        case ev.Acknowledged() if event.how == "page":
            return "Page acknowledged."
        case ev.Abandoned():
            return "Given up; everything written stays on its page."
        case _:
            return ""


def _held(event: ev.Read) -> str:
    if not event.expected_mg:
        return "taken."
    return "passed." if event.what in ("check", "continuity") else "as it should be."


def _confirmed(event: ev.Confirmed, state: PrepState) -> str:
    step = state.steps[event.step] if 0 <= event.step < len(state.steps) else None
    act = next((a for a in step.acts if a.key == event.act), None) if step is not None else None
    if act is not None and act.kind in (ActKind.ANSWER, ActKind.TELL) and event.answer:
        return f"Written: {event.answer}."
    return f"Written: {act.what}." if act is not None and act.what else "Written."
