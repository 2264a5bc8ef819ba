"""The hands at a simulated balance: lay on the pan what the open act asks for, and dose by portions.

What lies there follows from the prep's entries, so a restart finds the pan as it was left.
"""

from random import Random

from store.model.prep import Act
from store.model.words import ActKind
from store.procedure import outcome, pan
from store.procedure.state import PrepState
from store.units import quantity
from tui.balance.hand import PORTIONS, Hand
from tui.balance.simulated import Simulated

VESSEL_MG = 12_034.52
"""What a vessel weighs whose register row does not say."""
DROP_MG = 18.0


class Rig:
    """One simulated balance and the hand that doses on it."""

    def __init__(self, balance: Simulated, chance: Random) -> None:
        self.balance, self.chance = balance, chance
        self._state: PrepState | None = None
        self._at: tuple[int, int, str] | None = None
        self._dosed_mg = 0.0
        """Fallen since the last accepted entry."""

    def arrange(self, state: PrepState, act: Act | None, at_s: float) -> None:
        """Lay on the pan what lies there at the open act; a press of the tare key belongs to its act."""
        if act is None or act.kind not in (ActKind.READ, ActKind.DOSE):
            self._state = state.here
            return
        place = (state.step, state.last_entry, act.key)
        state = state.here
        if place == self._at:
            return
        first = self._at is None or self._state is None
        self._state, self._at, self._dosed_mg = state, place, 0.0
        truly_mg = self._mass_mg(state, act.what)
        if act.kind == ActKind.DOSE:
            if first or abs(self.balance.on_pan_g * 1000.0 - truly_mg) > 1e-6:
                self.balance.lay(truly_mg / 1000.0, shown_mg=pan.shown_now_mg(state), at_s=at_s)
            return
        if act.what == "continuity":
            self.balance.lay(truly_mg / 1000.0, shown_mg=pan.shown_now_mg(state), at_s=at_s)
            return
        if first:
            self.balance.lay(0.0, shown_mg=pan.empty_pan_mg(state), at_s=at_s)
        if self.balance.on_pan_g * 1000.0 != truly_mg:
            self.balance.take_off(at_s)
            if truly_mg:
                self.balance.put(truly_mg / 1000.0, at_s)
        if act.what in ("zero", "vessel", "tared", "sealed"):
            self._zero(state, act.what, at_s)

    def _zero(self, state: PrepState, what: str, at_s: float) -> None:
        of, act = pan.balance(state), state.act
        if what == "tared" and (of.shows == "gross" or (act is not None and pan.goes_on(of, act))):
            return
        if what in ("vessel", "sealed"):
            self.balance.lay(
                self._mass_mg(state, what) / 1000.0, shown_mg=self._mass_mg(state, what), at_s=at_s
            )
            return
        self.balance.lay(self._mass_mg(state, what) / 1000.0, shown_mg=0.0, at_s=at_s)

    def dose(self, how: int, at_s: float) -> None:
        """Add one portion: 1 pours, 2 taps, 3 lets a grain or a drop fall."""
        state = self._state
        if (
            state is None
            or state.act is None
            or state.act.kind != ActKind.DOSE
            or not 1 <= how <= len(PORTIONS)
        ):
            return
        content = state.act.what
        window = outcome.window(state, content)
        left_mg = max(window.aim_mg - state.total_mg(content) - self._dosed_mg, 0.1)
        # Of a small aliquot a fine tip lets less than a drop fall.
        drop_mg = DROP_MG if content == "solvent" else min(DROP_MG, 0.01 * window.aim_mg)
        if content != "solid" and how < 3:
            # A wash bottle or a pipette pours steadily; only the third key lets single drops fall.
            share = self.chance.uniform(0.7, 0.9) if how == 1 else self.chance.uniform(0.3, 0.6)
            fallen_mg = max(left_mg * share, drop_mg)
        else:
            hand = Hand(self.chance, drop_mg=0.0 if content == "solid" else drop_mg)
            fallen_mg = hand.portion(PORTIONS[how - 1], left_mg)
        self._dosed_mg += fallen_mg
        self.balance.add(fallen_mg / 1000.0, at_s)

    def _mass_mg(self, state: PrepState, what: str) -> float:
        row = state.basis["vessel"]
        known = row.get("tared") or row.get("mass")
        vessel_mg = quantity(known, "mass").to("mg") if known else VESSEL_MG
        content_mg = pan.content_mg(state) - (state.taken_mg() if what == "sealed" else 0.0)
        match what:
            case "check":
                return quantity(state.basis["balance"]["check_mass"], "mass").to("mg")
            case "zero" | "return":
                return 0.0
            case _:
                return vessel_mg + content_mg
