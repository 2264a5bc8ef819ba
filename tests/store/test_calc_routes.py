"""Route design against brute force: random vessels, orders, fills and factors."""

import itertools
import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import replace

import pytest

from store.calc import dilution
from store.calc.routes import RESERVE, Design, Route, Vessel, Wanted, design
from store.errors import OutOfRange

SAVED = 0.05
"""No random search finds a route that wastes less by more than this part of the amount needed."""


def measured(w: Wanted, totals: Sequence[float], factors: Sequence[float]) -> tuple[float, float] | None:
    """Relative uncertainty and waste of any route, by the closed forms of a step; None if it cannot be."""
    there, variance, made = w.source_mg, 0.0, 0.0
    u_step = dilution.u_rel_shared if w.shared_reading else dilution.u_rel_separate
    for n, (total, factor) in enumerate(zip(totals, factors, strict=True)):
        aliquot = total / factor
        if (
            factor < 1
            or aliquot > there
            or min(aliquot, total - aliquot) < w.minimum_mg
            or total < w.least_mg
        ):
            return None
        variance += u_step(factor=factor, total_mg=total, sd_mg=w.sd_mg) ** 2 + w.per_step**2
        made += total - (aliquot if n else 0.0)
        there = total / RESERVE
    return math.sqrt(variance), made - w.amount_mg


def tried(w: Wanted, n: int, rng: random.Random, start: Route, many: int) -> Iterator[tuple[float, float]]:
    """Random routes of n steps: half of them from nowhere, half near the one that was designed."""
    logs = math.log(w.factor)
    for _ in range(many):
        vessels = rng.sample(w.vessels, n)
        if start.totals_mg and rng.random() < 0.5:
            scale = 10 ** rng.uniform(-3, -0.3)
            totals = [m * math.exp(rng.gauss(0, scale)) for m in start.totals_mg]
            factors = [d * math.exp(rng.gauss(0, scale)) for d in start.factors]
            off = (w.factor / math.prod(factors)) ** (1 / n)
            factors = [d * off for d in factors]
        else:
            totals = [v.capacity_mg * rng.choice((1.0, rng.random())) for v in vessels]
            cuts = sorted(rng.uniform(0, logs) for _ in range(n - 1))
            factors = [math.exp(b - a) for a, b in itertools.pairwise([0.0, *cuts, logs])]
        totals[-1] = max(w.amount_mg, totals[-1] if rng.random() < 0.5 else 0.0)
        totals = [min(m, v.capacity_mg) for m, v in zip(totals, vessels, strict=True)]
        if totals[-1] >= w.amount_mg and (found := measured(w, totals, factors)) is not None:
            yield found


def drawn(rng: random.Random) -> Wanted:
    vessels = tuple(Vessel(f"V-{k}", 10 ** rng.uniform(3, 4.7)) for k in range(rng.randint(1, 5)))
    return Wanted(
        factor=10 ** rng.uniform(0.3, 6),
        amount_mg=rng.uniform(0.1, 1) * max(v.capacity_mg for v in vessels),
        vessels=vessels,
        sd_mg=10 ** rng.uniform(-3, -1),
        minimum_mg=rng.choice([0, 1, 20, 80]),
        per_step=rng.choice([0, 5e-5]),
        shared_reading=rng.random() < 0.3,
        u_wanted=rng.choice([math.inf, 10 ** rng.uniform(-4, -2)]),
        max_steps=3,
    )


def test_brute_force_beats_no_route_in_a_thousand_random_cases() -> None:
    rng, seen = random.Random(1905), 0
    for _ in range(1000):
        w = drawn(rng)
        found = design(w)
        for n in range(1, min(3, len(w.vessels)) + 1):
            routes = [r for r in found.routes if r.steps == n]
            can = [r for r in routes if r.feasible or "is wanted" in r.why_not]
            best_u = min((r.relative_uncertainty for r in can), default=math.inf)
            least = min((r.waste_mg for r in can if r.feasible), default=math.inf)
            for u, waste in tried(w, n, rng, rng.choice(routes), 25):
                seen += 1
                assert u >= best_u * (1 - 1e-6), (w, n)
                if u <= w.u_wanted:
                    assert waste >= least - SAVED * w.amount_mg - 1e-6, (w, n)
    assert seen > 10_000


def test_the_factors_for_given_fills_are_the_best_of_a_grid() -> None:
    rng = random.Random(5)
    for _ in range(60):
        w = Wanted(
            factor=10 ** rng.uniform(0.5, 5),
            amount_mg=1000.0,
            vessels=tuple(Vessel(f"V-{k}", 10 ** rng.uniform(3, 4.7)) for k in range(2)),
            sd_mg=0.01,
            minimum_mg=rng.choice([0.0, 20.0]),
            shared_reading=rng.random() < 0.5,
            max_steps=2,
        )
        best = min(
            (r.relative_uncertainty for r in design(w).routes if r.steps == 2 and r.feasible),
            default=math.inf,
        )
        for order in itertools.permutations([v.capacity_mg for v in w.vessels]):
            for k in range(1, 400):
                first = w.factor ** (k / 400)
                found = measured(w, order, (first, w.factor / first))
                assert found is None or found[0] >= best * (1 - 1e-9)


def ten(**other: float) -> Wanted:
    capacities = (50, 40, 30, 20, 15, 12, 10, 5, 2, 1)
    given = {"factor": 1e4, "amount_mg": 8000.0, "sd_mg": 0.01, "minimum_mg": 20.0, "per_step": 5e-5} | other
    return Wanted(
        vessels=tuple(Vessel(f"V-{g}", 1000.0 * g) for g in capacities),
        **given,  # type: ignore[arg-type]
    )


def chosen(found: Design, at: int | None) -> Route:
    assert at is not None
    return found.routes[at]


def test_equal_vessels_give_the_published_optimum() -> None:
    """DES-01 and DES-02 of the reference values."""
    w = Wanted(
        factor=1e4,
        amount_mg=20000,
        vessels=tuple(Vessel(f"V-{n}", 20000) for n in range(6)),
        sd_mg=0.01,
        minimum_mg=20,
        per_step=5e-5,
    )
    best = chosen(found := design(w), found.by_uncertainty)
    assert best.steps == 3
    assert best.relative_uncertainty == pytest.approx(8.8416e-05, abs=1e-8)


def test_unequal_vessels_give_unequal_steps() -> None:
    """DES-05: vials of 20 g, then 5 g."""
    w = Wanted(
        factor=1e4,
        amount_mg=5000,
        vessels=(Vessel("A", 20000), Vessel("B", 5000)),
        sd_mg=0.01,
        max_steps=2,
    )
    both = next(r for r in design(w).routes if r.steps == 2 and sorted(r.totals_mg) == [5000, 20000])
    assert dict(zip(both.totals_mg, both.factors, strict=True))[20000] == pytest.approx(199.25, abs=0.2)


def test_a_single_step_is_refused_just_below_the_minimum_weight_and_made_just_above() -> None:
    at = {"factor": 1e4, "amount_mg": 20000.0}
    assert chosen(design(ten(**at, minimum_mg=5.0)), 0).feasible
    assert "below the minimum weight" in design(ten(**at, minimum_mg=5.001)).routes[0].why_not


def test_the_leanest_route_gives_exactly_the_uncertainty_wanted() -> None:
    found = design(ten(u_wanted=3e-4))
    lean = [r for r in found.routes if r.aim == "wanted"]
    assert lean
    assert all(r.relative_uncertainty == pytest.approx(3e-4, rel=1e-3) for r in lean if r.waste_mg > 0)
    assert chosen(found, found.by_waste).aim == "wanted"


def test_what_does_not_reach_the_uncertainty_wanted_says_what_it_gives() -> None:
    found = design(ten(u_wanted=5e-5))
    assert found.by_uncertainty is None
    assert any("0.005 % is wanted" in r.why_not for r in found.routes)


def test_the_front_holds_the_best_of_each_and_nothing_that_is_beaten() -> None:
    found = design(ten(u_wanted=3e-4))
    for at in (found.by_uncertainty, found.by_waste, found.by_openings):
        assert chosen(found, at).unbeaten
    for one, other in itertools.permutations(found.front, 2):
        better = (
            one.relative_uncertainty < other.relative_uncertainty,
            one.waste_mg < other.waste_mg,
            one.openings < other.openings,
        )
        worse = (
            one.relative_uncertainty > other.relative_uncertainty,
            one.waste_mg > other.waste_mg,
            one.openings > other.openings,
        )
        assert not (any(better) and not any(worse))


def test_a_route_adds_up() -> None:
    for r in design(ten(u_wanted=3e-4)).routes:
        if r.feasible:
            assert math.prod(r.factors) == pytest.approx(1e4, rel=1e-9)
            assert r.stock_used_mg + r.solvent_mg == pytest.approx(r.waste_mg + 8000, rel=1e-9)
            assert len(set(r.vessels)) == r.steps


def test_no_more_is_drawn_than_the_source_holds() -> None:
    found = design(ten(factor=4.0, source_mg=1000.0, amount_mg=3000.0))
    can = [r for r in found.routes if r.feasible]
    assert can
    assert max(r.stock_used_mg for r in can) <= 1000.0 * (1 + 1e-9)


def test_an_intermediate_is_never_filled_below_the_least() -> None:
    found = design(ten(least_mg=1000.0))
    assert min(min(r.totals_mg) for r in found.routes if r.feasible) >= 1000.0


def test_more_than_any_vessel_takes_is_said() -> None:
    assert "no vessel takes" in design(ten(amount_mg=50001.0)).routes[0].why_not
    assert design(ten(amount_mg=50000.0)).by_uncertainty is not None


@pytest.mark.parametrize(
    "wrong", [{"factor": 1.0}, {"amount_mg": 0.0}, {"sd_mg": 0.0}, {"u_wanted": 0.0}, {"max_steps": 7}]
)
def test_what_makes_no_sense_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        design(ten(**wrong))


def test_eleven_vessels_are_too_many() -> None:
    w = replace(ten(), vessels=(Vessel("x", 1000.0),) * 11)
    with pytest.raises(OutOfRange, match="11 vessels"):
        design(w)
