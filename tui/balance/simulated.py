"""A simulated balance: what a display would show of what lies on its pan.

The signal is the load seen through a first-order settling, the error of each placing, a slow drift, kicks
of static, and noise; it is rounded to the readability. All of it follows from the seed and the time, so
the same acts at the same times show the same digits. After a restart `lay` puts the pan back as the
accepted entries leave it.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from random import Random

from store.model.registers import Balance as Registered
from store.units import quantity
from tui.balance.protocol import Kind, Sample

_NOISE_S = 0.1
"""The display counts anew ten times a second."""
_KICK_SLOT_S = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Physics:
    """How a simulated balance behaves.

    `sd_mg` is the standard deviation of a net, tare to gross, as ten weighings would find it: two placings
    of 0.64 s each and two readings of 0.3 s each come to one s.
    """

    readability_mg: float = 0.01
    capacity_mg: float = 220_000.0
    sd_mg: float = 0.012
    settling_s: float = 0.6
    """Time constant of the settling."""
    drift_mg_min: float = 0.002
    kick_mg: float = 0.15
    """Size of a kick of static."""
    kicks_min: float = 0.4
    """Kicks a minute, on the average, while something is on the pan."""
    decimals: int = 2
    unit_mg: float = 1.0
    """One unit of the display, in mg."""


@lru_cache(maxsize=8192)
def _normal(seed: int, what: str, n: int) -> float:
    # A string seeds Random by SHA-512: the same on every machine and in every process.
    return Random(f"{seed}/{what}/{n}").gauss(0.0, 1.0)


@lru_cache(maxsize=1024)
def _uniform(seed: int, what: str, n: int) -> float:
    return Random(f"{seed}/{what}/{n}").random()


@dataclass(frozen=True, slots=True)
class _Change:
    at_s: float
    by_mg: float
    sudden: bool = False


class Simulated:
    """A balance that is not there; times are monotonic seconds and never go back."""

    kind: Kind = "simulated"

    def __init__(self, name: str, *, seed: int, physics: Physics | None = None, unit: str = "mg") -> None:
        self.name = name
        self.physics = physics or Physics()
        self._unit = unit
        self._seed = seed
        self._changes: list[_Change] = []
        self._placings = 0
        self._misplaced_mg = 0.0
        self._on_pan_mg = 0.0
        self._zero_mg = 0.0

    @classmethod
    def of(cls, row: Registered, *, seed: int) -> "Simulated":
        """Simulate a balance of the register with its own readability, capacity and repeatability."""
        step_mg = quantity(row.readability, "mass").to("mg")
        unit_mg = 1.0 if row.unit == "mg" else 1000.0
        sd_mg = quantity(row.repeatability, "mass").to("mg") if row.repeatability else step_mg
        physics = Physics(
            readability_mg=step_mg,
            capacity_mg=quantity(row.capacity, "mass").to("mg"),
            sd_mg=sd_mg,
            drift_mg_min=0.1 * step_mg,
            kick_mg=12 * step_mg,
            decimals=max(0, -math.floor(math.log10(step_mg / unit_mg) + 1e-9)),
            unit_mg=unit_mg,
        )
        return cls(row.id, seed=seed, physics=physics, unit=row.unit)

    # ---- hands ----

    @property
    def on_pan_g(self) -> float:
        """What truly lies on the pan."""
        return self._on_pan_mg / 1000.0

    def put(self, mass_g: float, at_s: float) -> None:
        """Put something on the pan, beside what is there."""
        self._load(mass_g * 1000.0, at_s)

    def add(self, mass_g: float, at_s: float) -> None:
        """Add to what is in the vessel on the pan."""
        self._load(mass_g * 1000.0, at_s)

    def take_off(self, at_s: float) -> None:
        """Take everything off the pan."""
        self._load(-self._on_pan_mg, at_s)

    def tare(self, at_s: float) -> None:
        """Press the tare key: the display counts from here."""
        self._zero_mg = self._settled_mg(at_s) + self._wander_mg(at_s)

    def lay(self, mass_g: float, *, shown_mg: float, at_s: float) -> None:
        """Begin with a load at rest, as the accepted entries leave it: the display shows about `shown_mg`."""
        self._changes = [_Change(at_s, mass_g * 1000.0, sudden=True)]
        self._on_pan_mg, self._misplaced_mg = mass_g * 1000.0, 0.0
        self._zero_mg = self._on_pan_mg + self._wander_mg(at_s) - shown_mg

    def _load(self, by_mg: float, at_s: float) -> None:
        self._on_pan_mg = max(0.0, self._on_pan_mg + by_mg)
        self._placings += 1
        off_mg = 0.0
        if self._on_pan_mg > 0.0:
            off_mg = 0.64 * self.physics.sd_mg * _normal(self._seed, "placing", self._placings)
        self._changes = self._merged(at_s)
        self._changes.append(_Change(at_s, by_mg + off_mg - self._misplaced_mg))
        self._misplaced_mg = off_mg

    def _merged(self, at_s: float) -> list[_Change]:
        """Fold changes that have long settled into one, so that a day of dosing stays cheap."""
        old_s = at_s - 30.0 * self.physics.settling_s
        settled = [c for c in self._changes if c.at_s < old_s]
        if len(settled) < 2:
            return self._changes
        rest = [c for c in self._changes if c.at_s >= old_s]
        return [_Change(settled[-1].at_s, sum(c.by_mg for c in settled), sudden=True), *rest]

    # ---- display ----

    def poll(self, at_s: float) -> Sample:
        """Give what the display shows at a time."""
        if self._on_pan_mg > self.physics.capacity_mg:
            return Sample("", False, at_s, self._unit, fault="overload: take it off the pan")
        return Sample(self._shown(self._signal_mg(at_s)), self._steady(at_s), at_s, self._unit)

    def lines(self) -> tuple[str, ...]:
        """Give nothing; it sends no lines."""
        return ()

    def state(self) -> str:
        """Say nothing; there is no link to lose."""
        return ""

    def close(self) -> None:
        """Do nothing; there is nothing to let go of."""

    def _shown(self, mass_mg: float) -> str:
        p = self.physics
        counts = round(mass_mg / p.readability_mg)
        text = f"{counts * p.readability_mg / p.unit_mg:.{p.decimals}f}"
        return text.lstrip("-") if counts == 0 else text

    def _steady(self, at_s: float) -> bool:
        """Whether the last second and a half stayed within a band of the noise."""
        p = self.physics
        seen = [self._signal_mg(at_s - back * 0.3) for back in range(6)]
        # Six readings of 0.3 s noise spread over 0.76 s on the average; 1.3 s is seldom passed at rest.
        return max(seen) - min(seen) <= max(1.5 * p.readability_mg, 1.3 * p.sd_mg)

    def _signal_mg(self, at_s: float) -> float:
        noise = 0.3 * self.physics.sd_mg * _normal(self._seed, "noise", math.floor(at_s / _NOISE_S + 1e-6))
        return self._settled_mg(at_s) + self._wander_mg(at_s) + self._kick_mg(at_s) + noise - self._zero_mg

    def _settled_mg(self, at_s: float) -> float:
        tau_s = self.physics.settling_s
        return sum(
            c.by_mg if c.sudden else c.by_mg * -math.expm1(-(at_s - c.at_s) / tau_s)
            for c in self._changes
            if c.at_s <= at_s
        )

    def _wander_mg(self, at_s: float) -> float:
        """Drift: a straight part, and a slow swing of the room's temperature."""
        p = self.physics
        swing_s = 240.0 + 120.0 * _uniform(self._seed, "swing", 0)
        phase = 2 * math.pi * _uniform(self._seed, "swing", 1)
        swing_mg = p.drift_mg_min * math.sin(2 * math.pi * at_s / swing_s + phase)
        return p.drift_mg_min * at_s / 60.0 * (2 * _uniform(self._seed, "drift", 0) - 1) + swing_mg

    def _kick_mg(self, at_s: float) -> float:
        """Static: now and then the display jumps and creeps back, but only with something on the pan."""
        if self._on_pan_mg <= 0.0:
            return 0.0
        total_mg = 0.0
        slot = math.floor(at_s / _KICK_SLOT_S)
        for n in (slot - 1, slot):
            if _uniform(self._seed, "kick", n) >= self.physics.kicks_min * _KICK_SLOT_S / 60.0:
                continue
            since_s = at_s - (n + _uniform(self._seed, "kick at", n)) * _KICK_SLOT_S
            if since_s >= 0.0:
                total_mg += self.physics.kick_mg * _normal(self._seed, "kick", n) * math.exp(-since_s / 1.2)
        return total_mg
