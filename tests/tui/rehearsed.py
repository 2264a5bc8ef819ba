"""A harmless powder at the small site, and rehearsals with it."""

from dataclasses import replace
from random import Random

from store.actions import planning
from store.model.prep import Plan
from store.record.record import Record
from tests import site
from tui.guide.player import Player

SALT = replace(site.PLAN, container="SC-1", rehearsal=True)


def harmless(record: Record, clock: site.TestClock) -> None:
    """Story: a bottle of table salt is in the registers, assessed and without a statement."""
    site.put(record, "substance", {
        "id": "NACL", "name": "sodium chloride", "cas": "7647-14-5", "formula": "NaCl",
        "density": "2.165 g/mL", "classification": ["not classified"],
    })  # fmt: skip
    site.put(record, "lot", {
        "id": "SC-L", "substance": "NACL", "assay": "99.5", "assay_u": "U 0.2 k 2", "basis": "as-is",
    })  # fmt: skip
    site.put(record, "container", {"id": "SC-1", "lot": "SC-L", "content": "50 g"})


def walk(
    record: Record, clock: site.TestClock, *, person: str = "op-1", plan: Plan = SALT, seed: int = 3
) -> str:
    """Plan and play one prep to its end."""
    prep = planning.write(site.acting(record, person), plan)
    guide = site.guide(record, prep, clock, person=person, seed=seed)
    Player(guide, time=clock.time, chance=Random(seed), show=lambda view: None).play()
    return prep
