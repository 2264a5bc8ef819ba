"""Register rows of the site itself: gloves, vessels, people, local rules, settings."""

from dataclasses import dataclass
from datetime import date

from store.errors import BadInput, StoreError
from store.model.columns import Row, col
from store.model.words import WORN, Role
from store.units import number


@dataclass(frozen=True, slots=True, kw_only=True)
class Glove(Row):
    """One layer of gloves as worn in an enclosure, and how long a solvent takes through it."""

    id: str = col("number of the gloves", "id")
    material: str = col("material")
    thickness_mm: str = col("thickness in mm", "number", default="")
    worn: str = col("put on anew each day, or fixed to the port", "choice", choices=WORN, default="put on")
    enclosure: str = col("worn in", "ref:enclosure")
    fitted_on: str = col("fitted on", "date", default="")
    breakthrough: tuple[str, ...] = col(
        "minutes until a solvent is through, such as `ACETONE: 10`", "list", default=()
    )
    source: str = col("where these times come from", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel(Row):
    """What is weighed into."""

    id: str = col("number on the vessel", "id")
    name: str = col("what it is")
    capacity: str = col("fill it takes", "volume")
    mass: str = col("about how heavy it is empty", "mass", default="")
    tare_set: str = col("set of vessels weighed empty together", default="")
    tared: str = col("its mass in that set, as the balance showed it", "mass", default="")
    tared_on: str = col("weighed empty on", "date", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Person(Row):
    """Somebody who works with the record; the id is never used again."""

    id: str = col("short number, typed to sign in", "id")
    name: str = col("name or initials, as the site chooses")
    number: str = col("digits that sign in at a keypad", default="")
    roles: tuple[str, ...] = col("roles", "roles", choices=tuple(Role), default=("operator",))
    employer: str = col("employer", default="")
    joined: str = col("joined on", "date", default="")
    left: str = col("left on", "date", default="")
    trained_for: tuple[str, ...] = col("families or substances trained for; `all`", "list", default=())
    trained_until: str = col("training holds until", "date", default="")
    training: tuple[str, ...] = col(
        "training by substance, family or step, such as `CMR 1: 2026-03-02 to 2027-03-01`", "list", default=()
    )
    fit_test: str = col("glove size, or respirator and size, that was fit tested", default="")
    fit_until: str = col("fit test holds until", "date", default="")
    cleared_until: str = col("cleared for this work until; no reason, no diagnosis", "date", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalRule(Row):
    """A sentence of the site's own, shown with the cautions."""

    id: str = col("number of the rule", "id")
    text: str = col("the rule, in a sentence or two")
    since: str = col("in force since", "date")
    steps: tuple[str, ...] = col("steps it is for; empty for all", "list", default=())
    substances: tuple[str, ...] = col("substances it is for; empty for all", "list", default=())
    families: tuple[str, ...] = col("hazard families it is for; empty for all", "list", default=())
    second_person: bool = col("a second person with their PIN before each such step", "yesno", default=False)
    checklist: tuple[str, ...] = col(
        "told before each such step, such as `pressure shown [Pa]`, `lid bolted` or "
        "`cleaning liquid: water / 2-propanol 70 %`",
        "list",
        default=(),
    )
    mass_limit: str = col("most of one of its substances in an enclosure", "mass", default="")
    open_minutes: str = col("most minutes open in a shift for one person", "number", default="")

    @property
    def demands(self) -> tuple[str, ...]:
        """What it demands besides being read, in words."""
        out = ["a second person with their PIN"] if self.second_person else []
        out += [f"told first: {', '.join(self.checklist)}"] if self.checklist else []
        out += [f"at most {self.mass_limit} of one substance in the enclosure"] if self.mass_limit else []
        out += [f"at most {self.open_minutes} min open in a shift"] if self.open_minutes else []
        return tuple(out)

    @property
    def sentence(self) -> str:
        """The rule as it stands on a caution page."""
        return f"{self.text} Demands {'; '.join(self.demands)}." if self.demands else self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting(Row):
    """One setting of the site."""

    id: str = col("setting", "id")
    value: str = col("value")


def dated(text: str) -> tuple[str, str, str]:
    """Read what somebody is trained for, from which day and until which.

    >>> dated("CMR 1: 2026-03-02 to 2027-03-01")
    ('CMR 1', '2026-03-02', '2027-03-01')

    Raises
    ------
    BadInput
        It is not written so, or ends before it begins.
    """
    what, sign, days = text.partition(":")
    since, to, until = days.partition(" to ")
    try:
        ends = date.fromisoformat(since.strip()), date.fromisoformat(until.strip())
    except ValueError:
        ends = None
    if not (what.strip() and sign and to) or ends is None:
        raise BadInput(f"{text!r}: write what for, a colon and two days, `CMR 1: 2026-03-02 to 2027-03-01`.")
    if ends[1] < ends[0]:
        raise BadInput(f"{text!r} ends before it begins: check both days.")
    return what.strip(), ends[0].isoformat(), ends[1].isoformat()


def minutes_through(text: str) -> tuple[str, float]:
    """Read a solvent and the minutes it takes through a glove.

    >>> minutes_through("ACETONE: 10")
    ('ACETONE', 10.0)

    Raises
    ------
    BadInput
        It is not written so.
    """
    solvent, sign, minutes = text.partition(":")
    try:
        value = float(number(minutes.strip().removesuffix("min").strip()))
    except StoreError:
        value = 0.0
    if not (sign and solvent.strip()) or not 0 < value <= 100_000:
        raise BadInput(f"{text!r}: write a solvent, a colon and minutes, such as `ACETONE: 10`.")
    return solvent.strip(), value
