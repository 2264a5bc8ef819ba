"""The sample site: a throw-away record filled from the samples, with some preps that were really run."""

import tomllib
from collections.abc import Callable
from datetime import datetime, timedelta
from importlib.resources import as_file, files
from pathlib import Path
from random import Random

from store.actions import imports, people, planning, retold
from store.actions.acting import Acting
from store.actions.retold import Told
from store.errors import FileRefused
from store.exchange.tables import read_rows
from store.model.prep import Plan
from store.model.registers import REGISTERS
from store.queries import registers as ask
from store.record.record import Record
from tui.guide.connected import guide_of
from tui.guide.labels import label_of
from tui.guide.player import OwnTime, Player
from tui.guide.view import StepView

TERMINAL = "7F3A"
SEED = 20260302
DAYS = 358
"""How far back the record of the demo begins."""


class DemoClock:
    """A clock that can be set back for what happened before, and then runs with the real one."""

    def __init__(self, real: Callable[[], datetime]) -> None:
        self._real = real
        self.fixed: datetime | None = None

    def __call__(self) -> datetime:
        return self._real() if self.fixed is None else self.fixed


def samples() -> Path:
    """Give the folder of the samples: in the installed package, or in the checkout."""
    packed = files("tui").joinpath("_samples")
    with as_file(packed) as folder:
        if folder.is_dir():
            return folder
    beside = Path(__file__).parents[2] / "samples"
    if not beside.is_dir():
        raise FileRefused("The samples are missing from this installation: install Tarebook again.")
    return beside


def pins() -> dict[str, str]:
    """Give the PINs of the sample people."""
    with (samples() / "pins.toml").open("rb") as file:
        return {str(k): str(v) for k, v in tomllib.load(file)["pin"].items()}


def hint() -> tuple[str, ...]:
    """Give the lines that the demo shows above its first screen: what it is, and what to press first."""
    people = "   ".join(f"{id} PIN {pin}" for id, pin in pins().items())
    return (
        "Sample site, simulated balance, throw-away record: nothing here is real.",
        people,
        "First: op-1 Enter 1111 Enter, then n for a new prep.",
    )


def begin(path: Path, *, now: Callable[[], datetime]) -> Record:
    """Make the record of the sample site, its registers filled through the same door as any import."""
    record = Record.create(path, now=now, terminal=TERMINAL, site="Sample freshwater laboratory")
    codes = pins()
    keeper = "re-1"
    acting = people.first_keeper(record, id=keeper, name="N. K.", pin=codes[keeper])
    for register in REGISTERS:
        file = samples() / f"{register}.toml"
        imports.take(acting, register, read_rows(file, register), file.name)
    for id, pin in codes.items():
        people.set_pin(acting, id, pin)
    return record


def plans() -> tuple[tuple[str, int, Plan], ...]:
    """Give the preps of the past: who, how many days ago, what."""
    with (samples() / "past.toml").open("rb") as file:
        rows = tomllib.load(file)["prep"]
    return tuple((row.pop("person"), int(row.pop("days_ago")), Plan.from_body(row)) for row in rows)


def sign_in(record: Record, person: str) -> Acting:
    """Sign a sample person in with the printed PIN."""
    return people.sign_in(record, person, pins()[person])


def run_past(
    record: Record,
    clock: DemoClock,
    *,
    real: Callable[[], datetime],
    told: Callable[[int, int], None] = lambda number, many: None,
) -> None:
    """Really run the preps of the past, each on its own day, at its own pace; `told` hears how far it is.

    After the first of them the year of those that followed it is told.
    """
    past = sorted(plans(), key=lambda row: -row[1])
    for number, (person, days, plan) in enumerate(past):
        told(number + 1, len(past))
        start = real().replace(hour=9, minute=5 * number % 60, second=0, microsecond=0) - timedelta(days=days)
        prep = play(record, clock, person, plan, start=start, seed=SEED + 10 * number, hand=SEED + number)
        if number == 0:
            tell_year(record, clock, prep, real=real)
    clock.fixed = None


def play(
    record: Record,
    clock: DemoClock,
    person: str,
    plan: Plan,
    *,
    start: datetime,
    seed: int,
    hand: int,
    show: Callable[[StepView], None] | None = None,
) -> str:
    """Run one whole prep from a moment on, balance and hand seeded apart; give its number."""
    time, clock.fixed = OwnTime(), start
    acting = sign_in(record, person)
    prep = planning.write(acting, plan)
    guide = guide_of(acting, prep, monotonic=time, chance=Random(seed), seed=seed)
    player = Player(guide, time=time, chance=Random(hand), show=show)
    while not guide.finished:
        clock.fixed = start + timedelta(seconds=time())
        player.turn()
    if show is not None:
        show(guide.view())
    people.sign_out(acting)
    return prep


def history(real: Callable[[], datetime]) -> tuple[Told, ...]:
    """Give the preps that followed the first of the past, told and not run: each with its readings."""
    with (samples() / "history.toml").open("rb") as file:
        found = tomllib.load(file)
    rows = sorted(found["prep"], key=lambda row: -int(row["days_ago"]))
    return tuple(
        Told(
            start=real().replace(hour=9, minute=7 * n % 60, second=0, microsecond=0)
            - timedelta(days=int(row["days_ago"])),
            person=row["person"],
            pace=float(row["pace"]),
            solid_mg=row["solid_mg"],
            solvent_mg=row["solvent_mg"],
            reviewer=found["reviewer"] if row is not rows[-1] else "",
        )
        for n, row in enumerate(rows)
    )


def tell_year(record: Record, clock: DemoClock, model: str, *, real: Callable[[], datetime]) -> None:
    """Tell the year of the stock solution after the prep of it that was run."""

    def at(when: datetime) -> None:
        clock.fixed = when

    retold.bring_in(record, model, history(real), at=at, label=label_of)


def play_whole(
    record: Record, clock: DemoClock, *, real: Callable[[], datetime], show: Callable[[StepView], None]
) -> str:
    """Run one whole prep, showing every view; give its number."""
    person, _, plan = plans()[0]
    return play(record, clock, person, plan, start=real(), seed=SEED, hand=SEED, show=show)


def first_of(record: Record, register: str) -> str:
    """Give the first id of a register."""
    return ask.rows(record, register)[0].id
