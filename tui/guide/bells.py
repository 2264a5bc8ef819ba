"""What the terminal's bell tells a person who looks elsewhere: each thing has a pattern of its own. Pure."""

from collections.abc import Collection, Mapping

from store.model.settings import SettingKind, value
from tui.guide.view import StepView

PATTERNS: Mapping[str, tuple[float, ...]] = {
    "steady": (0.0,),
    "inside": (0.0, 0.25),
    "refused": (0.0, 0.15, 0.3),
    "time": (0.0, 0.6, 1.2, 1.8),
}
"""Seconds at which the bell rings: once for steady, twice for steady and inside, three times quickly for a
refusal, four times slowly for gloves that are nearly through or a wait that is over."""

APART_S = 0.5
"""Silence after a pattern."""


def wanted(settings: Mapping[str, str]) -> tuple[str, ...]:
    """Give what a site wants to hear.

    >>> wanted({"bell_for": "inside, time"}), wanted({"bell": "no"})
    (('inside', 'time'), ())
    """
    if value(settings, "bell") != "yes":
        return ()
    return SettingKind.words_of(value(settings, "bell_for"))


class Bell:
    """Lets one pattern end before the next begins: two at once could not be told apart."""

    def __init__(self) -> None:
        self._until_s = -1.0

    def rings(self, what: str, now_s: float) -> tuple[float, ...]:
        """Give the seconds from now at which it rings; none while it rings. A refusal goes before all.

        >>> bell = Bell()
        >>> bell.rings("inside", 10.0), bell.rings("steady", 10.5), bell.rings("refused", 10.5)
        ((0.0, 0.25), (), (0.0, 0.15, 0.3))
        """
        if now_s < self._until_s and what != "refused":
            return ()
        self._until_s = now_s + PATTERNS[what][-1] + APART_S
        return PATTERNS[what]


def pattern(before: StepView | None, now: StepView, *, wanted: Collection[str]) -> str:
    """Give the pattern that tells what is new in a view; empty where nothing is, or nobody wants to hear it.

    >>> calm = StepView(prep="P", title="", place="", step="")
    >>> from dataclasses import replace
    >>> pattern(calm, replace(calm, alarm="gloves"), wanted=("time",))
    'time'
    >>> pattern(calm, replace(calm, alarm="gloves"), wanted=())
    ''
    """
    rung = _rung(before)
    return next((name for name in _rung(now) if name not in rung and name in wanted), "")


def _rung(view: StepView | None) -> tuple[str, ...]:
    """What a view tells, the most pressing first."""
    if view is None:
        return ()
    live = view.live
    steady = live is not None and live.steady is True
    inside = live is not None and steady and live.inside is True
    told = {"time": bool(view.alarm), "inside": inside, "steady": steady}
    return tuple(name for name, holds in told.items() if holds)
