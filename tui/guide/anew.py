"""One vessel of several made anew: what is in it goes to waste, the others stay as they are."""

from typing import TYPE_CHECKING

from store.actions import amend, steps
from store.errors import BadInput
from store.model.words import ActKind
from store.procedure import outcome, parts
from store.procedure.state import PrepState
from tui.guide import exposure
from tui.guide.asks import Ask, choose, words
from tui.guide.texts import DISCARD_REASONS

if TYPE_CHECKING:
    from tui.guide.guide import Guide

OFFERED = 7
"""So many vessels are offered by digit; another one is typed."""
REASONS = ("out of tolerance", *DISCARD_REASONS)


def ask(guide: "Guide") -> None:
    """Ask which vessel, those out of tolerance first, then why."""
    exposure.noted(guide, lambda: guide.push(_which(guide)))


def _which(guide: "Guide") -> Ask:
    filled = [p for p in guide.state.each if any(d.counts for d in p.doses)]
    filled.sort(key=_is_inside)
    offered = filled[:OFFERED]

    def typed(_: int, text: str) -> None:
        found = [p for p in filled if text.strip() in (p.plan.vessel, p.key)]
        if not found:
            raise BadInput(f"{text.strip()!r} is no vessel of this prep that holds anything.")
        guide.push(_why(guide, found[0]))

    def chosen(number: int, _: str) -> None:
        if number <= len(offered):
            guide.push(_why(guide, offered[number - 1]))
        elif len(filled) > len(offered) and number == len(offered) + 1:
            guide.push(Ask(text=("Which vessel?",), prompt="vessel", then=typed))

    more = ("another one: type its number",) if len(filled) > len(offered) else ()
    return choose(
        "Which vessel is to be made anew? The others stay as they are.",
        (*map(_words, offered), *more, "none: go back"),
        chosen,
    )


def _is_inside(part: PrepState) -> bool:
    return not part.complete or outcome.is_inside(part, outcome.result(part))


def _words(part: PrepState) -> str:
    state = "" if _is_inside(part) else ", OUT OF TOLERANCE"
    blank = "blank" if part.plan.parts[0].is_blank else part.plan.target
    return f"{part.plan.vessel}, {blank}{state}"


def _why(guide: "Guide", part: PrepState) -> Ask:
    whole = guide.state
    below = [p for p in parts.descendants(whole.plan, part.key) if any(d.part == p.key for d in whole.doses)]
    also = f" With it goes {' and '.join(p.vessel for p in below)}, made from it." if below else ""
    keys = (part.key, *(p.key for p in below))

    def write(reason: str) -> None:
        record = guide.acting.record
        with record.immediate():
            amend.discard(guide.acting, guide.prep, seen=guide.state.last_entry, reason=reason, parts=keys)
            state = record.prep_state(guide.prep)
            tare = state.step_of(ActKind.READ, "vessel")
            assert tare is not None  # every recipe of several vessels tares them
            for key in reversed(keys):
                steps.go_back(
                    guide.acting,
                    guide.prep,
                    seen=record.prep_state(guide.prep).last_entry,
                    step=tare[0],
                    reason=f"made anew: {reason}",
                    part=key,
                )
        guide.did()
        guide.said = "Discarded: cap it, label it as waste. A new vessel is tared in its place."

    return words(f"Why is {part.plan.vessel} made anew?{also}", REASONS, write, guide.push)
