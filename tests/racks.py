"""A rack of vials at the small site, and a prep of portions into it."""

from random import Random

from store.actions import planning, racks
from store.model.prep import Plan
from store.procedure.recipes import rack
from store.record.record import Record
from tests import site
from tui.guide.player import Player


def vials(record: Record, many: int = 30) -> None:
    """Put a tare set of vials into the register."""
    for n in range(1, many + 1):
        row = {
            "id": f"R-{n:02}", "name": "vial 20 mL", "capacity": "20 mL", "mass": f"11.{500 + n} g",
            "tare_set": "T-1", "tared": f"11.{500 + n} g", "tared_on": "2026-03-01",
        }  # fmt: skip
        site.put(record, "vessel", row)


def plan(
    record: Record, many: int = 30, *, wet: bool = False, one_by_one: bool = False, amount: str = ""
) -> Plan:
    """Give a plan: 10 mg of powder into each, or 10 g of 1 mg/g in each, or another amount."""
    return racks.plan(
        record,
        container="C-1",
        vessels_text=f"R-01 to R-{many:02}",
        amount=amount or ("10 g" if wet else "10 mg"),
        target="1 mg/g" if wet else "",
        solvent_container="WB-1" if wet else "",
        balance="B-1",
        enclosure="E-1",
        recipe=rack.ONE_BY_ONE if one_by_one else rack.ALL_AT_ONCE,
    )


def planned(record: Record, many: int = 30, *, wet: bool = False, one_by_one: bool = False) -> str:
    """Enter the vials, write the plan, and give the number of the prep."""
    vials(record, many)
    return planning.write(site.acting(record), plan(record, many, wet=wet, one_by_one=one_by_one))


def player(record: Record, prep: str, clock: site.TestClock) -> Player:
    """Give somebody who plays it, from where it stands."""
    guide = site.guide(record, prep, clock)
    return Player(guide, time=clock.time, chance=Random(3), show=lambda view: None)


def of_ten(record: Record, clock: site.TestClock) -> None:
    """Story: a rack of ten is closed."""
    player(record, planned(record, 10), clock).play()


def of_thirty(record: Record, clock: site.TestClock) -> None:
    """Story: a rack of thirty is closed."""
    player(record, planned(record), clock).play()
