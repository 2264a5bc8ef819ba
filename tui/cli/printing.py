"""A view as lines of text: what the plain prep and the unattended demo print."""

from collections.abc import Iterator

from store.units import clock
from tui.guide.view import WIDTH, StepView, fit


def lines_of(view: StepView, *, before: StepView | None = None) -> Iterator[str]:
    """Give the lines of a view; what stood in the view before is not said again."""
    if before is None or view.step != before.step or view.place != before.place:
        yield ""
        yield f"== {view.prep}   {view.title}   {view.place}"
        if view.step:
            yield f"== {view.step}"
    if view.page:
        yield ""
        yield f"-- cautions, {view.page_place}. {' '.join(view.body)}"
        yield from _hazards(view)
        yield from view.page
    else:
        if view.short and (before is None or (before.short, before.hazards) != (view.short, view.hazards)):
            yield from _hazards(view)
            yield from (f"   {line}" for line in view.short)
        if before is None or before.body != view.body or before.extra != view.extra:
            yield from view.body
            yield from (f"   | {line}" for line in view.extra)
    if view.live is not None and view.live.aim and (before is None or before.live is None):
        yield f"   {view.live.aim}, {view.live.window}. Balance {view.live.where}"
    yield from live_lines(view)
    if view.open_for is not None and (before is None or before.open_for is None):
        yield (
            f"   open since {clock(view.open_for)}" + (" (estimated)" if view.estimated else "") + _left(view)
        )
    if view.said:
        yield f"!! {view.said}"
    elif view.answer and (before is None or before.answer != view.answer):
        yield f"   {view.answer}"
    for number, choice in enumerate(view.choices, 1):
        yield f"   {number}  {choice}"


def _hazards(view: StepView) -> Iterator[str]:
    if view.hazards:
        yield from fit(view.hazards[1:], WIDTH, lead=f"{view.hazards[0]}   ", lines=9)


def _left(view: StepView) -> str:
    if view.left_today is None:
        return ""
    return f", left today {clock(view.left_today)}" if view.left_today > 0 else ", shift limit passed"


def live_lines(view: StepView) -> Iterator[str]:
    """Give what the display shows, and what taking it would give."""
    live = view.live
    if live is None or not live.shown:
        return
    steady = "typed" if live.typed else {True: "steady", False: "not steady", None: ""}[live.steady]
    yield f"   display {live.shown} {live.unit}  {steady}   {live.to_go}".rstrip()
    if live.rate or live.creep:
        yield f"   {live.rate or live.creep}"
    for why in live.tare:
        yield f"!! {why}: tare again"
    if live.accepted and (live.steady or live.typed):
        yield from (f"      if accepted now: {line}" for line in live.accepted)
