"""One place of a rack is rejected: by its number at any step, or with the reading that shows why."""

from typing import TYPE_CHECKING

from store.actions import racks, weighing
from store.errors import BadInput
from store.model.words import ActKind
from tui.guide import exposure, weigh
from tui.guide.asks import Ask, choose, words
from tui.guide.texts import REJECT_REASONS

if TYPE_CHECKING:
    from tui.guide.guide import Guide


def ask(guide: "Guide") -> None:
    """Ask which place and why; what fell into the one at hand and was not taken yet is written first."""
    # While something is open its note cannot be due: nothing stands between the person and the vessel.
    if guide.something_open:
        guide.push(_which(guide))
    else:
        exposure.noted(guide, lambda: guide.push(_which(guide)))


def here(guide: "Guide", text: str, source: str) -> None:
    """Ask why the place at hand is rejected, with the reading that stands there written as waste."""
    key = guide.state.part_of(guide.state.step, guide.state.act)
    guide.push(
        words(
            "Why is it rejected?",
            REJECT_REASONS,
            lambda why: _spoilt(guide, key, why, text, source),
            guide.push,
        )
    )


def _which(guide: "Guide") -> Ask:
    state = guide.state
    at_hand = state.part_of(state.step, state.act)
    last = next((d.part for d in reversed(state.doses) if d.counts), "")
    usual = at_hand or last or state.plan.parts[0].key

    def place(_: int, text: str) -> None:
        key = text.strip() or usual
        known = {p.vessel.casefold(): p.key for p in state.plan.parts} | {
            p.key: p.key for p in state.plan.parts
        }
        if key.casefold() not in known:
            raise BadInput(f"There is no place {key}: it has 1 to {len(state.plan.parts)}.")
        key = known[key.casefold()]
        guide.push(
            words("Why is it rejected?", REJECT_REASONS, lambda why: _fallen(guide, key, why), guide.push)
        )

    at = "Here is" if at_hand else "Filled last:" if last else "The first is"
    text = (f"Which place is rejected? {at} {usual}.", "Type its number or its vessel.")
    return Ask(text=text, prompt="place", then=place)


def _fallen(guide: "Guide", key: str, reason: str) -> None:
    """What fell and was not taken yet is written first: it happened, stock and exposure know of it."""
    state = guide.state
    dosing = (
        state.act is not None
        and state.act.kind == ActKind.DOSE
        and key == state.part_of(state.step, state.act)
    )
    if not dosing or not state.open_handlings or weigh.current(guide).kind != ActKind.DOSE:
        _write(guide, key, reason)
        return

    def then(number: int, _: str) -> None:
        if number == 1:
            _write(guide, key, reason)
        else:
            guide.push(
                Ask(
                    text=("What does the display show with the vessel on the pan?",),
                    prompt="reading",
                    then=lambda _n, text: _spoilt(guide, key, reason, text, weigh.by_keys(guide)),
                )
            )

    guide.push(
        choose(
            f"Did anything fall into the vessel of place {key} that was not taken yet?",
            ("no, nothing", "yes: type what the display shows; it counts as waste"),
            then,
        )
    )


def _spoilt(guide: "Guide", key: str, reason: str, text: str, source: str) -> None:
    with guide.acting.record.immediate():
        seen = guide.state.last_entry
        weighing.dose(
            guide.acting, guide.prep, seen=seen, text=text, source=source, ends=False, usable=False,
            reason=reason,
        )  # fmt: skip
        seen = guide.acting.record.prep_state(guide.prep).last_entry
        racks.reject(guide.acting, guide.prep, seen=seen, place=key, reason=reason)
    _rejected(guide, key)


def _write(guide: "Guide", key: str, reason: str) -> None:
    racks.reject(guide.acting, guide.prep, seen=guide.state.last_entry, place=key, reason=reason)
    _rejected(guide, key)


def _rejected(guide: "Guide", key: str) -> None:
    guide.did()
    guide.said = f"Place {key} is rejected: cap it, label it as waste. It stays on record."
