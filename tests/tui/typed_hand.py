"""A hand that types what a display would show, act by act: for guides without a live balance."""

from collections.abc import Callable

from store.model.words import ActKind
from store.procedure import outcome, pan
from tests import site
from tui.guide import keys, weigh
from tui.guide.guide import Guide


def step_is(guide: Guide, step: str) -> bool:
    """Whether a step of this name is open; any without a name."""
    return not step or (guide.state.current is not None and guide.state.current.name == step)


def at(guide: Guide, act: str, step: str = "") -> bool:
    """Whether an act of this key is open, its page read and nothing asked."""
    now = guide.state.act
    return (
        not guide.on_page and not guide.asks and now is not None and now.key == act and step_is(guide, step)
    )


def reading(guide: Guide) -> str:
    """Give what the display should show at the open act."""
    act, of = weigh.current(guide), pan.balance(guide.state)
    if act.kind == ActKind.DOSE:
        start = pan.base(guide.state)
        mass_mg = (start.mass_mg if start else 0.0) + outcome.window(guide.state, act.what).aim_mg
    else:
        expected = pan.expectation(guide.state, act).expected_mg
        mass_mg = expected if expected is not None else 12034.52 + pan.content_mg(guide.state)
    return f"{mass_mg / (1.0 if of.unit == 'mg' else 1000.0):.{pan.decimals(of)}f}"


def turn(guide: Guide) -> None:
    """Press the usual key, or type the usual reading."""
    mode = guide.expect()
    if guide.asks:
        guide.take(keys.Chosen(1) if guide.asks[-1].choices else keys.Act())
    elif isinstance(mode, keys.Page):
        guide.take(keys.Acknowledged(mode.digit))
    elif guide.state.act is None:
        guide.take(keys.Act())
    elif weigh.current(guide).kind in (ActKind.READ, ActKind.DOSE):
        guide.take(keys.Act() if guide.typed_reading else keys.Typed(reading(guide)))
    elif isinstance(mode, keys.Number):
        guide.take(keys.Typed("-80"))
    else:
        guide.take(keys.Chosen(1) if isinstance(mode, keys.Choose) else keys.Act())


def walk(guide: Guide, clock: site.TestClock, *, until: Callable[[Guide], bool], most: int = 300) -> None:
    """Go on until something holds or the prep is closed."""
    for _ in range(most):
        if until(guide) or guide.finished:
            return
        clock.time.pass_(2.0)
        turn(guide)
    raise AssertionError(f"walked in a circle: {guide.said}")
