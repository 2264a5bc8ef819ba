"""Dilution routes of this site: a source, a goal, vessels and a balance of the registers."""

from dataclasses import dataclass

from store.calc.routes import MOST_VESSELS, Design, Vessel, Wanted, design
from store.calc.weighing import minimum_weight_mg
from store.errors import BadField, BadInput, StoreError
from store.model.registers import Balance
from store.model.settings import value
from store.procedure.inputs import CONCENTRATIONS, balance_data
from store.queries import balances, choices, lots, registers
from store.record.record import Record
from store.units import Quantity, number, quantity

WATER_G_ML = 0.998
"""Of a dilute solution in water at 20 °C, where the lot gives none: it says what a vessel takes."""
NAMED = 4
"""So many containers are named where what was typed is none."""
ZEROED, SHARED = "zeroed before each", "one reading shared"
ZEROING = (ZEROED, SHARED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked for, as typed."""

    source: str
    """A container of a solution, or a concentration."""
    target: str
    amount: str
    vessels: str
    """Numbers of vessels or masses and volumes they take, parted by commas; `4 x 20 mL` for several."""
    balance: str
    wanted_percent: str = ""
    """Expanded uncertainty (k = 2) of the factor that is enough, in percent."""
    step_percent: str = ""
    """Share of each step for mixing and evaporation, standard, in percent."""
    zeroing: str = ZEROED
    least_fill: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Designed:
    """Every route, and what they rest on."""

    asked: Asked
    wanted: Wanted
    design: Design
    concentration: Quantity
    mass_fraction: float | None
    """Of the source, to say how much of the substance is drawn; None where only a volume is known."""
    density_g_ml: float
    left_mg: float | None


def as_planned(record: Record, found: Designed, number: int) -> dict[str, str]:
    """Give a designed route as the plan of a dilution asks for it: targets, amounts, vessels, what is kept.

    Vessels that are in no register stay open: they are still to be named.

    Raises
    ------
    BadField
        There is no such route, it cannot be made, or its source is a concentration and no container.
    """
    if not 1 <= number <= len(found.design.routes):
        raise BadField("route", f"there is no route {number}: choose 1 to {len(found.design.routes)}.")
    route = found.design.routes[number - 1]
    if not route.feasible:
        raise BadField("route", f"route {number} cannot be made: {route.why_not}.")
    if choices.solution(record, found.asked.source) is None:
        raise BadField("route", "a container of a solution is needed as its source: go back and name one.")
    strength, targets = float(found.concentration.number), []
    for factor in route.factors:
        strength /= factor
        targets.append(f"{strength:.6g} {found.concentration.unit}")
    targets[-1] = found.asked.target
    named = all(registers.is_in_use(record, "vessel", name) for name in route.vessels)
    return {
        "sources": found.asked.source,
        "targets": ", ".join(targets),
        "amount": ", ".join(f"{mass / 1000:.4g} g" for mass in route.totals_mg),
        "vessels": ", ".join(route.vessels) if named else "",
        "balance": found.asked.balance,
        "enclosure": str(registers.body(record, "balance", found.asked.balance).get("enclosure", "")),
    }


def designed(record: Record, asked: Asked) -> Designed:
    """Design the routes.

    Raises
    ------
    BadField
        A field that cannot be used, by name.
    NotFound
        Balance or vessel is in no register.
    OutOfRange
        There is nothing to dilute.
    """
    concentration, density, left_mg = _source(record, asked.source)
    goal = _goal(asked.target, concentration)
    of = Balance.from_body(balances.in_force(record, registers.in_use(record, "balance", asked.balance)))
    data, settings = balance_data(of), registers.settings(record)
    sd_mg, _ = data.repeatability_mg()
    minimum = minimum_weight_mg(
        readability_mg=data.readability_mg,
        sd_mg=data.sd_mg or 0.0,
        limit_percent=float(number(value(settings, "minimum_weight_limit"))),
        factor=float(number(value(settings, "minimum_weight_factor"))),
    )
    wanted_percent = _percent("wanted_percent", asked.wanted_percent)
    w = Wanted(
        factor=round(concentration.to(concentration.unit) / goal.to(concentration.unit), 12),
        amount_mg=_mass("amount", asked.amount, density),
        vessels=vessels(record, asked.vessels, density),
        sd_mg=sd_mg,
        minimum_mg=minimum,
        per_step=_percent("step_percent", asked.step_percent) / 100.0,
        shared_reading=asked.zeroing == SHARED,
        u_wanted=wanted_percent / 200.0 if wanted_percent else float("inf"),
        source_mg=left_mg if left_mg is not None and left_mg > 0 else float("inf"),
        least_mg=_mass("least_fill", asked.least_fill, density) if asked.least_fill else 0.0,
    )
    return Designed(
        asked=asked, wanted=w, design=design(w), concentration=concentration,
        mass_fraction=_mass_fraction(concentration, density), density_g_ml=density, left_mg=left_mg,
    )  # fmt: skip


def check(record: Record, name: str, text: str, *, source: str = "") -> None:
    """Refuse one field of what is asked, as far as it can be known where it is typed.

    Parameters
    ----------
    source
        What stands in the field of the source, for the target to be of its kind; empty while nothing does.

    Raises
    ------
    BadField
        With what to type instead.
    """
    match name:
        case "source":
            _source(record, text)
        case "target" if source:
            _goal(text, _source(record, source)[0])
        case "target":
            _quantity(name, text, *CONCENTRATIONS)
        case "amount" | "least_fill":
            _mass(name, text, WATER_G_ML)
        case "wanted_percent" | "step_percent":
            _percent(name, text)
        case "vessels":
            vessels(record, text)


def _goal(text: str, concentration: Quantity) -> Quantity:
    goal = _quantity("target", text, *CONCENTRATIONS)
    if goal.kind != concentration.kind:
        raise BadField("target", f"{goal} and {concentration} are of two kinds: use units of one kind.")
    return goal


def _source(record: Record, text: str) -> tuple[Quantity, float, float | None]:
    text = text.strip()
    there = choices.solution(record, text) is not None
    if text and text[0].isalpha() and not there:
        of_lot = choices.solutions_of_lot(record, text)
        near = [id for id, _ in of_lot or choices.solutions(record, (text,), limit=NAMED)]
        raise BadField(
            "source",
            f"no container {text!r} holds a solution: write "
            + (" or ".join(near) if near else "another one, or a concentration such as 1 mg/g")
            + ".",
        )
    if there:
        container = registers.in_use(record, "container", text)
        lot = registers.in_use(record, "lot", str(container["lot"]))
        density = quantity(lot["density"], "density").to("g/mL") if lot.get("density") else WATER_G_ML
        concentration = quantity(str(lot["concentration"]), *CONCENTRATIONS)
        return concentration, density, lots.stock(record, text).left_mg
    return _quantity("source", text, *CONCENTRATIONS), WATER_G_ML, None


def _quantity(field: str, text: str, *kinds: str) -> Quantity:
    try:
        return quantity(text, *kinds)
    except BadInput as error:
        raise BadField(field, str(error)) from error


def _mass(field: str, text: str, density_g_ml: float) -> float:
    found = _quantity(field, text, "mass", "volume")
    mass_mg = found.to("mg") if found.kind == "mass" else 1000.0 * found.to("mL") * density_g_ml
    if mass_mg <= 0:
        raise BadField(field, "write more than nothing.")
    return mass_mg


def _percent(field: str, text: str) -> float:
    if not text.strip():
        return 0.0
    try:
        found = float(number(text))
    except StoreError as error:
        raise BadField(field, str(error)) from error
    if not 0 <= found <= 100:
        raise BadField(field, "write a percentage from 0 to 100.")
    return found


def _mass_fraction(of: Quantity, density_g_ml: float) -> float | None:
    if of.kind == "mass_fraction":
        return of.to("g/g")
    if of.kind == "mass_concentration":
        return of.to("g/mL") / density_g_ml
    return None


def vessels(record: Record, text: str, density_g_ml: float = WATER_G_ML) -> tuple[Vessel, ...]:
    """Read the vessels at hand: numbers of the register, or what others take, `V-17, 2 x 50 mL, 5 g`.

    Raises
    ------
    BadField
        One of them is neither; or there are none, or more than ten.
    """
    out: list[Vessel] = []
    for part in (p.strip() for p in text.replace(";", ",").split(",") if p.strip()):
        times, sign, rest = part.partition(" x ")
        many, what = (int(times), rest.strip()) if sign and times.strip().isdecimal() else (1, part)
        if not 1 <= many <= MOST_VESSELS:
            raise BadField("vessels", f"{many} x: write from 1 to {MOST_VESSELS}.")
        known = registers.found(record, "vessel", what)
        if known is not None and known.retired:
            known = None
        mass_mg = _mass("vessels", str(known.row["capacity"]) if known is not None else what, density_g_ml)
        if known is not None and any(v.name == what for v in out):
            raise BadField("vessels", f"{what} stands there twice: it is one vessel.")
        first = len(out) + 1
        out += [Vessel(what if known is not None else f"{what} ({first + n})", mass_mg) for n in range(many)]
    if not 1 <= len(out) <= MOST_VESSELS:
        raise BadField("vessels", f"{len(out)} vessels: name from 1 to {MOST_VESSELS}.")
    return tuple(out)
