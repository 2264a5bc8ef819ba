"""The first page of every screen, and every command, on a large record: what its questions take together.

`pytest -m bench -s tests/bench/test_bench_pages.py`, by hand, on the laboratory of `test_bench_lab` and with
its variables. A prep's page stands among the questions: these plans name no rows that its screen shows.
"""

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest
from click.testing import CliRunner
from textual.screen import Screen

from store.actions.acting import Acting
from store.record.asking import Asking, Row
from store.record.record import Record
from tests import site
from tests.bench import lab
from tests.bench.questions import LONGEST_S
from tests.bench.test_bench_lab import path as path
from tests.tui.desks import DeskApp
from tui.__main__ import main
from tui.screens.balance_health import BalanceHealthScreen
from tui.screens.bench import BenchScreen
from tui.screens.beside import BesideScreen
from tui.screens.chart import ChartScreen
from tui.screens.desk import Desk
from tui.screens.exposure_log import ExposureLogScreen
from tui.screens.incident import IncidentScreen
from tui.screens.past_preps import PastPrepsScreen
from tui.screens.person_page import PersonPageScreen
from tui.screens.plan import PlanScreen
from tui.screens.plan_several import PlanSeveralScreen
from tui.screens.portions import PortionsScreen
from tui.screens.register_form import RegisterForm
from tui.screens.register_row import RegisterRowScreen
from tui.screens.registers import RegisterScreen, RegistersScreen
from tui.screens.routes import RoutesScreen
from tui.screens.search import SearchScreen
from tui.screens.trace import TraceScreen

pytestmark = pytest.mark.bench

WHO = "op-3"
EVERY = ("operator", "safety officer", "reviewer", "keeper")
ROWS = (
    *(("substance", "S7"), ("substance", "WATER"), ("lot", "L7-1"), ("lot", "W"), ("container", "L7-1-1")),
    *(("container", "W-1"), ("person", WHO), ("enclosure", "E-1"), ("balance", "B-1")),
)
Make = Callable[[Desk], Screen[Any]]


def _row(register: str, id: str) -> Make:
    return lambda desk: RegisterRowScreen(desk, register, id)


def _register(register: str) -> Make:
    return lambda desk: RegisterScreen(desk, register)


def _form(register: str) -> Make:
    return lambda desk: RegisterForm(desk, register)


PAGES: dict[str, tuple[Make, tuple[str, ...]]] = {
    "bench": (BenchScreen, ()),
    "exposure log, each of its sums, incidents, measured, without names, weeks": (
        ExposureLogScreen,
        (*"sssssss", *"imab"),
    ),
    "past preps, each order": (PastPrepsScreen, (*"oooooooo",)),
    "two preps side by side": (lambda d: BesideScreen(d, "P-7F3A-000100", "P-7F3A-000101"), ()),
    "chart": (lambda d: ChartScreen(d, "S7"), ()),
    "health of a balance": (lambda d: BalanceHealthScreen(d, "B-1"), ()),
    "everything about a person": (lambda d: PersonPageScreen(d, WHO), ()),
    "plan": (PlanScreen, ()),
    "dilution or series": (PlanSeveralScreen, ()),
    "portions": (PortionsScreen, ()),
    "routes": (RoutesScreen, ()),
    "search": (SearchScreen, (*"L77-1", "enter")),
    "trace": (lambda d: TraceScreen(d, "L7-1"), ()),
    "trace of the solvent of all": (lambda d: TraceScreen(d, "W"), ()),
    "incident": (lambda d: IncidentScreen(d, ""), ()),
    "registers": (RegistersScreen, ()),
    **{f"register: {r}": (_register(r), ()) for r in ("substance", "lot", "container", "person", "balance")},
    **{f"{register} {id}": (_row(register, id), ()) for register, id in ROWS},
    **{f"form: {register}": (_form(register), ()) for register in ("substance", "lot", "container")},
}


class _Spent:
    """Seconds of processor that questions took since `again`."""

    def __init__(self) -> None:
        self.again()

    def again(self) -> None:
        self.s, self.longest_s, self.longest = 0.0, 0.0, ""

    def add(self, s: float, sql: str) -> None:
        self.s += s
        if s > self.longest_s:
            self.longest_s, self.longest = s, " ".join(sql.split())[:120]


@pytest.fixture
def spent(monkeypatch: pytest.MonkeyPatch) -> _Spent:
    out, all_at_once, one_by_one = _Spent(), Asking.query, Asking.each

    def query(self: Asking, sql: str, /, **params: Any) -> list[Row]:
        begun = time.process_time()
        found = all_at_once(self, sql, **params)
        out.add(time.process_time() - begun, sql)
        return found

    def each(self: Asking, sql: str, /, **params: Any) -> Iterator[Row]:
        rows = one_by_one(self, sql, **params)
        while True:
            begun = time.process_time()
            row = next(rows, None)
            out.add(time.process_time() - begun, sql)
            if row is None:
                return
            yield row

    monkeypatch.setattr(Asking, "query", query)
    monkeypatch.setattr(Asking, "each", each)
    return out


COMMANDS = (
    "exposures",
    *(f"exposures --by {by}" for by in ("day", "week", "month", "year", "person", "substance", "family")),
    *(
        f"exposures {which} --by {by}"
        for which in ("--enclosure E-1", "--what container", "--family CMR_1", "--person op-3")
        for by in ("month", "substance")
    ),
    "exposures --family CMR_1 --now --by week",
    "exposures --substance S7 --since 2019-03 --until 2021-10",
    "exposures --lot L7-1",
    "exposures --incidents",
    "preps",
    "preps --substance S7",
    "preps --lot W",
    "preps --status accepted --since 2020",
    "due",
    "trace L7-1",
    "trace L7-1 --recall",
    "trace L7-1 --revised",
    "trace W",
    "trace W --recall",
    "search L77-1",
    "search substance 77",
    "rehearsals",
    "merge",
)


@pytest.mark.parametrize("line", COMMANDS)
def test_no_command_asks_for_longer_than_100_ms(path: Path, spent: _Spent, line: str) -> None:
    done = CliRunner().invoke(main, line.split(), env={"TAREBOOK_RECORD": str(path)})
    print(f"\n{line}: {1000 * spent.s:.1f} ms, {len(done.output.splitlines())} lines; {spent.longest}")
    assert done.exit_code == 0, done.output
    assert spent.s < LONGEST_S


@pytest.fixture
def desk(path: Path) -> Iterator[Desk]:
    clock, hands = lab.Time(), site.TestClock()
    clock.at = clock.at.replace(year=2026, month=1, day=2)
    with Record.open(path, now=clock, terminal="7F3A") as record:
        yield Desk(
            record=record, path=path, now=clock, terminal="7F3A", monotonic=hands.time, chance=Random(7),
            seed=7, person=Acting(record, WHO, EVERY),
        )  # fmt: skip


@pytest.mark.parametrize("name", list(PAGES))
async def test_no_page_asks_for_longer_than_100_ms(desk: Desk, spent: _Spent, name: str) -> None:
    make, keys = PAGES[name]
    async with DeskApp(make(desk)).run_test(size=(120, 40)) as pilot:
        await pilot.pause(0.2)
        best = {"": spent.s}
        print(f"\n{name}: {1000 * spent.s:.1f} ms")
        for number, key in enumerate(keys):
            spent.again()
            await pilot.press(key)
            await pilot.pause(0.2)
            best[f"{key} {number}"] = spent.s
            print(f"    {key}: {1000 * spent.s:.1f} ms  {spent.longest if spent.s > LONGEST_S / 2 else ''}")
    assert {key: s for key, s in best.items() if s >= LONGEST_S} == {}
