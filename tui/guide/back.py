"""The way back from any act: again, correct, discard, never happened, give up. Nothing is hidden."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from store.actions import amend, closing, steps
from store.actions.acting import LetThrough
from store.model.words import ActKind
from store.procedure import pan
from tui.guide import anew, between, exposure, rejecting
from tui.guide.asks import Ask, choose, words
from tui.guide.texts import ABANDON_REASONS, BACK_REASONS, DISCARD_REASONS, MATERIAL

if TYPE_CHECKING:
    from tui.guide.guide import Guide


def ask(guide: "Guide") -> Ask:
    """Ask what is to be taken back."""
    state = guide.state
    options: list[tuple[str, str]] = []
    if state.open_handlings:
        options.append(("close", "close what is open now; go on later"))
    else:
        if state.current is not None and (state.step or any(s == state.step for s, _ in state.done)):
            options.append(("again", "do the acts of this step again"))
        if state.step:
            options.append(("earlier", "go back to the step before"))
        if any(d.counts for d in state.doses) and not state.plan.is_rack:
            several = "a vessel, and make it anew" if state.plan.parts else "the vessel"
            options.append(("discard", f"discard what is in {several}"))
    if state.plan.is_rack:
        options.append(("reject", "reject one place: its content is waste, the others go on"))
    if any(d.counts for d in state.doses):
        options.append(("correct", "correct the last accepted dose: it was misread"))
        options.append(("never", "the last accepted dose never happened"))
    if not state.open_handlings:
        options.append(("abandon", "give the prep up"))
    options.append(("stay", "nothing: go on"))

    def then(number: int, _: str) -> None:
        _WAYS[options[number - 1][0]](guide)

    return choose("What is to be taken back?", tuple(text for _, text in options), then)


def _close(guide: "Guide") -> None:
    exposure.close(guide)


def _go_back(guide: "Guide", step: int) -> None:
    def write(reason: str) -> None:
        steps.go_back(guide.acting, guide.prep, seen=guide.state.last_entry, step=step, reason=reason)
        guide.did()

    guide.push(words("Why?", BACK_REASONS, write, guide.push))


def _discard(guide: "Guide") -> None:
    if guide.state.plan.parts:
        anew.ask(guide)
        return

    def write(reason: str) -> None:
        with guide.acting.record.immediate():
            amend.discard(guide.acting, guide.prep, seen=guide.state.last_entry, reason=reason)
            after = guide.acting.record.prep_state(guide.prep)
            tare = after.step_of(ActKind.READ, "vessel")
            if tare is not None:
                steps.go_back(
                    guide.acting,
                    guide.prep,
                    seen=after.last_entry,
                    step=tare[0],
                    reason=f"new vessel: {reason}",
                )
        guide.did()
        guide.said = "Discarded: cap it, label it as waste. A new vessel is tared next."

    exposure.noted(
        guide, lambda: guide.push(words("Why is it discarded?", DISCARD_REASONS, write, guide.push))
    )


def _correct(guide: "Guide") -> None:
    dose = next(d for d in reversed(guide.state.doses) if d.counts)

    def typed(_: int, text: str) -> None:
        pan.as_shown(text, pan.balance(guide.state))
        guide.push(
            words(
                "Why?",
                ("misread", "typed wrongly", "the wrong display was read"),
                lambda why: write(text, why),
                guide.push,
            )
        )

    def write(text: str, why: str) -> None:
        guide.try_with_second(
            lambda second: amend.correct(
                guide.acting,
                guide.prep,
                seen=guide.state.last_entry,
                entry=dose.entry,
                text=text,
                reason=why,
                let_through=second,
            )
        )

    guide.push(
        Ask(
            text=(f"Entry {dose.entry} says {dose.shown}. What did the display show?",),
            prompt="reading",
            then=typed,
        )
    )


def _never(guide: "Guide") -> None:
    dose = next(d for d in reversed(guide.state.doses) if d.counts)

    def verb(second: LetThrough) -> None:
        amend.never_happened(
            guide.acting, guide.prep, seen=guide.state.last_entry, entry=dose.entry, let_through=second
        )

    what = (f"entry {dose.entry}, {dose.shown}, never happened",)
    if dose.step < guide.state.step:
        exposure.noted(guide, lambda: guide.push(between.second_ask(guide, what, verb)))
    else:
        guide.push(between.second_ask(guide, what, verb))


def _abandon(guide: "Guide") -> None:
    def why(reason: str) -> None:
        guide.push(words("What became of the material?", MATERIAL, lambda m: write(reason, m), guide.push))

    def write(reason: str, material: str) -> None:
        closing.abandon(
            guide.acting, guide.prep, seen=guide.state.last_entry, reason=reason, material=material
        )
        guide.did()

    exposure.noted(guide, lambda: guide.push(words("Why is it given up?", ABANDON_REASONS, why, guide.push)))


def _again(guide: "Guide") -> None:
    _go_back(guide, guide.state.step)


def _earlier(guide: "Guide") -> None:
    exposure.noted(guide, lambda: _go_back(guide, guide.state.step - 1))


def _stay(guide: "Guide") -> None:
    pass


_WAYS: Mapping[str, Callable[["Guide"], None]] = {
    "close": _close,
    "again": _again,
    "earlier": _earlier,
    "discard": _discard,
    "reject": rejecting.ask,
    "correct": _correct,
    "never": _never,
    "abandon": _abandon,
    "stay": _stay,
}
