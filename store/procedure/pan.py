"""What lies on the pan and what the display should show: expectations of a reading, and the net of a dose."""

from dataclasses import dataclass
from decimal import Decimal

from store.calc.weighing import zero_return_limit_mg
from store.errors import BadReading
from store.model.prep import Act
from store.model.registers import Balance
from store.model.settings import value
from store.procedure.done import ReadDone
from store.procedure.state import PrepState
from store.readings import Reading, typed
from store.units import number, quantity


@dataclass(frozen=True, slots=True)
class Expectation:
    """What a reading should be: `expected_mg` within `limit_mg`; None where anything sensible will do."""

    expected_mg: float | None
    limit_mg: float | None
    lowest_mg: float | None = None
    highest_mg: float | None = None

    def holds(self, mass_mg: float) -> bool:
        """Say whether a reading is within it."""
        if self.expected_mg is not None and self.limit_mg is not None:
            return abs(mass_mg - self.expected_mg) <= self.limit_mg + 1e-9
        low = self.lowest_mg is None or mass_mg >= self.lowest_mg
        return low and (self.highest_mg is None or mass_mg <= self.highest_mg)


def balance(state: PrepState) -> Balance:
    """Give the balance as it stood when the prep was planned."""
    return Balance.from_body(state.basis["balance"])


def readability_mg(of: Balance) -> float:
    """One step of the last digit, in mg."""
    return quantity(of.readability, "mass").to("mg")


def decimals(of: Balance) -> int:
    """Digits after the decimal sign that the display shows, in its own unit."""
    step = Decimal(repr(quantity(of.readability, "mass").to(of.unit))).normalize()
    exponent = step.as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def as_shown(text: str, of: Balance) -> Reading:
    """Give the reading of a text in the unit and with the decimals of the balance's display.

    Raises
    ------
    BadReading
        Not a reading, or one with other decimals: a point in the wrong place is found here.
    """
    reading = typed(text, of.unit)
    wanted = decimals(of)
    exponent = reading.number.as_tuple().exponent
    found = -exponent if isinstance(exponent, int) and exponent < 0 else 0
    if found != wanted:
        example = f"{0:.{wanted}f}"
        raise BadReading(
            f"{text!r}: the display of {of.id} shows {wanted} decimals, as in {example} {of.unit}: "
            "type every digit."
        )
    return reading


def repeatability_mg(of: Balance) -> float | None:
    """The standard deviation of a net on this balance, in mg; None where the register has none."""
    return quantity(of.repeatability, "mass").to("mg") if of.repeatability else None


def zero_limit_mg(state: PrepState) -> float:
    """How far the empty pan may be from its zero, in mg: k times s, not below one step of the display."""
    of = balance(state)
    factor = float(number(value(state.basis["settings"], "zero_return_factor")))
    limit_mg = zero_return_limit_mg(
        sd_mg=repeatability_mg(of) or 0.0, readability_mg=readability_mg(of), factor=factor
    )
    return max(limit_mg, readability_mg(of))


def base(state: PrepState) -> ReadDone | None:
    """The reading that nets are counted from: the vessel as tared, or its gross."""
    return next((r for r in reversed(state.reads) if r.what in ("vessel", "tared") and r.stands), None)


def vessel_mg(state: PrepState) -> float:
    """The empty vessel's mass as displayed, in mg; 0 while it has not been read.

    Read again after a step back, it holds what was dosed before.
    """
    read = state.last_read("vessel")
    return read.mass_mg - content_mg(state, before=read.entry) if read is not None else 0.0


def content_mg(state: PrepState, *, before: int | None = None) -> float:
    """All that is in the vessel as displayed, in mg; `before` an entry, or now."""
    return sum(
        _total(state, content, before)
        for content in dict.fromkeys(d.content for d in state.doses if d.counts)
    )


def _total(state: PrepState, content: str, before: int | None) -> float:
    there = [d for d in state.in_vessel(content) if before is None or d.entry < before]
    return there[-1].total_mg if there else 0.0


def empty_pan_mg(state: PrepState) -> float:
    """What the display shows with nothing on the pan, from the reading that nets are counted from."""
    start = base(state)
    if start is None:
        return 0.0
    on_pan = vessel_mg(state) + content_mg(state, before=start.entry)
    if start.what == "vessel" and balance(state).shows != "gross":
        return 0.0
    return start.mass_mg - on_pan if start.what == "tared" else 0.0


def expectation(state: PrepState, act: Act) -> Expectation:
    """Give what the reading of an act should be."""
    of, limit_mg = balance(state), zero_limit_mg(state)
    capacity_mg = quantity(of.capacity, "mass").to("mg")
    if act.what == "check":
        return Expectation(
            quantity(of.check_mass, "mass").to("mg"),
            quantity(of.check_limit, "mass").to("mg") if of.check_limit else limit_mg,
        )
    if goes_on(of, act):
        return Expectation(shown_now_mg(state), 3 * limit_mg)
    if act.what == "zero" or (act.what == "tared" and of.shows != "gross"):
        return Expectation(0.0, limit_mg)
    if act.what == "return":
        return Expectation(empty_pan_mg(state), limit_mg)
    if act.what == "continuity":
        return Expectation(shown_now_mg(state), 3 * limit_mg)
    if act.what == "vessel" and (tared := state.basis["vessel"].get("tared")):
        off_mg = float(number(value(state.basis["settings"], "tare_set_mg")))
        return Expectation(quantity(tared, "mass").to("mg") + content_mg(state), off_mg)
    lowest = vessel_mg(state) + content_mg(state) - state.taken_mg() if act.what == "sealed" else 0.0
    return Expectation(None, None, lowest_mg=max(lowest * 0.98, readability_mg(of)), highest_mg=capacity_mg)


OF_ITS_ZERO = (": the empty pan must come back to its zero.", ": it must be back at its zero.")
"""How plans of before ended the act of a zero return; a vessel that was tared away leaves no zero behind."""


def told(state: PrepState, act: Act) -> str:
    """Give the text of a reading's act, with what the display should show as the vessel was tared."""
    text = act.text
    if act.what == "vessel" and content_mg(state) > 0:
        return f"{text.replace('the empty vessel', 'vessel')} What is in it stays in it."
    if act.what != "return":
        return text
    for words in OF_ITS_ZERO:
        text = text.replace(words, ".")
    of, expected = balance(state), expectation(state, act)
    assert expected.expected_mg is not None  # of an empty pan it is always known
    assert expected.limit_mg is not None
    scale, places = (1.0 if of.unit == "mg" else 1000.0), decimals(of)
    # A rest of rounding would stand there as -0.00.
    away = abs(expected.expected_mg) > expected.limit_mg
    should = expected.expected_mg / scale if away else 0.0
    why = ", since the vessel was tared away" if away else ""
    within = f"within {expected.limit_mg / scale:.{places}f} {of.unit}"
    return f"{text} The display should show {should:.{places}f} {of.unit} {within}{why}."


def goes_on(of: Balance, act: Act) -> bool:
    """Whether the display of a running sum is read before a content is added: it is not zeroed then."""
    return of.shows == "sum" and act.key == "zeroed"


def shown_now_mg(state: PrepState) -> float:
    """What the display should show with the vessel as it is on the pan, in mg."""
    start = base(state)
    if start is None:
        return 0.0
    return start.mass_mg + content_mg(state) - content_mg(state, before=start.entry)


def total_mg(state: PrepState, content: str, shown_mg: float) -> float:
    """How much of a content is in the vessel when the display shows `shown_mg`, in mg.

    Readings are cumulative since the base; what of this content was there before the base is added.
    """
    start = base(state)
    if start is None:
        return shown_mg
    others = (
        content_mg(state)
        - content_mg(state, before=start.entry)
        - (state.total_mg(content) - _total(state, content, start.entry))
    )
    return _total(state, content, start.entry) + shown_mg - start.mass_mg - others
