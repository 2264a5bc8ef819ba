"""What each kind of act takes from the keys, and which verb follows."""

from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from store.actions import racks, steps
from store.actions.acting import LetThrough
from store.model.prep import Act
from store.model.words import ActKind
from store.procedure import pan
from store.procedure.recipes import COMPARE
from store.procedure.warned import MET
from store.queries import registers
from tui.guide import exposure, keys, pressure, rejecting, scanning, weigh
from tui.guide.asks import Ask, choose

if TYPE_CHECKING:
    from tui.guide.guide import Guide

LABELS = ("label", "pre-label", "pre-labels")


def expect(guide: "Guide") -> keys.Mode:
    """Say which keys mean something at the open act."""
    if guide.state.act is None:
        return keys.Act()
    act = weigh.current(guide)
    match act.kind:
        case ActKind.ANSWER:
            return keys.Choose(len(act.choices))
        case ActKind.NOTE:
            return keys.Choose(len(exposure.NOTE_CHOICES))
        case ActKind.TELL:
            return keys.Number()
        case ActKind.READ:
            return keys.Number(live=weigh.live(guide))
        case ActKind.DOSE:
            if weigh.live(guide):
                return keys.Number(live=True, choices=3 if guide.bench is not None else 0)
            return keys.Number(allow_empty=bool(guide.typed_reading))
        case _:
            return keys.Act()


def take(guide: "Guide", intent: keys.Intent) -> None:
    """Do what a key asks of the open act."""
    act = weigh.current(guide)
    seen = guide.state.last_entry
    if act in guide.untold:
        _tell_rule(guide, act, intent)
        return
    match act.kind, intent:
        case ActKind.READ | ActKind.DOSE, keys.Typed(text) if scanning.is_label(guide, text):
            scanning.scanned(guide, text)
        case ActKind.ANSWER, keys.Chosen(number) if number <= len(act.choices):
            _answer(guide, act, number)
        case ActKind.NOTE, keys.Chosen(number):
            exposure.note(guide, number)
        case ActKind.TELL, keys.Typed(text):
            pressure.tell(guide, act, text)
        case ActKind.READ, keys.Typed(text):
            weigh.read(guide, act, text, source=weigh.by_keys(guide), steady=True)
        case ActKind.READ, keys.Act():
            weigh.read_live(guide, act)
        case ActKind.DOSE, keys.Typed(text) if text:
            pan.as_shown(text, pan.balance(guide.state))
            guide.typed_reading = text
        case ActKind.DOSE, keys.Chosen(number) if guide.bench is not None:
            guide.typed_reading = ""
            guide.bench.dose(number, guide.monotonic())
        case ActKind.DOSE, keys.Act() | keys.Typed():
            weigh.dose(
                guide, act, reject=partial(rejecting.here, guide) if guide.state.plan.is_rack else None
            )
        case ActKind.OPEN, keys.Act() if racks.stale_tares(guide.state, now=guide.acting.record.due_now()):
            guide.push(_fresh_tares(guide, racks.stale_tares(guide.state, now=guide.acting.record.due_now())))
        case ActKind.OPEN, keys.Act():
            guide.try_with_second(lambda second: _open(guide, seen, second))
        case ActKind.CLOSE, keys.Act():
            exposure.close(guide)
        case ActKind.HANDLE, keys.Act():
            guide.try_with_second(
                lambda second: steps.handle(guide.acting, guide.prep, seen=seen, let_through=second)
            )
        case ActKind.CONFIRM, keys.Act():
            text = guide.label() if act.what in LABELS else ""
            guide.try_with_second(
                lambda second: steps.confirm(
                    guide.acting, guide.prep, seen=seen, kept_text=text, let_through=second
                )
            )
        case _:
            pass


def _tell_rule(guide: "Guide", act: Act, intent: keys.Intent) -> None:
    """Take what the checklist of a local rule asks."""
    match act.kind, intent:
        case ActKind.TELL, keys.Typed(text):
            answer = text
        case ActKind.ANSWER, keys.Chosen(number):
            answer = act.choices[number - 1]
        case _:
            return
    steps.tell_rule(guide.acting, guide.prep, seen=guide.state.last_entry, key=act.key, answer=answer)
    guide.did()


def _open(guide: "Guide", seen: int, second: LetThrough | None) -> None:
    steps.open_up(guide.acting, guide.prep, seen=seen, let_through=second)
    guide.opened_at = guide.monotonic()


def _fresh_tares(guide: "Guide", stale: tuple[str, ...]) -> Ask:
    """Before a rack is opened again, tares past their lifetime are asked for anew."""

    def again() -> None:
        racks.tare_again(guide.acting, guide.prep, seen=guide.state.last_entry)
        guide.did()

    def then(number: int, _: str) -> None:
        if number == 1:
            exposure.noted(guide, again)
        else:
            seen = guide.state.last_entry
            guide.try_with_second(lambda second: _open(guide, seen, second))

    places = "place" if len(stale) == 1 else "places"
    many = f"{stale[0]} to {stale[-1]}" if len(stale) > 1 else stale[0]
    return choose(
        (
            f"The tare of {places} {many} is past its lifetime, or the pressure has changed since.",
            "What is dosed already stays as it is.",
        ),
        (f"weigh {len(stale)} empty vessels again first", "open now: each is weighed again before its dose"),
        then,
    )


def still_open(guide: "Guide") -> Ask:
    """After an interruption the first question is whether anything is open."""
    handling = guide.state.open_handlings[-1]
    since = datetime.fromisoformat(handling.at).astimezone(registers.zone(guide.acting.record))

    def then(number: int, _: str) -> None:
        exposure.close(guide)
        guide.said = "Closed; its time open is marked as estimated."

    return choose(
        (
            f"Opened at {since:%H:%M:%S} by {handling.person}: {_named(handling.what, handling.container)}.",
            "Before the interruption it was not closed. Look: is it open now?",
            "If it is, close it first, then answer.",
        ),
        ("it was closed already", "it was open, I have closed it now"),
        then,
    )


def _named(what: str, container: str) -> str:
    return f"container {container}" if what == "container" else f"{what}, container {container}".rstrip(", ")


def _answer(guide: "Guide", act: Act, number: int) -> None:
    answer = act.choices[number - 1]
    if act.key.partition(":")[0] == COMPARE and number != 1:
        guide.said = (
            "Stop. Do not open it. Put it back, fetch the container of the plan, or give the prep up (-)."
        )
        return
    if act.key.partition(":")[0] == "look" and number == 2:
        guide.said = "Go on swirling, closed. Look again later."
        return
    if act.key == MET and number != 1:
        guide.said = "Stop. Nothing of it meets yet: ask, or give the prep up (-)."
        return
    if act.key.partition(":")[0] == "look" and number == 3:
        guide.said = "Discard it or give the prep up: press - ."
        return
    seen = guide.state.last_entry
    guide.try_with_second(
        lambda second: steps.confirm(guide.acting, guide.prep, seen=seen, answer=answer, let_through=second)
    )
