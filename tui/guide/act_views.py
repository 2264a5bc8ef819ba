"""How each kind of act is drawn."""

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from store.actions.now_checks import wait_left_s
from store.actions.weighing import CONTINUITY
from store.errors import BadReading
from store.model.prep import Act
from store.model.words import ActKind
from store.procedure import outcome, pan, portions
from store.procedure.warned import LINE
from store.procedure.window import Window
from store.queries import registers
from store.units import clock
from tui.guide import acts, exposure, forms, halvings, pressure, weigh
from tui.guide.texts import CLOSE_KEY, ENTER, OPEN_KEY
from tui.guide.view import ALWAYS, Live, StepView

if TYPE_CHECKING:
    from tui.guide.guide import Guide


def draw(view: StepView, guide: "Guide", act: Act) -> StepView:
    """Add the open act to a view, and the line that stands below it."""
    step = guide.state.current
    line = step.extra.get(f"{LINE}{act.key}", "") if step is not None else ""
    drawn = _act(view, guide, act)
    if act.part and guide.state.plan.is_rack:
        drawn = replace(drawn, body=(*drawn.body, *portions.in_words(guide.state)))
    return replace(drawn, body=(*drawn.body, line)) if line else drawn


def _act(view: StepView, guide: "Guide", act: Act) -> StepView:
    enter = ENTER.get(act.kind, "done")
    match act.kind:
        case ActKind.ANSWER:
            return _choices(replace(view, body=(act.text,)), act.choices)
        case ActKind.NOTE:
            return _choices(replace(view, body=_note_body(guide)), exposure.NOTE_CHOICES)
        case ActKind.READ:
            return _reading(view, guide, act)
        case ActKind.DOSE:
            return _dosing(view, guide, act)
        case ActKind.OPEN:
            enter = OPEN_KEY.get(act.what, "open now")
        case ActKind.CLOSE:
            enter = CLOSE_KEY.get(act.what, "closed now")
        case ActKind.TELL:
            limits = pressure.limits(guide.state.basis["enclosure"]) if act.what == pressure.WHAT else ""
            body = (act.text, limits) if limits else (act.text,)
            return replace(
                view, body=body, prompt=f"{act.what}, {act.unit}", keys=(("Enter", enter), *ALWAYS)
            )
        case ActKind.CONFIRM if act.what in acts.LABELS:
            # Its edge is a line of its own on paper; on the screen it would be a page with nothing on it.
            view = replace(view, extra=tuple(guide.label().rstrip("-\n").splitlines()))
        case ActKind.CONFIRM if step_waits(guide):
            return _waiting(view, guide, act)
        case _:
            pass
    return replace(view, body=(act.text,), keys=(("Enter", enter), *ALWAYS))


def step_waits(guide: "Guide") -> bool:
    """Whether the open act waits for a time to pass."""
    step, act = guide.state.current, guide.state.act
    return step is not None and act is not None and f"wait:{act.key}" in step.extra


def _waiting(view: StepView, guide: "Guide", act: Act) -> StepView:
    left_s = wait_left_s(guide.state, guide.acting.record.now())
    line = f"Still {clock(left_s)} to wait." if left_s > 0 else "The time is over."
    alarm = view.alarm if left_s > 0 else "The time is over: look at the container."
    keys = (("Enter", "done"), *ALWAYS)
    return replace(view, body=(act.text, "", line), alarm=alarm, said=view.said or "", keys=keys)


def _choices(view: StepView, choices: tuple[str, ...]) -> StepView:
    return replace(view, choices=choices, keys=((f"1 to {len(choices)}", "choose"), *ALWAYS))


def _after_interruption(guide: "Guide") -> tuple[str, ...]:
    """The last accepted reading and its time, and what the display should go on from."""
    state = guide.state.here
    last = next((d for d in reversed(state.doses) if d.counts), None)
    if last is None:
        return ()
    at = datetime.fromisoformat(last.at).astimezone(registers.zone(guide.acting.record))
    of = pan.balance(state)
    should = pan.shown_now_mg(state) / (1.0 if of.unit == "mg" else 1000.0)
    return (
        f"Last accepted reading: {last.shown} at {at:%H:%M:%S} by {last.person}.",
        f"With the vessel on the pan the display should show about {should:.{pan.decimals(of)}f} {of.unit}.",
    )


def _note_body(guide: "Guide") -> tuple[str, ...]:
    state = guide.state
    gloves = state.basis["enclosure"].get("gloves", "not in the register")
    lines = ["Exposure note. How did it go?"]
    for h in (h for h in state.owed if h.closed):
        time = f"open {clock(h.open_s, estimated=h.estimated)}" if h.open_s else "not open"
        lines.append(f"  {h.what}, {time}, {h.enclosure}, by {h.person}")
    return (*lines, f"  gloves: {gloves}; present: {guide.acting.person}")


def _source(guide: "Guide") -> str:
    of = pan.balance(guide.state)
    how = guide.balance.kind if guide.balance is not None else "typed"
    words = {"simulated": "simulated", "typed": "typed by hand"}.get(how, f"live by {how}")
    return f"{of.id} · {of.shows} · {words}"


def _reading(view: StepView, guide: "Guide", act: Act) -> StepView:
    unit = pan.balance(guide.state).unit
    live = weigh.live(guide)
    sample = guide.fresh_sample if live else None
    text = pan.told(guide.state.here, act)
    body = (*_after_interruption(guide), text) if act is CONTINUITY else (text,)
    shown = Live(
        shown=sample.shown if sample is not None else "",
        unit=unit,
        steady=sample.steady if sample is not None else None,
        inside=_inside(guide, act, sample.shown) if sample is not None else None,
        where=_source(guide),
    )
    return replace(
        view,
        body=body,
        live=shown,
        prompt="" if sample is not None else f"reading, {unit}",
        typing=f"reading, {unit}",
        keys=(("Enter", "take the reading"), *ALWAYS),
    )


def _inside(guide: "Guide", act: Act, shown: str) -> bool | None:
    """Whether a reading is what it should be, where that is known."""
    expected = pan.expectation(guide.state.here, act)
    if expected.expected_mg is None:
        return None
    try:
        return expected.holds(pan.as_shown(shown, pan.balance(guide.state)).mass_mg)
    except BadReading:
        return None


def _until(guide: "Guide", act: Act, window: Window) -> str:
    """Say what to dose, and what the display shows when all of it is there."""
    state = guide.state.here
    unit, shows_mg = pan.balance(state).unit, window.aim_mg - pan.total_mg(state, act.what, 0.0)
    if window.aim_mg <= 0.0:
        return act.text
    return f"{act.text} Display: to {window.shown(shows_mg, unit)}."


def _dosing(view: StepView, guide: "Guide", act: Act) -> StepView:
    state = guide.state.here
    of = pan.balance(state)
    window = outcome.window(state, act.what)
    now = weigh.shown_now(guide)
    body = (_until(guide, act, window),)
    live = Live(
        shown="",
        unit=of.unit,
        steady=None,
        aim=window.aim_words(of.unit),
        window=window.span_words(of.unit),
        where=_source(guide),
    )
    if now is not None:
        try:
            total_mg = pan.total_mg(state, act.what, pan.as_shown(now.text, of).mass_mg)
        except BadReading as refusal:
            return replace(view, body=body, live=replace(live, shown=now.text), said=str(refusal))
        live = replace(
            live,
            shown=now.text,
            steady=now.steady,
            typed=now.typed,
            inside=window.holds(total_mg),
            rate="" if now.typed else guide.stream.rate_words(window.aim_mg - total_mg),
            to_go=f"to go {window.to_go_words(total_mg, of.unit)}",
            halvings=halvings.row(window.aim_mg - total_mg, window.half_mg),
            accepted=outcome.if_taken(state, act.what, total_mg).lines(),
        )
    least = forms.least(guide.state, act.what)
    hand = (("1", "pour"), ("2", "tap"), ("3", least)) if guide.bench is not None else ()
    return replace(
        view,
        body=body,
        live=live,
        prompt="" if weigh.live(guide) and guide.fresh_sample is not None else f"reading, {of.unit}",
        typing=f"reading, {of.unit}",
        keys=(*hand, ("Enter", "take it"), *ALWAYS),
    )
