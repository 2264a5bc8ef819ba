"""A steady reading taken without a key, where the site allows it: after a count-down that any key stops.

Only what has a value to be compared with is taken so, and only while an acknowledgement of this step's
cautions stands already: nothing is acknowledged by waiting.
"""

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

from store.actions import weighing
from store.errors import BadReading
from store.model.settings import SettingKind, value
from store.model.words import ActKind
from store.procedure import outcome, pan
from store.procedure.standing import Standing
from store.units import number
from tui.guide import keys, weigh

if TYPE_CHECKING:
    from tui.guide.guide import Guide

TAKEN = "by itself"


class CountDown:
    """Runs while what the display shows may be taken by itself."""

    def __init__(self, settings: Mapping[str, str]) -> None:
        self._what = SettingKind.words_of(value(settings, "take_by_itself"))
        self._seconds = float(number(value(settings, "take_seconds")))
        self._at: object = None
        self._since_s: float | None = None
        self._stopped = False
        self._left_s: float | None = None

    @property
    def running(self) -> bool:
        """Whether it counts down now."""
        return self._left_s is not None

    def words(self) -> str:
        """Say how long it will be; empty while it does not run."""
        if self._left_s is None:
            return ""
        return f"taken by itself in {math.ceil(self._left_s)} s: any key stops it"

    def stop(self) -> None:
        """Stop it, for as long as this act is open."""
        self._stopped, self._since_s, self._left_s = True, None, None

    def beat(self, guide: "Guide", *, typing: bool = False) -> None:
        """Count on; take what the display shows when the time is over. While somebody types it waits."""
        if not self._what:
            return
        at = (guide.state.last_entry, guide.place)
        if at != self._at:
            self._at, self._since_s, self._stopped = at, None, False
        if self._stopped or typing or not self._may(guide):
            self._since_s = self._left_s = None
            return
        now_s = guide.monotonic()
        self._since_s = now_s if self._since_s is None else self._since_s
        self._left_s = self._since_s + self._seconds - now_s
        if self._left_s <= 0:
            self._since_s = self._left_s = None
            guide.taken = TAKEN
            try:
                guide.take(keys.Act())
            finally:
                guide.taken = ""

    def _may(self, guide: "Guide") -> bool:
        if guide.asks or guide.state.act is None or guide.typed_reading or not weigh.live(guide):
            return False
        sample, before = guide.fresh_sample, guide.before
        if sample is None or not sample.steady or before is None or before.standing != Standing.STANDS:
            return False
        state, act = guide.state.here, weigh.current(guide)
        try:
            mass_mg = pan.as_shown(sample.shown, pan.balance(state)).mass_mg
        except BadReading:
            return False  # other decimals than the register says: only a person may take or refuse it
        if act.kind == ActKind.READ and act is not weighing.CONTINUITY and "readings" in self._what:
            expected = pan.expectation(state, act)
            return expected.expected_mg is not None and expected.holds(mass_mg)
        if act.kind == ActKind.DOSE and "doses" in self._what and state.open_handlings:
            total_mg = pan.total_mg(state, act.what, mass_mg)
            inside = outcome.window(state, act.what).holds(total_mg)
            return inside and not outcome.against(state, act.what, total_mg)
        return False
