"""From the guide's moment to a view: the frame, the caution page, the end. Acts are drawn in `act_views`."""

from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from store.actions.cautions import Before
from store.hazards import cautions, families
from store.model.words import ActKind, PrepStatus, StepName
from store.procedure import outcome_words, portions, tare_age
from store.procedure.recipes import rack
from store.procedure.state import PrepState
from tui.guide import act_views, weigh
from tui.guide.asks import Ask
from tui.guide.texts import TITLES
from tui.guide.view import ALWAYS, StepView

if TYPE_CHECKING:
    from tui.guide.guide import Guide


LEAF = 10
"""Lines of a long text that fit the screen of 24 rows below the short form."""


def draw(guide: "Guide") -> StepView:
    """Give the view of this moment; of a long text one leaf."""
    view = _whole(guide)
    many = _leaves(view.extra)
    if many < 2:
        return view
    at = min(guide.leaf, many - 1)
    keys = view.keys if at == many - 1 else (("Enter", "read on"), *view.keys[1:])
    where = f"({at + 1} of {many})"
    body = (*view.body, where) if view.body else ()
    if not body:
        # A place that stood above the text by itself would look like a heading.
        keys = ((keys[0][0], f"{keys[0][1]} {where}"), *keys[1:])
    return replace(view, extra=view.extra[at * LEAF : (at + 1) * LEAF], body=body, keys=keys)


def leaves(guide: "Guide") -> int:
    """Give how many leaves the text on the screen has."""
    return _leaves(_whole(guide).extra)


def _leaves(extra: tuple[str, ...]) -> int:
    return -(-len(extra) // LEAF)


def _whole(guide: "Guide") -> StepView:
    view = _frame(guide)
    if guide.asks:
        return _asked(view, guide.asks[-1])
    if guide.on_page:
        return _page(view, guide)
    if guide.state.current is None or guide.finished:
        return _end(view, guide)
    return _streamed(act_views.draw(replace(view, short=short(guide)), guide, weigh.current(guide)), guide)


def _streamed(view: StepView, guide: "Guide") -> StepView:
    """Add what the stream of readings says: how it creeps, and whether the tare still holds."""
    if view.live is None:
        return view
    creep = guide.stream.creep() if weigh.live(guide) and guide.fresh_sample is not None else None
    dosing = guide.state.act is not None and guide.state.act.kind == ActKind.DOSE
    tare = tare_age.warnings(guide.state.here, now=guide.acting.record.now()) if dosing else ()
    live = replace(
        view.live,
        creep=creep.words() if creep is not None else "",
        tare=tare,
        by_itself=guide.by_itself.words(),
    )
    return replace(view, live=live)


def _frame(guide: "Guide") -> StepView:
    state = guide.state
    open_for, estimated, what = _clock(guide)
    limit = state.basis["enclosure"].get("shift_minutes")
    limits = [float(limit) * 60.0 - guide.open_today_s] if limit else []
    limits += [guide.rule_left_s] if guide.rule_left_s is not None else []
    left = min(limits) - (open_for or 0.0) if limits else None
    glove_left, alarm = _gloves(guide, open_for)
    return StepView(
        prep=state.prep,
        title=title(state),
        place=place(state),
        step=step_line(state),
        hazards=hazards(guide),
        said=" ".join(dict.fromkeys(filter(None, (guide.said, alarm, guide.link_says)))),
        answer=guide.answer,
        glove_left=glove_left,
        alarm=alarm,
        done=guide.finished,
        open_for=open_for,
        estimated=estimated,
        what_open=what,
        left_today=left,
    )


def _clock(guide: "Guide") -> tuple[float | None, bool, str]:
    if not guide.state.open_handlings:
        return None, False, ""
    handling = guide.state.open_handlings[-1]
    if guide.opened_at is not None:
        return guide.monotonic() - guide.opened_at, False, handling.what
    since = guide.acting.record.now() - datetime.fromisoformat(handling.at)
    return since.total_seconds(), True, handling.what


def _gloves(guide: "Guide", open_for: float | None) -> tuple[float | None, str]:
    """Seconds until the first liquid of the step is through, and what to say from the last fifth on."""
    if not guide.gloves or guide.finished:
        return None, ""
    now = guide.state.open_handlings
    clocks = [
        (c.left_s - (open_for or 0.0 if now and c.solvent in now[-1].substances else 0.0), c)
        for c in guide.gloves
    ]
    left, first = min(clocks, key=lambda found: found[0])
    if left > first.early_s:
        return left, ""
    close = "close what is open, then " if now else ""
    through = "is through" if left <= 0 else "is nearly through"
    return left, f"Gloves {first.glove}: {first.solvent} {through}: {close}change them and press +."


def _asked(view: StepView, ask: Ask) -> StepView:
    keys: tuple[tuple[str, str], ...]
    keys = (("Enter", "go on" if ask.read_only else "done"), ("-", "back"))
    if ask.choices:
        keys = ((f"1 to {len(ask.choices)}", "choose"), ("-", "back"))
    if ask.passes:
        keys = (keys[0], ("Enter", "go on"), keys[1])
    body, extra = ((), ask.text) if ask.read_only else (ask.text, ())
    return replace(
        view, body=body, extra=extra, choices=ask.choices, prompt=ask.prompt, secret=ask.secret, keys=keys
    )


def title(state: PrepState) -> str:
    """Give what the prep makes, in a line."""
    substances, plan = state.basis["substances"], state.plan
    solute = substances[state.basis["lot"]["substance"]]["name"]
    solvent = substances[state.basis["solvent_lot"]["substance"]]["name"]
    rehearsal = ", rehearsal" if plan.rehearsal else ""
    if plan.is_rack:
        of = f"{plan.amount} of {state.target} in {solvent}" if rack.dissolves(plan) else plan.amount
        return f"{solute}, {len(plan.parts)} portions, {of}{rehearsal}"
    many = f", {len(plan.parts)} vessels" if plan.parts else ""
    drawn = {p.source for p in plan.parts}
    levels = [p for p in plan.parts if not p.is_blank and p.key not in drawn]
    to = f"{len(levels)} levels to " if len(levels) > 1 else ""
    return f"{solute}, {to}{state.target} in {solvent}{many}{rehearsal}"


def place(state: PrepState) -> str:
    """Give the place in the prep."""
    if state.status != PrepStatus.OPEN:
        return str(state.status)
    if state.current is None:
        return "all steps done"
    return f"step {state.step + 1} of {len(state.steps)}"


def step_line(state: PrepState) -> str:
    """Give the step in capitals, and what it is about."""
    step = state.current
    if step is None or state.status != PrepStatus.OPEN:
        return ""
    # A pass over several vessels is about the one of the open act; before it, about the first that it serves.
    here = state.here if state.here.key or not step.parts else state.part(step.parts[0])
    basis, vessel = here.basis, here.plan.vessel if here.key else step.vessel
    match step.name:
        case StepName.CHECK_BALANCE:
            about = f"{basis['balance']['id']} in {state.plan.enclosure}"
        case StepName.TARE:
            about = f"vessel {vessel} on {basis['balance']['id']}"
        case StepName.ADD_SOLVENT:
            lot = basis["solvent_lot"]
            about = f"{basis['substances'][lot['substance']]['name']} · lot {lot['id']} · vessel {vessel}"
        case _:
            lot = basis["lot"]
            about = f"{basis['substances'][lot['substance']]['name']} · lot {lot['id']}"
            about += f" · container {step.container}" if step.container else ""
    return f"{TITLES[step.name]}   {about}"


def hazards(guide: "Guide") -> tuple[str, ...]:
    """Give the hazards of the open step in words, signal word first."""
    state, step = guide.state, guide.state.current
    if step is None or guide.before is None or not (step.substances or guide.before.families):
        return ()
    snapshots = [state.basis["hazards"][s] for s in step.substances]
    return families.hazard_line(snapshots, guide.before.families)


def short(guide: "Guide") -> tuple[str, ...]:
    """Give the short form of the cautions, which stands on every act below the hazards: first act, note."""
    step = guide.state.current
    if step is None or guide.before is None:
        return ()
    return cautions.short_form(step.name.value, guide.before.families)[-2:]


def _page(view: StepView, guide: "Guide") -> StepView:
    screens = guide.screens
    return replace(
        view,
        page=screens[guide.screen],
        page_place=f"page {guide.screen + 1} of {len(screens)}",
        body=(_news(guide),),
        keys=((str(guide.digit), "I have read this page"), ("*", "help"), ("/", "pause")),
    )


def _news(guide: "Guide") -> str:
    """Say in one line why the page stands in full, and what on it is new to the person.

    A second line would push the end of the note off a screen of 24 rows.
    """
    before = guide.before
    assert before is not None
    why = _why(guide, before)
    if before.news:
        return f"{why}; new parts are marked" if why else f"New to you: {before.news.words}"
    if not why:
        return "In full: something that stood on it stands no more" if before.again else "In full"
    return f"{why}; nothing on it is new" if before.again else why


def _why(guide: "Guide", before: Before) -> str:
    """Say why the page stands in full; empty where the reason is what is new on it."""
    state, step = guide.state, guide.state.current
    assert step is not None  # a page stands before an open step only
    if not state.acks:
        return "New: the first page of this prep"
    last = state.acks[-1]
    if last.entry <= state.ack_floor:
        if state.incidents and state.incidents[-1] == state.ack_floor:
            return "Again in full: after an incident"
        return "Again in full: after an interruption or a step back"
    if last.person != guide.acting.person:
        return f"In full: {last.person} read it before, now you"
    if last.step_name != step.name:
        return "Again in full: back at this kind of step" if before.again else ""
    if last.container != step.container:
        return f"Again in full: another container, {step.container}"
    return "" if last.digest != before.digest else "Again in full: after a break"


def _equal(state: PrepState) -> tuple[str, ...]:
    """Say how equal the portions of a rack came out."""
    found = portions.equal(state) if state.plan.is_rack else None
    return (*found.lines(), "") if found is not None else ()


def _end(view: StepView, guide: "Guide") -> StepView:
    state = guide.state
    leave = (("Enter", "leave"),)
    if state.status == PrepStatus.ABANDONED:
        return replace(view, body=("Given up.", f"Material: {state.material}"), keys=leave)
    extra = (*_equal(state), *outcome_words.result_lines(state))
    if guide.finished:
        filled = [str(part.lot["id"]) for part in state.each if part.lot.get("id")]
        lots = list(dict.fromkeys(filled))
        made = ", ".join(lots) if len(lots) < 4 else f"{lots[0]} to {lots[-1]}"
        many = f" in {len(filled)} containers" if len(filled) > len(lots) else ""
        lot = f"Closed. Lot {made}{many}, status {state.lot.get('status', '')}."
        return replace(view, body=(lot,), extra=extra, keys=leave)
    return replace(
        view,
        body=("All steps are done and every exposure note is written.",),
        extra=extra,
        keys=(("Enter", "close the prep"), *ALWAYS),
    )
