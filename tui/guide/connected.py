"""The guide of a prep with the balance that its plan names."""

from collections.abc import Callable
from dataclasses import replace
from random import Random

from store.actions.acting import Acting
from store.model.registers import Balance
from store.model.words import Role
from store.queries import registers
from store.record.record import Record
from tui.balance.connect import source
from tui.balance.rig import Rig
from tui.balance.simulated import Simulated
from tui.guide.guide import Guide
from tui.guide.labels import label_of


def reached(record: Record, planned: Balance) -> Balance:
    """Give a balance as planned, reached as the register says now: a cable may have moved since."""
    now = registers.body(record, "balance", planned.id)
    how = ("source", "port", "stable_mark", "unstable_mark")
    return replace(planned, **{name: now[name] for name in how if name in now})


def guide_of(
    acting: Acting, prep: str, *, monotonic: Callable[[], float], chance: Random, seed: int = 0
) -> Guide:
    """Give the guide of a prep for a person; a simulated balance gets a hand that doses.

    Raises
    ------
    NotAllowed
        No operator: others read a prep on its page.
    """
    acting.must(Role.OPERATOR)
    row = reached(acting.record, Balance.from_body(acting.record.prep_state(prep).basis["balance"]))
    link = source(row, seed=seed)
    rig = Rig(link, chance) if isinstance(link, Simulated) else None
    return Guide(acting, prep, monotonic=monotonic, chance=chance, balance=link, bench=rig, label=label_of)
