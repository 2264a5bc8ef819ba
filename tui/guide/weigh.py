"""Readings and doses: what is live, what is outside its limit, what is taken with a reason."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from store.actions import steps, weighing
from store.actions.acting import LetThrough
from store.errors import BadInput, NeedsSecondPerson
from store.model.prep import Act
from store.model.words import ActKind
from store.procedure import outcome, pan, tare_age
from tui.guide import between, exposure, forms
from tui.guide.asks import Ask, choose, words

if TYPE_CHECKING:
    from tui.guide.guide import Guide


LIVE_KINDS = ("simulated", "serial", "tcp")


def live(guide: "Guide") -> bool:
    """Whether readings come by themselves."""
    return guide.balance is not None and guide.balance.kind in LIVE_KINDS


def waits_for_continuity(guide: "Guide") -> bool:
    """Whether an interruption must be bridged by a reading before more is dosed on what the vessel holds.

    It comes before anything is opened; where the step zeroes the display on the open vessel, it can only
    come after the opening, and a zero that is still to be taken bridges it as well.
    """
    state = guide.state.here
    step, act = state.current, state.act
    if not state.resumed or step is None or act is None or pan.content_mg(state) <= 0:
        return False
    asked = {a.kind for a in step.acts if (state.step, a.key) not in state.done}
    if ActKind.DOSE not in asked or pan.base(state) is None:
        return False
    zeroes = any(a.what == "tared" for a in step.acts)
    return act.kind == ActKind.DOSE if zeroes else not state.open_handlings


def current(guide: "Guide") -> Act:
    """Give the act that stands on the screen."""
    act = guide.state.act
    if act is None:
        raise BadInput("No act is open.")
    if waits_for_continuity(guide):
        return weighing.CONTINUITY
    if guide.untold:
        return guide.untold[0]
    return tare_age.fresh(guide.state) or act


def read_live(guide: "Guide", act: Act) -> None:
    """Take what the display shows now, if it is steady."""
    sample = guide.fresh_sample
    if sample is None or guide.balance is None:
        _nothing_comes(guide)
        return
    if not sample.steady:
        guide.refuse("Not steady yet: wait, then press Enter.", holds=lambda: not _is_steady(guide))
        return
    read(guide, act, sample.shown, source=guide.balance.kind, steady=True)


def _nothing_comes(guide: "Guide") -> None:
    """Refuse; what is wrong with the link stands on the screen for as long as it is wrong, and no longer."""
    guide.refuse(
        "" if guide.link_says else "Nothing comes from the balance: look at its cable, or type the reading.",
        holds=lambda: guide.fresh_sample is None,
    )


def _is_steady(guide: "Guide") -> bool:
    sample = guide.fresh_sample
    return sample is not None and bool(sample.steady)


def read(guide: "Guide", act: Act, text: str, *, source: str, steady: bool) -> None:
    """Write a reading; where it is not what it should be, ask what now."""
    seen = guide.state.last_entry
    if act is weighing.CONTINUITY:
        within = weighing.check_continuity(
            guide.acting, guide.prep, seen=seen, text=text, source=source, steady=steady
        )
    else:
        within = weighing.read(
            guide.acting,
            guide.prep,
            seen=seen,
            text=text,
            source=source,
            steady=steady,
            conditions={"taken": guide.taken} if guide.taken else None,
        )
    guide.did()
    if not within:
        guide.refused = True
        guide.push(_outside(guide, act, text, source=source, steady=steady))


def _outside(guide: "Guide", act: Act, text: str, *, source: str, steady: bool) -> Ask:
    """A reading that is not what it should be: again, or on with a reason; the reading itself is written."""
    expected = pan.expectation(guide.state.here, act)
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
            guide.push(between.incident_ask(guide))
        elif number == 2 and act is weighing.CONTINUITY:
            weighing.check_continuity(
                guide.acting,
                guide.prep,
                seen=guide.state.last_entry,
                text=text,
                source=source,
                steady=steady,
                goes_on="what fell before the interruption was not accepted yet",
            )
            guide.did()
        elif number == 3 and act is weighing.CONTINUITY:
            if guide.state.open_handlings:
                exposure.close(guide)
            exposure.noted(guide, lambda: _tare_anew(guide))
        elif number == 3 or (number == 2 and act.what not in ("return", "continuity")):
            guide.try_with_second(_let_reading_stand(guide, (f"{act.what} reading {text} {unit}",)))

    choices: tuple[str, ...] = ("read again",)
    if act.what == "return":
        choices += (f"{forms.rest(guide.state)} lies on the pan: write the incident",)
    if act is weighing.CONTINUITY:
        choices += (
            "it counts on: what fell before the interruption is in the vessel, not accepted yet",
            "it does not count on: tare anew with what is in the vessel",
        )
    elif not act.key.startswith(tare_age.FRESH):
        choices += ("go on all the same, a second person lets it through",)
    return choose(lines, choices, then)


def _tare_anew(guide: "Guide") -> None:
    """Go back to the zero: of this step if it has one, else to that of the vessel's tare."""
    state = guide.state
    here, act = state.current, ""
    step = state.step
    if here is not None and not any(a.what == "tared" for a in here.acts):
        found = state.step_of(ActKind.READ, "tared") or state.step_of(ActKind.READ, "vessel")
        step, act = (found[0], found[1].key) if found is not None and found[0] < step else (step, "")
    steps.go_back(
        guide.acting,
        guide.prep,
        seen=state.last_entry,
        step=step,
        act=act,
        reason="new tare after an interruption",
    )
    guide.did()


_ADVICE = {
    "zero": ("Doors closed? Pan clean and empty? Zero the display, wait, read again.",),
    "check": ("Clean weight and pan, wait for the temperature to settle, read again.",),
    "return": ("A rest on the pan may be what was dosed. Damp wipe, zero nothing, read again.",),
    "tared": ("Press the tare key and wait until it is steady.",),
    "continuity": ("Doors closed, nothing touching? Read again.",),
}


def _let_reading_stand(guide: "Guide", what: tuple[str, ...]) -> Callable[[LetThrough | None], None]:
    def verb(second: LetThrough | None) -> None:
        if second is None:
            raise NeedsSecondPerson(what)
        steps.confirm(guide.acting, guide.prep, seen=guide.state.last_entry, let_through=second)

    return verb


@dataclass(frozen=True, slots=True)
class Shown:
    """What would be accepted now."""

    text: str
    steady: bool | None
    """None where it was typed: nobody but the person knows."""

    @property
    def typed(self) -> bool:
        """Whether a person typed it."""
        return self.steady is None


def shown_now(guide: "Guide") -> Shown | None:
    """Give what would be accepted now: what was typed goes before what the display shows."""
    if guide.typed_reading:
        return Shown(guide.typed_reading, None)
    sample = guide.fresh_sample if live(guide) else None
    return Shown(sample.shown, sample.steady) if sample is not None else None


def by_keys(guide: "Guide") -> str:
    """Name the source of a reading that came by keys: a wedge where the register says so, else a hand."""
    return "wedge" if guide.balance is not None and guide.balance.kind == "wedge" else "typed"


def dose(guide: "Guide", act: Act, *, reject: Callable[[str, str], None] | None = None) -> None:
    """Take what the display shows as the dose; outside the window or not steady, a digit chooses.

    `reject` takes the reading and its source where the place at hand can be rejected with it.
    """
    now = shown_now(guide)
    if now is None and live(guide):
        _nothing_comes(guide)
        return
    if now is None:
        raise BadInput("Type what the display shows, then Enter.")
    text, steady = now.text, now.steady is not False
    state = guide.state.here
    total_mg = pan.total_mg(state, act.what, pan.as_shown(text, pan.balance(state)).mass_mg)
    window = outcome.window(state, act.what)
    source = by_keys(guide) if now.typed or guide.balance is None else guide.balance.kind

    taken = {"taken": guide.taken} if guide.taken else {}

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
                stream=guide.stream.to_body(guide.balance.lines()) | taken
                if not now.typed and guide.balance is not None
                else None,
            )
        )

    if steady and window.holds(total_mg):
        write()
        return
    where = (
        "The display is not steady."
        if not steady
        else f"It is {window.words(total_mg, pan.balance(guide.state).unit)}."
    )
    reasons = forms.take_reasons(guide.state, act.what)

    def then(number: int, _: str) -> None:
        if number == 1:
            guide.typed_reading = ""
        elif number == 2:
            guide.push(words("Why is it taken as it is?", reasons, write, guide.push))
        elif number == 3:
            write("a portion; more follows", ends=False)
            guide.typed_reading = ""
        elif number == 4 and reject is not None:
            reject(text, source)

    choices = ["go on dosing", "take it as it is, with a reason", "write this portion, close in between"]
    if reject is not None:
        choices.append("reject this place: its content is waste, the others go on")
    guide.push(choose((where,), choices, then))
