"""What a plan comes to, in words: what the container holds, the masses, what stands against it."""

from collections.abc import Iterable

from store.hazards import families, snapshot
from store.model.registers import Substance
from store.queries import lots, preps, registers, unusable
from store.units import weighed
from tui.screens.desk import Desk
from tui.screens.frame import wrapped


def lines(words: Iterable[str], width: int) -> tuple[str, ...]:
    """Lay the words out."""
    return wrapped(words, width, indent="  ")


def held(desk: Desk, container: str) -> tuple[str, ...]:
    """Say what a container holds, how hazardous it is, and how its substance was prepared last."""
    if not container:
        return ("Nothing is chosen yet.",)
    record = desk.record
    stock = lots.stock(record, container)
    lot = registers.body(record, "lot", stock.lot)
    of = Substance.from_body(registers.body(record, "substance", stock.substance))
    assay = f"assay {lot['assay'].rstrip(' %')} %" if lot.get("assay") else "no assay"
    assay += f", {lot['assay_u']}" if lot.get("assay_u") else ""
    left = f", about {weighed(stock.left_mg)} left" if stock.left_mg is not None else ""
    stands = unusable.of(record, container)
    last_day = f", use until {stock.last_day}" if stock.last_day else ""
    out = [f"{of.name}, lot {stock.lot}", *(f"✗ {', '.join(stands)}" for _ in stands[:1])]
    out += [f"{assay}{left}{last_day}", *drawn(stock), hazards(of)]
    same = [p for p in preps.past(record, substance=of.id, limit=20) if p.substance == of.id]
    if same:
        out.append(f"last: {same[0].prep}, {same[0].target}, {same[0].amount}, {same[0].planned_day}")
    return tuple(out)


def formula(desk: Desk, container: str) -> str:
    """Give the formula that the assay of a container's lot refers to; empty where none is known."""
    lot = registers.body(desk.record, "lot", str(registers.body(desk.record, "container", container)["lot"]))
    row = registers.body(desk.record, "substance", str(lot["substance"])) if lot.get("substance") else {}
    return str(lot.get("assay_formula") or row.get("formula", ""))


def drawn(stock: lots.Stock) -> tuple[str, ...]:
    """Say what was drawn from a container, in how many openings, and what of it was wasted."""
    if not stock.used_mg:
        return ()
    wasted = f", {weighed(stock.wasted_mg)} of it wasted" if stock.wasted_mg else ""
    times = "1 opening" if stock.times_opened == 1 else f"{stock.times_opened} openings"
    return (f"drawn {weighed(stock.used_mg)} in {times}{wasted}",)


def hazards(of: Substance) -> str:
    """Say how a substance is classified, signal word first; without data that nothing is known."""
    taken = snapshot.take(
        of.classification,
        skin_notation=of.skin_notation,
        hazardous_drug=of.hazardous_drug,
        peroxide_former=of.peroxide_former,
        edition=of.edition,
    )
    if taken["no_data"]:
        return "NO HAZARD DATA: the strictest cautions are shown"
    words = "; ".join(map(families.short, taken["families"]))
    return f"{str(taken['signal_word'] or '').upper()} {words}".strip() or "assessed, carries no statement"
