"""From a few words to a plan of several vessels: the targets by list or spacing, a vessel for each."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from store.errors import BadField, BadInput
from store.model.prep import Part, Plan
from store.procedure.inputs import CONCENTRATIONS
from store.units import figure, number, quantity

DILUTION, SERIES = "dilution", "series"
KINDS = (DILUTION, SERIES)
ORDERS = ("aliquot first", "solvent first")
KEEP_ALL, KEEP_LAST = "all kept", "only the last kept"
MOST_STEPS, MOST_LEVELS = 6, 30


def targets(text: str) -> tuple[str, ...]:
    """Give concentrations from a list, or from both ends and their number.

    Raises
    ------
    BadInput
        It is neither; the sentence shows both ways.

    Examples
    --------
    >>> targets("10 ug/g, 0.1 ug/g")
    ('10 ug/g', '0.1 ug/g')
    >>> targets("1, 2, 5 mg/L")
    ('1 mg/L', '2 mg/L', '5 mg/L')
    >>> targets("1 to 5 ug/g, 5 equal")
    ('1 ug/g', '2 ug/g', '3 ug/g', '4 ug/g', '5 ug/g')
    >>> targets("0.1 to 10 ug/g, 3 geometric")
    ('0.1 ug/g', '1 ug/g', '10 ug/g')
    """
    pieces = [p.strip() for p in text.split(",") if p.strip()]
    if not pieces:
        raise BadInput("Write the concentrations: 10 ug/g, 0.1 ug/g; or 1 to 5 ug/g, 5 equal.")
    if " to " in pieces[0]:
        return _spaced(pieces)
    unit = next((p.split(maxsplit=1)[1] for p in reversed(pieces) if " " in p), "")
    found = tuple(p if " " in p else f"{p} {unit}".strip() for p in pieces)
    for one in found:
        quantity(one, *CONCENTRATIONS)
    return found


def _spaced(pieces: Sequence[str]) -> tuple[str, ...]:
    words = pieces[1].split() if len(pieces) == 2 else []
    if len(words) != 2 or not words[0].isdigit() or words[1] not in ("equal", "geometric"):
        raise BadInput(
            "Write how many, and how they are spaced: 1 to 5 ug/g, 5 equal; or 0.1 to 10 ug/g, 3 geometric."
        )
    low, _, high = pieces[0].partition(" to ")
    last = quantity(high.strip(), *CONCENTRATIONS)
    first = quantity(low.strip() if " " in low.strip() else f"{low.strip()} {last.unit}", *CONCENTRATIONS)
    a, b, many = first.to(last.unit), float(last.number), int(words[0])
    if not 2 <= many <= MOST_LEVELS:
        raise BadInput(f"{many} levels: write from 2 to {MOST_LEVELS}.")
    if words[1] == "equal":
        values = [a + (b - a) * n / (many - 1) for n in range(many)]
    else:
        values = [a * (b / a) ** (n / (many - 1)) for n in range(many)]
    return tuple(f"{figure(v, 6)} {last.unit}" for v in values)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is wanted, as typed."""

    kind: str
    order: str
    sources: str
    """Containers of solutions, parted by commas; of several, the levels of a series take turns."""
    targets: str
    amount: str
    """Of each vessel, or one amount for each, parted by commas."""
    vessels: str
    solvent_container: str
    balance: str
    enclosure: str
    blanks: str = "0"
    keep: str = KEEP_ALL
    tolerance_percent: str = "5"
    rehearsal: bool = False


def plan(wish: Wish) -> Plan:
    """Give the plan of a wish: each step of a dilution from the one before, each level from a stock.

    Raises
    ------
    BadField
        With the field that does not fit, and what to type.
    """
    wanted = _levels(wish)
    blanks = int(number(wish.blanks or "0"))
    if not 0 <= blanks <= 9 or (blanks and wish.kind == DILUTION):
        raise BadField("blanks", "a series has from 0 to 9 blanks, a dilution none.")
    sources = _list(wish.sources)
    if not sources or (len(sources) > 1 and wish.kind == DILUTION):
        raise BadField("sources", "name the container of the solution; only a series takes several.")
    vessels = _list(wish.vessels)
    many = len(wanted) + blanks
    if len(vessels) < many:
        raise BadField("vessels", f"{many} vessels are needed, {len(vessels)} are named: name {many}.")
    amounts = _list(wish.amount)
    if len(amounts) not in (1, many):
        raise BadField("amount", f"write one amount, or {many}: one for each vessel.")
    each = amounts * many if len(amounts) == 1 else amounts
    made = []
    for n in range(many):
        blank = n >= len(wanted)
        follows = wish.kind == DILUTION and n > 0
        part = Part(
            key=str(n + 1),
            vessel=vessels[n],
            target="" if blank else wanted[n],
            amount=each[n],
            container="" if blank or follows else sources[n % len(sources)],
            source=str(n) if follows else "",
            solvent_container=wish.solvent_container,
            content="aliquot",
            keep=wish.kind == SERIES or wish.keep != KEEP_LAST or n == many - 1,
            name=f"blank {n - len(wanted) + 1}" if blank else "",
        )
        made.append(part)
    last = made[len(wanted) - 1]
    # A blank is stated in the unit of the levels.
    parts = tuple(p if p.target else replace(p, target=last.target) for p in made)
    return Plan(
        recipe=f"{wish.kind}, {wish.order}",
        container=sources[0],
        solvent_container=wish.solvent_container,
        target=last.target,
        amount=last.amount,
        vessel=last.vessel,
        balance=wish.balance,
        enclosure=wish.enclosure,
        tolerance_percent=wish.tolerance_percent,
        rehearsal=wish.rehearsal,
        parts=parts,
    )


def wish_of(of: Plan) -> Wish:
    """Give what would be typed for a plan of this kind, so that it can be planned again."""
    kind, _, order = of.recipe.partition(", ")
    levels = [p for p in of.parts if not p.is_blank]
    amounts = [p.amount for p in of.parts]
    return Wish(
        kind=kind,
        order=order,
        sources=", ".join(dict.fromkeys(p.container for p in levels if p.container)),
        targets=", ".join(p.target for p in levels),
        amount=amounts[0] if len(set(amounts)) == 1 else ", ".join(amounts),
        vessels=", ".join(p.vessel for p in of.parts),
        solvent_container=of.solvent_container,
        balance=of.balance,
        enclosure=of.enclosure,
        blanks=str(len(of.parts) - len(levels)),
        keep=KEEP_ALL if all(p.keep for p in of.parts) else KEEP_LAST,
        tolerance_percent=of.tolerance_percent,
    )


def _levels(wish: Wish) -> tuple[str, ...]:
    if wish.kind not in KINDS or wish.order not in ORDERS:
        raise BadField("kind", f"write one of {', '.join(KINDS)}, then {' or '.join(ORDERS)}.")
    try:
        wanted = targets(wish.targets)
    except BadInput as error:
        raise BadField("targets", str(error)) from error
    most = MOST_STEPS if wish.kind == DILUTION else MOST_LEVELS
    if len(wanted) > most:
        raise BadField("targets", f"a {wish.kind} has {most} of them at the most, not {len(wanted)}.")
    return wanted


def _list(text: str) -> list[str]:
    return [piece.strip() for piece in text.split(",") if piece.strip()]
