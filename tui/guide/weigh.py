"""Readings and doses: what is live, what is outside its limit, what is taken with a reason."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from store.actions import steps, weighing
from store.actions.acting import LetThrough
from store.errors import BadInput, NeedsSecondPerson
from store.model.prep import Act
from store.model.words import ActKind
from store.procedure import outcome, pan
from tui.guide.asks import Ask, choose, words
from tui.guide.texts import SOLVENT_REASONS, TAKE_REASONS

if TYPE_CHECKING:
    from tui.guide.guide import Guide


LIVE_KINDS = ("simulated", "serial", "tcp")


def live(guide: "Guide") -> bool:
    """Whether readings come by themselves."""
    return guide.balance is not None and guide.balance.kind in LIVE_KINDS


def waits_for_continuity(guide: "Guide") -> bool:
    """Whether an interruption must be bridged by a reading before more is dosed or opened."""
    state = guide.state
    step = state.current
    if not state.resumed or step is None or pan.content_mg(state) <= 0 or state.open_handlings:
        return False
    doses = any(a.kind == ActKind.DOSE and (state.step, a.key) not in state.done for a in step.acts)
    return doses and pan.base(state) is not None and bool(state.in_vessel(_dosing(step.acts).what))


def _dosing(acts: tuple[Act, ...]) -> Act:
    return next(a for a in acts if a.kind == ActKind.DOSE)


def current(guide: "Guide") -> Act:
    """Give the act that stands on the screen."""
    act = guide.state.act
    if act is None:
        raise BadInput("No act is open.")
    return weighing.CONTINUITY if waits_for_continuity(guide) else act


def read_live(guide: "Guide", act: Act) -> None:
    """Take what the display shows now, if it is steady."""
    sample = guide.fresh_sample
    if sample is None or guide.balance is None:
        raise BadInput(
            guide.link_says or "Nothing comes from the balance: look at its cable, or type the reading."
        )
    if not sample.steady:
        guide.said = "Not steady yet: wait, then press Enter."
        return
    read(guide, act, sample.shown, source=guide.balance.kind, steady=True)


def read(guide: "Guide", act: Act, text: str, *, source: str, steady: bool) -> None:
    """Write a reading; where it is not what it should be, ask what now."""
    verb = weighing.check_continuity if act is weighing.CONTINUITY else weighing.read
    within = verb(
        guide.acting, guide.prep, seen=guide.state.last_entry, text=text, source=source, steady=steady
    )
    guide.did()
    if not within:
        guide.push(_outside(guide, act, text))


def _outside(guide: "Guide", act: Act, text: str) -> Ask:
    """A reading that is not what it should be: again, or on with a reason; the reading itself is written."""
    expected = pan.expectation(guide.state, act)
    unit = pan.balance(guide.state).unit
    scale = 1.0 if unit == "mg" else 1000.0
    places = pan.decimals(pan.balance(guide.state))
    should = (
        f"It should be {expected.expected_mg / scale:.{places}f} ± "
        f"{expected.limit_mg / scale:.{places}f} {unit}."
        if expected.expected_mg is not None and expected.limit_mg is not None
        else "That cannot be the mass of this."
    )
    lines = (f"The display shows {text} {unit}. {should}", *_ADVICE.get(act.what, ()))

    def then(number: int, _: str) -> None:
        if number == 2 and act.what == "return":
            guide.push(guide.incident_ask())
        elif number == 2 and act is weighing.CONTINUITY:
            steps.go_back(
                guide.acting,
                guide.prep,
                seen=guide.state.last_entry,
                step=_tare_step(guide),
                reason="new tare after an interruption",
            )
            guide.did()
        elif number == 3 or (number == 2 and act.what not in ("return", "continuity")):
            guide.try_with_second(_let_reading_stand(guide, (f"{act.what} reading {text} {unit}",)))

    choices: tuple[str, ...] = ("read again",)
    if act.what == "return":
        choices += ("powder or a drop lies on the pan: write the incident",)
    if act is weighing.CONTINUITY:
        choices += ("it does not: tare anew with what is in the vessel",)
    else:
        choices += ("go on all the same, a second person lets it through",)
    return choose(lines, choices, then)


def _tare_step(guide: "Guide") -> int:
    """The step to tare anew in: this one if it tares, else the one that tares the vessel."""
    state = guide.state
    here = state.current
    if here is not None and any(a.what == "tared" for a in here.acts):
        return state.step
    found = state.step_of(ActKind.READ, "vessel")
    return found[0] if found is not None else state.step


_ADVICE = {
    "zero": ("Doors closed? Pan clean and empty? Zero the display, wait, read again.",),
    "check": ("Clean weight and pan, wait for the temperature to settle, read again.",),
    "return": ("A rest on the pan may be powder. Damp wipe, zero nothing, read again.",),
    "tared": ("Press the tare key and wait until it is steady.",),
    "continuity": ("Doors closed, nothing touching? Read again.",),
}


def _let_reading_stand(guide: "Guide", what: tuple[str, ...]) -> Callable[[LetThrough | None], None]:
    def verb(second: LetThrough | None) -> None:
        if second is None:
            raise NeedsSecondPerson(what)
        steps.confirm(guide.acting, guide.prep, seen=guide.state.last_entry, let_through=second)

    return verb


def shown_now(guide: "Guide") -> tuple[str, bool] | None:
    """Give what would be accepted now: the digits and whether they are steady."""
    if live(guide):
        sample = guide.fresh_sample
        if sample is not None:
            return sample.shown, sample.steady
    return (guide.typed_reading, True) if guide.typed_reading else None


def dose(guide: "Guide", act: Act) -> None:
    """Take what the display shows as the dose; outside the window or not steady, a digit chooses."""
    now = shown_now(guide)
    if now is None:
        raise BadInput(
            "Type what the display shows, then Enter."
            if not live(guide)
            else "Nothing comes from the balance."
        )
    text, steady = now
    state = guide.state
    total_mg = pan.total_mg(state, act.what, weighing.as_shown(text, pan.balance(state)).mass_mg)
    window = outcome.window(state, act.what)
    source = guide.balance.kind if guide.balance is not None else "typed"

    def write(reason: str = "", *, ends: bool = True, usable: bool = True) -> None:
        guide.try_with_second(
            lambda second: weighing.dose(
                guide.acting,
                guide.prep,
                seen=guide.state.last_entry,
                text=text,
                source=source,
                steady=steady,
                ends=ends,
                reason=reason,
                usable=usable,
                let_through=second,
            )
        )

    if steady and window.holds(total_mg):
        write()
        return
    where = "The display is not steady." if not steady else f"It is {window.words(total_mg)}."
    reasons = TAKE_REASONS if act.what == "solid" else SOLVENT_REASONS

    def then(number: int, _: str) -> None:
        if number == 1:
            guide.typed_reading = ""
        elif number == 2:
            guide.push(words("Why is it taken as it is?", reasons, write, guide.push))
        elif number == 3:
            write("a portion; more follows", ends=False)
            guide.typed_reading = ""

    guide.push(
        choose(
            (where,),
            ("go on dosing", "take it as it is, with a reason", "write this portion, close in between"),
            then,
        )
    )
