"""A hand that doses: it pours, taps or lets a grain fall, and never exactly what was meant."""

import math
from random import Random
from typing import Literal

Portion = Literal["pour", "tap", "grain"]
PORTIONS: tuple[Portion, ...] = ("pour", "tap", "grain")

_SHARE = {"pour": 0.4, "tap": 0.18, "grain": 0.05}
_LEAST_MG = {"pour": 0.8, "tap": 0.12, "grain": 0.02}
_SCATTER = {"pour": 0.25, "tap": 0.25, "grain": 0.2}


class Hand:
    """The operator's hand of the demo; chance comes in."""

    def __init__(self, chance: Random, *, drop_mg: float = 0.0) -> None:
        self._chance = chance
        self._drop_mg = drop_mg
        """Mass of a drop where a liquid is dosed; nothing smaller falls then."""

    def portion(self, kind: Portion, remaining_mg: float) -> float:
        """Give how much falls, in mg: a share of what is still wanted, scattered, never nothing.

        What a hand can do does not shrink for ever: below the smallest portion of its kind it overshoots,
        as real hands do.

        >>> hand = Hand(Random(1))
        >>> hand.portion("pour", 10.0) > hand.portion("tap", 10.0) > hand.portion("grain", 10.0)
        True
        """
        least_mg = _LEAST_MG[kind]
        middle_mg = max(_SHARE[kind] * remaining_mg, least_mg)
        # Log-normal: portions are never negative, and now and then a clump falls.
        deviation = min(
            2.0, self._chance.gauss(0.0, 1.0)
        )  # a hand that minds what it does drops no whole heap
        fallen_mg = middle_mg * math.exp(_SCATTER[kind] * deviation)
        if not self._drop_mg:
            return fallen_mg
        drops = max(1, round(fallen_mg / self._drop_mg))
        return sum(self._drop_mg * math.exp(self._chance.gauss(0.0, 0.05)) for _ in range(min(drops, 200)))

    def towards(self, target_mg: float) -> tuple[float, ...]:
        """Dose towards a target as a careful hand does: pour, then tap, then grains; stop when near enough.

        Stops within 2 % of the target, or above it.
        """
        fallen: list[float] = []
        while (rest_mg := target_mg - math.fsum(fallen)) > 0.02 * target_mg:
            kind: Portion = "pour" if rest_mg > 0.35 * target_mg else "tap"
            if rest_mg < 0.1 * target_mg:
                kind = "grain"
            fallen.append(self.portion(kind, rest_mg))
        return tuple(fallen)
