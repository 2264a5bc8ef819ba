"""The simulated balance behaves like one: it settles, scatters as its figures say, refuses overload."""

from random import Random
from statistics import stdev

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from store.model.registers import Balance as Registered
from store.readings import read_line
from tui.balance.hand import PORTIONS, Hand
from tui.balance.protocol import Balance
from tui.balance.simulated import Physics, Simulated
from tui.balance.typed import Typed

QUIET = Physics(sd_mg=1e-9, drift_mg_min=0.0, kicks_min=0.0)


def shown(of: Simulated, at_s: float) -> float:
    return float(of.poll(at_s).shown)


def rested(of: Simulated, at_s: float) -> float:
    """The time at which it is steady again."""
    while not of.poll(at_s).steady:
        at_s += 0.1
    return at_s


def test_both_sources_keep_the_protocol() -> None:
    sources: list[Balance] = [Typed("B-1"), Simulated("B-2", seed=1)]
    assert [s.kind for s in sources] == ["typed", "simulated"]
    assert [s.poll(1.0) is None for s in sources] == [True, False]
    assert all(s.lines() == () and s.state() == "" for s in sources)


def test_a_load_settles_by_its_time_constant() -> None:
    of = Simulated("B-1", seed=1, physics=QUIET)
    of.put(0.010, 10.0)
    assert shown(of, 10.0) == 0.0
    assert shown(of, 10.6) == pytest.approx(10.0 * 0.632, abs=0.006)
    assert not of.poll(10.6).steady
    assert shown(of, 20.0) == 10.0
    assert of.poll(20.0).steady


def test_the_tare_key_counts_from_what_lies_there() -> None:
    of = Simulated("B-1", seed=1, physics=QUIET)
    of.put(12.34567, 0.0)
    of.tare(20.0)
    assert of.poll(21.0).shown == "0.00"
    of.add(0.01250, 22.0)
    assert of.poll(40.0).shown == "12.50"
    of.take_off(41.0)
    assert of.poll(60.0).shown == "-12345.67"


def test_the_scatter_of_nets_is_the_repeatability_it_was_given() -> None:
    of = Simulated(
        "B-1", seed=5, physics=Physics(readability_mg=0.001, decimals=3, sd_mg=0.05, kicks_min=0.0)
    )
    nets, at_s = [], 0.0
    for _ in range(400):
        of.put(10.0, at_s)
        of.tare(at_s + 12.0)
        first = shown(of, at_s + 13.0)
        of.add(0.010, at_s + 14.0)
        nets.append(shown(of, at_s + 26.0) - first)
        of.take_off(at_s + 27.0)
        at_s += 45.0
    assert stdev(nets) == pytest.approx(0.05, rel=0.15)


def test_the_same_seed_and_acts_show_the_same_digits() -> None:
    def course(seed: int) -> list[str]:
        of = Simulated("B-1", seed=seed)
        of.put(5.0, 1.0)
        of.tare(9.0)
        of.add(0.004, 10.0)
        return [of.poll(10.0 + n * 0.1).shown for n in range(100)]

    assert course(7) == course(7)
    assert course(7) != course(8)


def test_after_a_restart_it_shows_what_the_accepted_entries_leave() -> None:
    of = Simulated("B-1", seed=7)
    of.lay(5.010, shown_mg=10.02, at_s=100.0)
    at_s = rested(of, 100.0)
    assert shown(of, at_s) == pytest.approx(10.02, abs=0.05)
    of.add(0.002, at_s)
    assert shown(of, rested(of, at_s + 5.0)) == pytest.approx(12.02, abs=0.08)


def test_it_comes_to_rest_soon_and_stays_there_mostly() -> None:
    of = Simulated("B-1", seed=3)
    of.put(5.0, 0.0)
    assert rested(of, 0.5) < 30.0
    steady = [of.poll(30.0 + n * 0.2).steady for n in range(500)]
    assert 0.7 < sum(steady) / len(steady) < 1.0  # kicks of static unsettle it now and then


def test_capacity_is_a_limit_and_overload_is_no_number() -> None:
    of = Simulated("B-1", seed=1, physics=Physics(capacity_mg=1000.0))
    of.put(1.0, 0.0)
    assert of.poll(5.0).shown
    of.put(0.00001, 6.0)
    sample = of.poll(9.0)
    assert sample.shown == ""
    assert sample.fault.startswith("overload")
    assert not sample.live(9.0)


@pytest.mark.parametrize(
    ("readability", "unit", "example"),
    [
        ("0.01 mg", "mg", "9999.99"),
        ("0.1 mg", "g", "9.9999"),
        ("1 mg", "mg", "10000"),
        ("10 mg", "g", "9.99"),
    ],
)
def test_it_shows_the_decimals_of_its_register_row(readability: str, unit: str, example: str) -> None:
    row = Registered(id="B-1", name="x", readability=readability, capacity="220 g", unit=unit)
    of = Simulated.of(row, seed=1)
    of.put(10.0, 0.0)
    found = of.poll(30.0)
    assert len(found.shown.partition(".")[2]) == len(example.partition(".")[2])
    assert read_line(f"{found.shown} {found.unit}").mass_g == pytest.approx(10.0, abs=0.1)


@given(st.floats(-5, 200), st.floats(0, 10_000), st.integers(0, 9))
@settings(derandomize=True, deadline=None)
def test_whatever_lies_there_is_shown_as_a_plain_reading(mass_g: float, at_s: float, seed: int) -> None:
    of = Simulated("B-1", seed=seed)
    of.put(mass_g, at_s)
    for later_s in (0.0, 0.5, 20.0):
        read_line(of.poll(at_s + later_s).shown + " mg")
    assert "-0.00" not in (of.poll(at_s).shown,)


@pytest.mark.parametrize("seed", range(20))
def test_a_hand_doses_in_smaller_and_smaller_portions_and_comes_near(seed: int) -> None:
    portions = Hand(Random(seed)).towards(10.0)
    assert 9.8 <= sum(portions) < 14.0
    assert min(portions) > 0.0
    assert len(portions) >= 3


def test_a_hand_pours_more_than_it_taps_and_taps_more_than_a_grain() -> None:
    hand = Hand(Random(3))
    means = [sum(hand.portion(kind, 10.0) for _ in range(200)) / 200 for kind in PORTIONS]
    assert means[0] > 2 * means[1] > 4 * means[2] > 0


def test_no_drop_is_smaller_than_a_drop() -> None:
    hand = Hand(Random(3), drop_mg=30.0)
    assert all(hand.portion("grain", 1.0) > 24.0 for _ in range(100))
