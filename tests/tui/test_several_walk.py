"""Dilutions and series walked by the player: what fell sets what follows, each vessel has its own lot."""

from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest

from store import events as ev
from store.model.prep import Plan
from store.model.words import ActKind, PrepStatus
from store.procedure import diluted, outcome
from store.procedure.state import PrepState
from store.queries import lots, registers
from store.record.record import Record
from store.record.verify import verify
from tests import several, site
from tests.tui import audit
from tui.guide import drawing, keys
from tui.guide.guide import Guide
from tui.guide.labels import label_of
from tui.guide.player import Player


@pytest.fixture
def record(tmp_path: Path, clock: site.TestClock) -> Iterator[Record]:
    with site.begin(tmp_path / "r.tarebook", clock) as made:
        several.begin(made)
        yield made


def guide_of(record: Record, clock: site.TestClock, plan: Plan) -> Guide:
    guide = site.guide(record, site.planned(record, plan), clock)
    guide._label = label_of
    return guide


def play(guide: Guide, clock: site.TestClock, **until: object) -> PrepState:
    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(**until)  # type: ignore[arg-type]
    return guide.state


def walked(record: Record, clock: site.TestClock, plan: Plan) -> PrepState:
    return play(guide_of(record, clock, plan), clock)


def test_a_ten_thousandth_is_made_in_two_steps_each_with_a_lot_of_its_own(
    record: Record, clock: site.TestClock
) -> None:
    state = walked(record, clock, several.dilution())
    assert state.status == PrepStatus.CLOSED
    assert [m["lot"]["id"] for m in state.made] == ["S-7F3A-0001.1", "S-7F3A-0001.2"]
    for made, target in zip(state.made, (10.0, 0.1), strict=True):
        assert float(made["result"]["value"]) == pytest.approx(target, rel=0.03)
        assert made["result"]["complete"]
        row = registers.body(record, "lot", made["lot"]["id"])
        assert (row["status"], row["solvent"], row["made_by"]) == ("quarantine", "WATER", state.prep)
        assert row["expiry"] == "2026-03-20", "no later than the stock's"
        assert "PREPARED SOLUTION" in made["label"]
        assert "H350" in made["label"]
    assert audit.of_prep(record, state.prep).faults == []
    assert verify(record.path).ok


def test_what_fell_in_the_first_step_sets_the_aliquot_of_the_second(
    record: Record, clock: site.TestClock
) -> None:
    guide = guide_of(record, clock, several.dilution())
    planned_mg = float(guide.state.aims["parts"]["2"]["aliquot_mg"])
    state = play(guide, clock, until=lambda g: g.state.act is not None and g.state.act.key == "dose:2")
    first = outcome.result(state.part("1"))
    aim_mg = outcome.window(state.here, "aliquot").aim_mg
    assert first.value != pytest.approx(10.0, rel=1e-4)
    assert aim_mg == pytest.approx(planned_mg * 10.0 / first.value, rel=1e-4)


def test_the_result_is_the_product_of_the_mass_ratios(record: Record, clock: site.TestClock) -> None:
    state = walked(record, clock, several.dilution())
    expected = 1000.3  # ug/g
    for part in state.each:
        a, s = part.total_mg("aliquot"), part.total_mg("solvent")
        expected *= a / (a + s)
    # Aliquot and solvent have nearly one density, so buoyancy leaves the ratio within 1e-5.
    assert float(state.made[-1]["result"]["value"]) == pytest.approx(expected, rel=1e-5)


def test_the_uncertainty_carries_the_stock_once_and_every_weighing(
    record: Record, clock: site.TestClock
) -> None:
    state = walked(record, clock, several.dilution())
    result = state.made[-1]["result"]
    names = [c["name"] for c in result["components"]]
    assert names.count("stock KS-1") == 1
    assert {f"repeatability of the {w} of V-{n}" for w in ("aliquot", "diluent") for n in (1, 2)} <= set(
        names
    )
    assert sum(float(c["share"]) for c in result["components"]) == pytest.approx(1.0, abs=1e-6)


def test_an_aliquot_counts_in_the_exposure_log_by_what_it_contains(
    record: Record, clock: site.TestClock
) -> None:
    state = walked(record, clock, several.dilution())
    first = state.part("1").total_mg("aliquot")
    second = state.part("2").total_mg("aliquot")
    rows = record.query(
        "SELECT sum(net_mg) AS mg FROM handling_substance WHERE substance = 'K2CR2O7' AND person = 'op-1'"
    )
    assert rows[0]["mg"] == pytest.approx(1.0003e-3 * first + 1e-5 * second, rel=0.01)


def test_a_lot_is_traced_to_its_stock_through_the_intermediate(record: Record, clock: site.TestClock) -> None:
    walked(record, clock, several.dilution())
    up = [(link.depth, link.parent, link.child) for link in lots.trace(record, "S-7F3A-0001.2").up]
    assert (1, "S-7F3A-0001.1", "S-7F3A-0001.2") in up
    assert (2, "KS-1", "S-7F3A-0001.1") in up
    of = {r["part"]: r["lot"] for r in record.query("SELECT part, lot FROM result_list")}
    assert of == {"1": "KS-1", "2": "S-7F3A-0001.1"}
    down = {link.child for link in lots.trace(record, "KS-1").down}
    assert down == {"S-7F3A-0001.1", "S-7F3A-0001.2"}
    left = lots.stock(record, "S-7F3A-0001.1-1")
    assert left.content_mg is not None
    assert left.left_mg == pytest.approx(left.content_mg - left.used_mg)
    assert left.used_mg > 0


def test_what_is_not_kept_is_emptied_into_the_waste_and_retired(
    record: Record, clock: site.TestClock
) -> None:
    parts = (several.part("1", "10.00 ug/g", keep=False), several.part("2", "0.1000 ug/g", source="1"))
    plan = several._plan("dilution, aliquot first", parts)
    state = walked(record, clock, plan)
    assert [h.what for h in state.handlings][-3:] == ["rinse to waste", "discarded to waste", "waste"]
    assert registers.row(record, "lot", "S-7F3A-0001.1").retired
    assert registers.row(record, "container", "S-7F3A-0001.1-1").retired
    assert not registers.row(record, "lot", "S-7F3A-0001.2").retired
    labelled = [a.key for s in state.steps for a in s.acts if a.what == "label"]
    assert labelled == ["label:2"]


def test_a_series_takes_every_level_from_one_opening_of_its_stock(
    record: Record, clock: site.TestClock
) -> None:
    state = walked(record, clock, several.series("1 ug/g", "5 ug/g", "20 ug/g", blank=True))
    opened = [h for h in state.handlings if h.container == "CS-1"]
    assert len(opened) == 1
    assert len({d.part for d in state.doses if d.content == "aliquot"}) == 3
    assert [float(m["result"]["value"]) for m in state.made] == pytest.approx([1, 5, 20, 0], rel=0.03)
    assert state.lot["id"] == "S-7F3A-0001.3", "the last level stands for the prep, not the blank"
    assert drawing.title(state) == "potassium dichromate, 3 levels to 20 ug/g in water, 4 vessels"
    assert audit.of_prep(record, state.prep).faults == []


def test_the_solvent_may_come_first(record: Record, clock: site.TestClock) -> None:
    plan = several._plan("dilution, solvent first", several.dilution().parts)
    state = walked(record, clock, plan)
    order = [(d.part, d.content) for d in state.doses if d.ends]
    assert order == [("1", "solvent"), ("1", "aliquot"), ("2", "solvent"), ("2", "aliquot")]
    assert float(state.result["value"]) == pytest.approx(0.1, rel=0.05)


def test_the_covariance_of_the_levels_is_what_a_monte_carlo_finds(
    record: Record, clock: site.TestClock
) -> None:
    """JCGM 102:2011 7: the readings, the stock and the limits of linearity drawn anew, 40 000 times."""
    state = walked(record, clock, several.series("1 ug/g", "5 ug/g", "20 ug/g"))
    found, _ = diluted.covariance(state)
    nets = [(p.total_mg("aliquot"), p.total_mg("solvent")) for p in state.each]
    chance, many = Random(11), 40_000
    drawn: list[list[float]] = [[], [], []]

    def net(mg: float) -> float:
        limit = 0.05 * 2**0.5  # ± 0.05 mg at each of two readings
        return mg + chance.gauss(0, 0.0045) + chance.uniform(-limit, limit)

    for _ in range(many):
        stock = chance.gauss(1000.3, 1.0)
        for level, (a, s) in zip(drawn, nets, strict=True):
            a, s = net(a), net(s)
            level.append(stock * a / (a + s))
    means = [sum(x) / many for x in drawn]
    for i in range(3):
        for j in range(3):
            mc = sum((a - means[i]) * (b - means[j]) for a, b in zip(drawn[i], drawn[j], strict=True)) / many
            assert found.covariance[i][j] == pytest.approx(mc, rel=0.05)


def test_a_two_step_dilution_asks_for_so_many_pages_keys_and_openings(
    record: Record, clock: site.TestClock
) -> None:
    guide = guide_of(record, clock, several.dilution())
    pressed: list[keys.Intent] = []
    real = guide.take

    def take(intent: keys.Intent) -> None:
        act = guide.state.act
        pours = act is not None and act.kind == ActKind.DOSE and isinstance(intent, keys.Chosen)
        if guide.asks or not pours:  # a portion is the hand's, not a key of a real balance
            pressed.append(intent)
        real(intent)

    guide.take = take  # type: ignore[method-assign]
    state = play(guide, clock)
    pages = sum(1 for a in state.acks if a.how == "page")
    portions = sum(1 for d in state.doses)
    openings = [h for h in state.handlings if h.what in ("container", "vessel")]
    assert (pages, len(state.acks), portions, len(openings)) == (13, 13, 4, 4)
    screens = sum(isinstance(k, keys.Acknowledged) for k in pressed)
    assert (screens, len(pressed) - screens) == FIGURES


FIGURES = (13, 56)
"""Digits pressed on caution screens, and every other key beside; as DEVELOPERS says."""


@pytest.mark.parametrize(("amount", "stops"), [("20 g", False), ("0.8 g", True)])
def test_an_aliquot_below_the_minimum_weight_is_said_before_anything_is_opened(
    record: Record, amount: str, stops: bool
) -> None:
    from store.actions import planning

    parts = (several.part("1", "10.00 ug/g", amount=amount),)
    found = planning.explain(site.acting(record), several._plan("dilution, aliquot first", parts))
    assert any("minimum weight" in what for what in found.stops) is stops


def test_too_little_in_an_intermediate_is_said_before_anything_is_opened(record: Record) -> None:
    from store.actions import planning

    parts = (
        several.part("1", "100 ug/g", amount="2 g"),
        several.part("2", "50 ug/g", source="1", amount="20 g"),
    )
    found = planning.explain(site.acting(record), several._plan("dilution, aliquot first", parts))
    assert any(
        what.startswith("vessel V-1 holds about 19") and "are to be taken" in what for what in found.stops
    )


def test_a_solution_is_not_weighed_as_if_it_were_the_solid(record: Record) -> None:
    from dataclasses import replace

    from store.actions import planning
    from store.errors import BadInput

    with pytest.raises(BadInput, match="plan a dilution"):
        planning.explain(site.acting(record), replace(site.PLAN, container="CS-1"))


def test_no_act_of_a_pass_is_guarded_less_than_one_of_a_step(record: Record, clock: site.TestClock) -> None:
    state = walked(record, clock, several.series("1 ug/g", "5 ug/g"))
    acknowledged: set[int] = set()
    for entry in record.entries(subject=f"prep:{state.prep}"):
        event = entry.event
        if isinstance(event, ev.Acknowledged):
            acknowledged.add(event.step)
        elif isinstance(event, ev.Read | ev.Opened | ev.Dosed | ev.Confirmed | ev.Handled):
            assert event.step in acknowledged, entry
    kinds = {a.kind for s in state.steps for a in s.acts if a.part}
    assert kinds == {ActKind.READ, ActKind.DOSE, ActKind.ANSWER, ActKind.CONFIRM}


def test_a_revised_stock_is_carried_to_every_vessel_made_from_it(
    record: Record, clock: site.TestClock
) -> None:
    from store.actions import revise

    state = walked(record, clock, several.dilution())
    before = [float(m["result"]["value"]) for m in state.made]
    row = {**registers.body(record, "lot", "KS-1"), "concentration": "1.0103 mg/g"}
    site.put(record, "lot", row)
    was, now = revise.write_anew(
        site.acting(record, "ke-1"), state.prep, seen=state.last_entry, label=lambda part: f"NEW {part.key}"
    )
    after = record.prep_state(state.prep)
    assert now / was == pytest.approx(1.0103 / 1.0003)
    values = [float(m["result"]["value"]) for m in after.made]
    assert values == pytest.approx([v * 1.0103 / 1.0003 for v in before])
    assert [m["label"] for m in after.made] == ["NEW 1", "NEW 2"]
    assert after.part("1").basis["lot"]["concentration"] == "1.0103 mg/g"
