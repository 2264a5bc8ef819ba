"""A player: the third driver of the guide, who reads the view and presses the usual key.

It presses what a careful operator would: every page by its digit, every reading once steady, ever smaller
portions near the target. Time is its own, so a prep of an hour plays in a second.
"""

from collections.abc import Callable
from random import Random

from store.actions.now_checks import wait_left_s
from store.model.words import ActKind
from store.procedure import outcome, pan
from tui.guide import keys, weigh
from tui.guide.guide import Guide
from tui.guide.view import StepView

POLL_S = 0.25
LONGEST_S = 120.0
"""A display that is not steady for so long will not be; the player gives up loudly."""

MOST_REFUSALS = 20
"""Refused so often in a row, it would press the same key for ever."""


class OwnTime:
    """A clock that moves when it is told to."""

    def __init__(self, start_s: float = 0.0) -> None:
        self.now_s = start_s

    def __call__(self) -> float:
        return self.now_s

    def pass_(self, seconds: float) -> None:
        """Let time pass."""
        self.now_s += seconds


class Player:
    """Plays one prep to its end, showing each new view; where nobody looks, none is drawn."""

    def __init__(
        self, guide: Guide, *, time: OwnTime, chance: Random, show: Callable[[StepView], None] | None
    ) -> None:
        self.guide, self.time, self.chance, self.show = guide, time, chance, show
        self._last: StepView | None = None
        self._refused = 0

    def play(self, *, until: Callable[[Guide], bool] | None = None) -> None:
        """Press keys until the prep is closed, or until a condition holds."""
        while not self.guide.finished and not (until is not None and until(self.guide)):
            self.turn()
        self._show()

    def turn(self) -> None:
        """Look, wait where a reading must settle, press one key."""
        guide = self.guide
        self.time.pass_(self.chance.uniform(1.0, 4.0))
        mode = guide.expect()
        act = weigh.current(guide) if guide.state.act is not None else None
        waits = (
            act is not None
            and act.kind in (ActKind.READ, ActKind.DOSE)
            and not guide.asks
            and not guide.on_page
        )
        if waits and weigh.live(guide):
            self._settle()
        if (wait_s := wait_left_s(guide.state, guide.acting.record.now())) > 0 and not guide.asks:
            self._show()
            self.time.pass_(wait_s)
            return
        self._show()
        guide.take(self._choose(mode))
        self._refused = self._refused + 1 if guide.refused else 0
        if self._refused > MOST_REFUSALS:
            raise RuntimeError(f"the player is stuck: {guide.said}")

    def _settle(self) -> None:
        waited = 0.0
        while waited < LONGEST_S:
            self.guide.poll()
            sample = self.guide.sample
            if waited > 2.0 and sample is not None and sample.steady:
                return
            self.time.pass_(POLL_S)
            waited += POLL_S
        raise RuntimeError("the simulated balance never came to rest")

    def _show(self) -> None:
        if self.show is None:
            return
        view = self.guide.view()
        if view != self._last:
            self.show(view)
        self._last = view

    def _choose(self, mode: keys.Mode) -> keys.Intent:
        guide = self.guide
        act = weigh.current(guide) if guide.state.act is not None else None
        if guide.asks and guide.asks[-1].passes:
            return keys.Typed("")
        if guide.asks:
            return keys.Chosen(1) if guide.asks[-1].choices else keys.Act()
        if isinstance(mode, keys.Page):
            return keys.Acknowledged(mode.digit)
        if act is not None and act.kind == ActKind.DOSE:
            return self._portion()
        if act is not None and act.kind == ActKind.TELL:
            return keys.Typed(self._told())
        if isinstance(mode, keys.Choose):
            return keys.Chosen(1)
        return keys.Act()

    def _portion(self) -> keys.Intent:
        """Pour far from the target, tap nearer, let grains fall at the end; take it when it is inside."""
        state, sample = self.guide.state.here, self.guide.sample
        act = state.act
        if act is None or sample is None:
            return keys.Act()
        total_mg = pan.total_mg(state, act.what, pan.as_shown(sample.shown, pan.balance(state)).mass_mg)
        window = outcome.window(state, act.what)
        left_mg = window.aim_mg - total_mg
        if left_mg <= 0.5 * window.half_mg:
            return keys.Act()
        if left_mg > 0.3 * window.aim_mg:
            return keys.Chosen(1)
        return keys.Chosen(2 if left_mg > 0.12 * window.aim_mg else 3)

    def _told(self) -> str:
        enclosure = self.guide.state.basis["enclosure"]
        low, high = enclosure.get("pressure_low"), enclosure.get("pressure_high")
        ends = [float(x) for x in (low, high) if x]
        return f"{sum(ends) / len(ends):.0f}" if ends else "0"
