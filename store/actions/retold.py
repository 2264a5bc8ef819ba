"""A history told after one prep that was really run: the same acts on other days, with other readings.

For a site of samples only: what is told so never happened. Every entry goes through the record's bulk path,
each result is computed from its own readings, and the record verifies like any other.
"""

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from store import events as ev
from store.actions.closing import closed_event, made_of
from store.model.words import LotStatus
from store.procedure import outcome
from store.procedure.state import PrepState
from store.record.record import Record
from store.units import milligrams, net

Happened = tuple[ev.Event, str, str]
Label = Callable[[Record, PrepState], str]

USED_UP = timedelta(days=20)
"""So long after it was made, a solution is used up; our own choice."""
MEANING = "sums and readings checked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One prep of the history: when, by whom, and what the display showed."""

    start: datetime
    person: str
    solid_mg: str
    """As displayed, every digit."""
    solvent_mg: str
    pace: float = 1.0
    """How long its acts took, over those of the prep that was run."""
    reviewer: str = ""
    """Who accepted it next day and, as a keeper, took its lot out of use later. Empty: it still waits."""


def bring_in(
    record: Record,
    model: str,
    history: Sequence[Told],
    *,
    at: Callable[[datetime], None],
    label: Label,
) -> int:
    """Write the history of preps after a closed prep, and give the number of the last entry.

    Parameters
    ----------
    model
        The prep that was run: a solution in one vessel, none of its entries corrected.
    history
        The oldest first, all of them after the model.
    at
        Sets the clock of the record.
    label
        Gives the label text that fits the moment.
    """
    return record.append_all(_Teller(record, model, at, label).told(history))


class _Teller:
    """It counts the entries, since handlings are named by theirs."""

    def __init__(self, record: Record, model: str, at: Callable[[datetime], None], label: Label) -> None:
        self.record, self.model, self.at, self.label = record, model, at, label
        self.entry = record.head().entry
        self.entries = tuple(record.entries(subject=f"prep:{model}"))
        self.begun = datetime.fromisoformat(self.entries[0].at)
        self.terminal, self.serial = record.terminal, int(record.next_prep_id().rsplit("-", 1)[1])
        self.was = {d.content: d.total_mg for d in record.prep_state(model).doses}
        self.kept: set[str] = set()

    def told(self, history: Sequence[Told]) -> Iterator[Happened]:
        """Give every entry of the history in its order, the clock set before each; the model ends like it."""
        reviewer = next((of.reviewer for of in history if of.reviewer), "")
        if reviewer:
            first = Told(start=self.begun, person="", solid_mg="", solvent_mg="", reviewer=reviewer)
            yield from self._after(first, self.model)
        for of in history:
            prep = f"P-{self.terminal}-{self.serial:04d}"
            self.serial += 1
            yield from self._prep(of, prep)
            if of.reviewer:
                yield from self._after(of, prep)

    def _put(self, event: ev.Event, person: str, subject: str, when: datetime) -> Happened:
        self.at(when)
        self.entry += 1
        return event, person, subject

    def _signed(self, person: str, when: datetime, *, out: bool = False) -> Happened:
        event = ev.SignedOut(who=person, how="sign out") if out else ev.SignedIn(who=person, how="sign in")
        return self._put(event, person, f"person:{person}", when)

    def _prep(self, of: Told, prep: str) -> Iterator[Happened]:
        subject, here = f"prep:{prep}", dict[int, int]()
        yield self._signed(of.person, of.start)
        when = of.start
        for entry in self.entries:
            when = of.start + of.pace * (datetime.fromisoformat(entry.at) - self.begun)
            if isinstance(entry.event, ev.PrepClosed):
                yield from self._closed(of, prep, when)
                break
            event, text = self._again(entry.event, of, prep, here)
            if text:
                kept = ev.TextKept(digest=_digest(text), text=text, what="label")
                yield self._put(kept, of.person, f"text:{_digest(text)[:16]}", when)
            yield self._put(event, of.person, subject, when)
            here[entry.entry] = self.entry
        yield self._signed(of.person, when + timedelta(seconds=5), out=True)

    def _again(self, event: Any, of: Told, prep: str, here: Mapping[int, int]) -> tuple[ev.Event, str]:
        """Give an entry of the model as it is told of this prep, and a label text that must be kept first."""
        changed: dict[str, Any] = {"prep": prep}
        match event:
            case ev.Dosed():
                changed |= self._dose(event, of, prep)
            case ev.Read():
                changed |= self._reading(event, of)
            case ev.Closed():
                changed |= {"opened": here[event.opened], "open_s": f"{of.pace * float(event.open_s):.1f}"}
            case ev.ExposureNoted():
                changed |= {"handlings": tuple(here[h] for h in event.handlings), "present": (of.person,)}
            case ev.Confirmed() if event.act in ("prelabel", "label"):
                text = self.label(self.record, self.record.prep_state(prep))
                return replace(event, prep=prep, answer=_digest(text)), text
        return replace(event, **changed), ""

    def _dose(self, event: ev.Dosed, of: Told, prep: str) -> dict[str, Any]:
        shown = of.solid_mg if event.content == "solid" else of.solvent_mg
        state, total_mg = self.record.prep_state(prep), float(shown)
        return {
            "shown": f"{shown} mg",
            "net_mg": milligrams(total_mg),
            "total_mg": milligrams(total_mg),
            "source": "typed",
            "inside": outcome.window(state, event.content).holds(total_mg),
            "computed": outcome.if_taken(state, event.content, total_mg).to_body(),
        }

    def _reading(self, event: ev.Read, of: Told) -> dict[str, Any]:
        """A vessel with more in it is heavier by as much on the pan; taken off it, with the other sign."""
        more = {"solid": float(of.solid_mg) - self.was["solid"]}
        more["solvent"] = float(of.solvent_mg) - self.was["solvent"]
        by_mg = 0.0
        if event.what == "sealed":
            by_mg = sum(more.values())
        elif event.what == "return" and event.step > self._step_of("solid"):
            by_mg = -more["solid"]
        changed: dict[str, Any] = {"source": "typed"}
        if not by_mg:
            return changed
        number, _, unit = event.shown.partition(" ")
        places = len(number.partition(".")[2])
        mass_mg = net(float(event.mass_mg) + by_mg)
        changed |= {"shown": f"{mass_mg:.{places}f} {unit}", "mass_mg": milligrams(mass_mg)}
        if event.expected_mg:
            changed["expected_mg"] = milligrams(float(event.expected_mg) + by_mg)
        return changed

    def _step_of(self, content: str) -> int:
        return next(
            e.event.step for e in self.entries if isinstance(e.event, ev.Dosed) and e.event.content == content
        )

    def _closed(self, of: Told, prep: str, when: datetime) -> Iterator[Happened]:
        state = self.record.prep_state(prep)
        text = self.label(self.record, state)
        made = made_of(state, when.date(), {"": text})
        yield self._put(closed_event(state, made), of.person, f"prep:{prep}", when)
        (one,) = made
        for register, row in (("lot", one.lot), ("container", one.container)):
            event = ev.Registered(register=register, id=row.id, row=row.to_body(), reason=f"made by {prep}")
            yield self._put(event, of.person, f"{register}:{row.id}", when)

    def _after(self, of: Told, prep: str) -> Iterator[Happened]:
        """It was accepted on the next day; later what was left of it went to waste."""
        state, head = self.record.prep_state(prep), self.record.head()
        when = of.start + timedelta(days=1)
        review = ev.Reviewed(
            prep=prep, verdict="accepted", reason="", meaning=MEANING, head=f"{head.entry}:{head.digest}"
        )
        lot = str(state.lot["id"])
        yield self._signed(of.reviewer, when)
        yield self._put(review, of.reviewer, f"prep:{prep}", when)
        released = {**state.lot, "status": LotStatus.RELEASED, "status_reason": ""}
        event = ev.Registered(register="lot", id=lot, row=released, reason=f"{prep} accepted")
        yield self._put(event, of.reviewer, f"lot:{lot}", when)
        yield self._signed(of.reviewer, when, out=True)
        gone = of.start + USED_UP
        yield self._signed(of.reviewer, gone)
        for register, id in (("container", f"{lot}-1"), ("lot", lot)):
            retired = ev.Retired(register=register, id=id, reason="used up")
            yield self._put(retired, of.reviewer, f"{register}:{id}", gone)
        yield self._signed(of.reviewer, gone, out=True)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
