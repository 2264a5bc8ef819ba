"""The pressure of the enclosure: its limits stand beside the question, and a sign left out is asked about."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from store.actions import steps
from store.errors import BadInput
from store.model.prep import Act
from tui.guide.asks import choose

if TYPE_CHECKING:
    from tui.guide.guide import Guide

WHAT = "pressure"


def limits(enclosure: Mapping[str, Any]) -> str:
    """Give the limits of an enclosure in words, and how a negative number is typed.

    >>> limits({"pressure_low": "-120", "pressure_high": "-40"})
    'Limits -120 to -40 Pa. A - after the digits makes the number negative.'
    >>> limits({"pressure_low": "10"})
    'Limits 10 Pa or more.'
    """
    low, high = str(enclosure.get("pressure_low", "")), str(enclosure.get("pressure_high", ""))
    both = f"{low} to {high} Pa" if low and high else f"{low} Pa or more" if low else f"{high} Pa or less"
    below = " A - after the digits makes the number negative." if "-" in low + high else ""
    return f"Limits {both}.{below}" if low or high else ""


def tell(guide: "Guide", act: Act, text: str) -> None:
    """Write what was told; where only its other sign is inside the limits, ask first which it is."""

    def write(told: str) -> None:
        seen = guide.state.last_entry
        guide.try_with_second(
            lambda second: steps.confirm(guide.acting, guide.prep, seen=seen, answer=told, let_through=second)
        )

    other = text[1:] if text.startswith("-") else f"-{text.lstrip('+')}"
    if act.what != WHAT or not _only_other_is_inside(guide, text, other):
        write(text)
        return
    asked = f"{text} Pa is outside the limits, {other} Pa is inside. What does the gauge show?"
    guide.push(
        choose(asked, (f"{other} Pa", f"{text} Pa, as typed"), lambda n, _: write(other if n == 1 else text))
    )


def _only_other_is_inside(guide: "Guide", text: str, other: str) -> bool:
    try:
        return bool(steps.outside(guide.state, text)) and not steps.outside(guide.state, other)
    except BadInput:
        return False
