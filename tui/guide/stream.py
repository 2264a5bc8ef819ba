"""The readings of a live balance as a stream: steady as the settings mean it, and how it creeps. Pure."""

import math
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Any

from store.calc.weighing import Slope, Steadiness, effective_sd_mg, slope, steadiness
from store.errors import BadInput
from store.model.registers import Balance
from store.model.settings import value
from store.procedure import pan
from store.units import clock, convert, number
from tui.balance.protocol import LIVE_S, RAW_LINES, Sample

CREEP_S = 20.0
"""The slope is fitted over so long, or since the last disturbance."""
LEAST_CREEP_S = 5.0
CREEP_EVERY_S = 0.5
"""Fitted so often: it changes slowly, and a screen draws twenty times a second."""
RATE_S = 3.0
"""The rate of dosing is fitted over so long."""
MOST = 4000
FASTEST_MG_S = 1000.0
"""What moves faster is no dosing but a weight or a vessel that is put on: its rate says nothing."""


@dataclass(frozen=True, slots=True)
class Creep:
    """Fitted slope of the display, a minute, with its standard uncertainty; the cause is not named."""

    mg_min: float
    u_mg_min: float
    over_s: float

    @property
    def seen(self) -> bool:
        """Whether it is more than twice its uncertainty."""
        return abs(self.mg_min) > 2.0 * self.u_mg_min

    def words(self) -> str:
        """Say it for the screen, short enough for the line of what is still to go.

        >>> Creep(0.12, 0.01, 20.0).words(), Creep(0.004, 0.01, 20.0).words()
        ('creep +0.120 mg/min', 'creep < 0.020 mg/min')
        """
        if abs(self.mg_min) > 60.0 * FASTEST_MG_S:
            return "moving"
        if self.seen:
            return f"creep {self.mg_min:+.3f} mg/min"
        return f"creep < {2.0 * self.u_mg_min:.3f} mg/min"


class Stream:
    """The last readings of one balance, judged by the settings of the site."""

    def __init__(self, of: Balance, settings: Mapping[str, str]) -> None:
        self._step_mg = pan.readability_mg(of)
        s_mg = effective_sd_mg(sd_mg=pan.repeatability_mg(of) or 0.0, readability_mg=self._step_mg)
        self.seconds = float(number(value(settings, "steady_seconds")))
        self.spread_mg = max(float(number(value(settings, "steady_spread"))) * s_mg, 1.5 * self._step_mg)
        self._seen: deque[tuple[float, float]] = deque(maxlen=MOST)
        self._shown: deque[str] = deque(maxlen=RAW_LINES)
        self._jumped_s = self._moved_s = -1.0
        """When the display last jumped, or moved without a jump: what was before says nothing of now."""
        self._act_s = -math.inf
        """When the open act began: what moved before it, such as by the tare key, is no dosing."""
        self._crept: tuple[float, Creep | None] = (-math.inf, None)

    def take(self, sample: Sample | None) -> Sample | None:
        """Take a sample, and give it with the steadiness that the settings mean."""
        if sample is None or sample.fault or not sample.shown:
            return sample
        try:
            mass_mg = convert(number(sample.shown), sample.unit, "mg")
        except BadInput:
            return sample
        if self._seen and sample.at_s <= self._seen[-1][0]:
            return replace(sample, steady=sample.steady and self._rests())
        if self._seen and sample.at_s - self._seen[-1][0] > LIVE_S:
            self._seen.clear()
        elif self._seen and abs(mass_mg - self._seen[-1][1]) > self.spread_mg:
            self._jumped_s = sample.at_s
        self._seen.append((sample.at_s, mass_mg))
        self._shown.append(f"{sample.at_s:.2f} s  {sample.shown} {sample.unit}")
        while self._seen[-1][0] - self._seen[0][0] > max(CREEP_S, self.seconds) + 1.0:
            self._seen.popleft()
        if self._rate_mg_s(since_s=self._jumped_s) is not None:
            # Powder that falls grain by grain makes no jump, yet is no creep.
            self._moved_s = sample.at_s
        return replace(sample, steady=sample.steady and self._rests())

    def _rests(self) -> bool:
        """Whether the last seconds lie within the spread; a lone sample is judged by the balance alone."""
        if len(self._seen) < 2:
            return True
        return self._judged().state == "steady"

    def _judged(self) -> Steadiness:
        return steadiness(
            times_s=[t for t, _ in self._seen],
            masses_mg=[m for _, m in self._seen],
            seconds=self.seconds,
            spread_mg=self.spread_mg,
            # What lies within the spread for the whole time has no greater slope.
            slope_mg_s=self.spread_mg / self.seconds,
            readability_mg=self._step_mg,
        )

    def creep(self) -> Creep | None:
        """Give the fitted slope since the last disturbance; None while that is too short ago."""
        if not self._seen:
            return None
        at_s = self._seen[-1][0]
        if not 0.0 <= at_s - self._crept[0] < CREEP_EVERY_S or self._crept[0] < self._disturbed_s:
            self._crept = (at_s, self._creep())
        return self._crept[1]

    def _creep(self) -> Creep | None:
        points = self._since(max(self._disturbed_s, self._seen[-1][0] - CREEP_S))
        if len(points) < 5 or points[-1][0] - points[0][0] < LEAST_CREEP_S:
            return None
        times = [t for t, _ in points]
        fit: Slope = slope(times_s=times, masses_mg=[m for _, m in points])
        # Rounding alone leaves so much: a display that stands still is not certain to a hair.
        mean = sum(times) / len(times)
        least = self._step_mg / (12.0 * sum((t - mean) ** 2 for t in times)) ** 0.5
        return Creep(60.0 * fit.mg_s, 60.0 * max(fit.u_mg_s, least), times[-1] - times[0])

    def begin(self, at_s: float) -> None:
        """Begin an act: the rate is that of what falls from here on."""
        self._act_s = at_s

    def rate_mg_s(self) -> float | None:
        """Give how fast the display moves [mg/s], fitted over the last seconds; None while it rests."""
        return self._rate_mg_s(since_s=self._act_s)

    @property
    def _disturbed_s(self) -> float:
        return max(self._jumped_s, self._moved_s)

    def _since(self, at_s: float) -> list[tuple[float, float]]:
        """Give the readings from a moment on; the newest stand last, so only they are looked at."""
        points = list(takewhile(lambda seen: seen[0] >= at_s, reversed(self._seen)))
        points.reverse()
        return points

    def _rate_mg_s(self, *, since_s: float) -> float | None:
        if not self._seen:
            return None
        points = self._since(max(since_s, self._seen[-1][0] - RATE_S))
        if len(points) < 5 or points[-1][0] - points[0][0] < 0.5 * RATE_S:
            return None
        fit = slope(times_s=[t for t, _ in points], masses_mg=[m for _, m in points])
        moves = abs(fit.mg_s) > 2.0 * fit.u_mg_s and abs(fit.mg_s) * RATE_S > 2.0 * self.spread_mg
        return fit.mg_s if moves else None

    def rate_words(self, left_mg: float) -> str:
        """Say how fast it moves, and when it would be at the aim; empty while it rests.

        A weight that is put on only *moves*.
        """
        rate = self.rate_mg_s()
        if rate is None:
            return ""
        if abs(rate) > FASTEST_MG_S:
            return "moving"
        there = left_mg / rate
        when = f", aim in {clock(there)}" if 1.0 <= there < 3600.0 else ""
        return f"{rate:+.{self._places}f} mg/s{when}"

    @property
    def _places(self) -> int:
        """Decimals that the display has in mg: a rate is not said finer."""
        return max(0, -math.floor(math.log10(self._step_mg) + 1e-9))

    def to_body(self, lines: tuple[str, ...] = ()) -> dict[str, Any]:
        """Give what stood around an acceptance: the raw lines, else the readings; spread and creep."""
        if not self._seen:
            return {}
        body: dict[str, Any] = {"lines": list(lines or self._shown)}
        judged = self._judged()
        body["state"] = judged.state
        if judged.state != "too short":
            body["spread_mg"] = f"{judged.spread_mg:.7g}"
        if (found := self.creep()) is not None:
            body |= {
                "creep_mg_min": f"{found.mg_min:.4g}",
                "u_creep_mg_min": f"{found.u_mg_min:.4g}",
                "creep_over_s": f"{found.over_s:.1f}",
            }
        return body
