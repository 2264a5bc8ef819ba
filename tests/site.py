"""A small site for tests: two hazards, water, one balance, one isolator, four people. All invented."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

from store import events as ev
from store.actions import people, planning
from store.actions.acting import Acting
from store.model.prep import Plan
from store.model.registers import Balance
from store.procedure.state import PrepState
from store.record import people as pins
from store.record.record import Record
from tui.balance.rig import Rig
from tui.balance.simulated import Simulated
from tui.guide.guide import Guide
from tui.guide.player import OwnTime

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
PINS = {"ke-1": "9000", "op-1": "1111", "op-2": "2222", "so-1": "3333", "re-1": "4444"}
LOW_N = 2**4
"""scrypt cost of PINs that guard nothing."""
PLAN = Plan(
    recipe="solution, solid first", container="C-1", solvent_container="WB-1", target="1.000 mg/g",
    amount="10 g", vessel="V-17", balance="B-1", enclosure="E-1",
)  # fmt: skip

ROWS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("substance", {
        "id": "K2CR2O7", "name": "potassium dichromate", "cas": "7778-50-9", "formula": "K2Cr2O7",
        "density": "2.68 g/mL", "waste_stream": "chromium, aqueous",
        "classification": ["Carc. 1B H350", "Muta. 1B H340", "Resp. Sens. 1 H334", "Ox. Sol. 2 H272"],
    }),
    ("substance", {"id": "WATER", "name": "water", "form": "liquid", "classification": ["not classified"]}),
    ("lot", {"id": "KD-2", "substance": "K2CR2O7", "assay": "99.9", "assay_u": "U 0.1 k 2", "basis": "as-is",
             "expiry": "2027-12-31"}),
    ("lot", {"id": "W-3", "substance": "WATER"}),
    ("container", {"id": "C-1", "lot": "KD-2", "content": "5 g"}),
    ("container", {"id": "WB-1", "lot": "W-3", "content": "1 kg"}),
    ("enclosure", {"id": "E-1", "name": "isolator 1", "kind": "isolator", "pressure_low": "-120",
                   "pressure_high": "-40", "gloves": "nitrile, double", "cleaning": ["water with detergent"],
                   "shift_minutes": "60"}),
    ("balance", {"id": "B-1", "name": "semi-micro", "source": "simulated", "readability": "0.01 mg",
                 "capacity": "80 g", "repeatability": "0.0045 mg", "repeatability_n": "10",
                 "linearity": "0.05 mg", "check_mass": "20 g", "check_limit": "0.1 mg", "enclosure": "E-1"}),
    ("vessel", {"id": "V-17", "name": "vial 20 mL", "capacity": "20 mL", "mass": "12.03452 g"}),
    ("person", {"id": "op-1", "name": "A. B.", "roles": ["operator"], "trained_for": ["all"]}),
    ("person", {"id": "op-2", "name": "C. D.", "roles": ["operator"], "trained_for": ["all"]}),
    ("person", {"id": "so-1", "name": "E. F.", "roles": ["safety officer"]}),
    ("person", {"id": "re-1", "name": "G. H.", "roles": ["reviewer"]}),
)  # fmt: skip


class TestClock:
    """A clock that moves when it is told to, together with a monotonic one."""

    __test__ = False

    def __init__(self) -> None:
        self.time = OwnTime()

    def __call__(self) -> datetime:
        return START + timedelta(seconds=self.time())


def put(record: Record, register: str, row: dict[str, Any], *, by: str = "ke-1") -> None:
    """Enter a row without the checks of the register's own verb."""
    record.append(
        ev.Registered(register=register, id=row["id"], row=row), person=by, subject=f"{register}:{row['id']}"
    )


def begin(path: Path, clock: Callable[[], datetime]) -> Record:
    """Make the record of the small site."""
    record = Record.create(path, now=clock, terminal="7F3A", site="test")
    people.first_keeper(record, id="ke-1", name="K. P.", pin=PINS["ke-1"])
    for register, row in ROWS:
        put(record, register, row)
    for id in ("op-1", "op-2", "so-1", "re-1"):
        pins.set_pin(record, id, PINS[id], by="ke-1", n=LOW_N)
    return record


def acting(record: Record, person: str = "op-1") -> Acting:
    """Sign somebody in."""
    return people.sign_in(record, person, PINS[person])


def planned(record: Record, plan: Plan = PLAN) -> str:
    """Plan a prep as op-1."""
    return planning.write(acting(record), plan)


def label(record: Record, state: PrepState) -> str:
    """Give a label that a test can recognise."""
    return f"LABEL {state.prep}"


def guide(
    record: Record, prep: str, clock: TestClock, *, person: str = "op-1", live: bool = True, seed: int = 7
) -> Guide:
    """Give the guide of a prep, on a simulated balance or one that is typed."""
    row = Balance.from_body(record.prep_state(prep).basis["balance"])
    balance = Simulated.of(row, seed=seed) if live else None
    rig = Rig(balance, Random(seed)) if balance is not None else None
    return Guide(
        acting(record, person), prep, monotonic=clock.time, chance=Random(seed), balance=balance, bench=rig,
        label=label,
    )  # fmt: skip
