"""Places of a rack rejected at any step, fresh tares within a pass, the empty pan looked at in between."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from store.actions import racks as verbs
from store.actions import weighing
from store.errors import BadInput, Owed, Refused
from store.model.words import ActKind, PrepStatus
from store.procedure import portions, tare_age
from store.procedure.outcome_words import result_lines
from store.queries import exposures, lots
from store.queries.asked import asked
from store.queries.page import page as prep_page_of
from store.record.record import Record
from store.record.verify import verify
from tests import racks, site
from tests.tui import audit
from tui.guide import keys
from tui.guide.guide import Guide
from tui.guide.player import Player

PREP = "P-7F3A-0001"


def at(key: str) -> Callable[[Guide], bool]:
    """Give the condition that an act is open and waits for its key."""
    return lambda g: g.state.act is not None and g.state.act.key == key and not g.on_page and not g.asks


def up_to(record: Record, clock: site.TestClock, key: str) -> Player:
    player = racks.player(record, PREP, clock)
    player.play(until=at(key))
    return player


def rejected(guide: Guide, place: str = "") -> None:
    """Press what rejects a place, for the second reason offered; empty is the place at hand."""
    guide.take(keys.Back())
    choices = guide.asks[-1].choices
    guide.take(keys.Chosen(next(n for n, c in enumerate(choices, 1) if c.startswith("reject one place"))))
    guide.take(keys.Typed(place))
    guide.take(keys.Chosen(2))


def weighed(guide: Guide, net_mg: float) -> None:
    """Type the gross reading of the place at hand."""
    assert guide.state.act is not None
    tare = guide.state.part(guide.state.part_of(guide.state.step, guide.state.act)).last_read("vessel")
    assert tare is not None
    guide.take(keys.Typed(f"{tare.mass_mg + net_mg:.2f}"))


def taken(guide: Guide, net_mg: float) -> None:
    """Weigh, and take it."""
    weighed(guide, net_mg)
    guide.take(keys.Act())


def finished(record: Record, player: Player) -> None:
    player.play()
    state = record.prep_state(PREP)
    assert state.status == PrepStatus.CLOSED
    # Powder alone has no second part.
    assert [f for f in audit.of_prep(record, PREP).faults if "without one of its parts" not in f] == []


def test_a_place_is_rejected_while_the_container_is_open_and_stays_open(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 4)
        player = up_to(record, clock, "dose 3")
        guide = player.guide
        taken = guide.state.part("2").total_mg("solid")
        rejected(guide, "2")
        assert guide.something_open
        assert guide.said.startswith("Place 2 is rejected")
        assert guide.state.act is not None
        assert guide.state.act.key == "dose 3", "the place at hand goes on"
        finished(record, player)
        state = record.prep_state(PREP)
        assert [m["part"] for m in state.made] == ["1", "3", "4"]
        assert sum(1 for h in state.handlings if h.what == "container") == 1, "one opening all the same"
        stock = lots.stock(record, "C-1")
        assert stock.wasted_mg == pytest.approx(taken)
        assert stock.used_mg == pytest.approx(sum(d.net_mg for d in state.doses))
        assert portions.in_words(state) == ("Rack: rejected 2; filled 1, 3 to 4.",)
        place = prep_page_of(record, PREP).portions[1]
        assert (place.word, place.reason) == ("rejected", "spilled, or some of it on the rim")
        assert "R-02: REJECTED, it is waste: spilled, or some of it on the rim" in result_lines(state)
    assert verify(tmp_path / "r.tarebook").ok


def test_what_fell_into_a_rejected_place_and_was_not_taken_yet_is_written_as_waste(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 3)
        player = up_to(record, clock, "dose 2")
        guide = player.guide
        rejected(guide)
        assert "Did anything fall" in guide.asks[-1].text[0]
        guide.take(keys.Chosen(2))
        weighed(guide, 7.31)
        assert guide.said.startswith("Place 2 is rejected")
        spoilt = [d for d in guide.state.doses if d.part == "2"]
        assert [(round(d.net_mg, 2), d.usable, d.state) for d in spoilt] == [(7.31, False, "discarded")]
        assert lots.stock(record, "C-1").wasted_mg == pytest.approx(7.31, abs=0.001)
        finished(record, player)
        log = exposures.rows(record, asked(record, lot="KD-2"), limit=-1)
        opened = next(r for r in log if r.prep == PREP and r.what == "container")
        assert opened.net_mg == pytest.approx(sum(d.net_mg for d in record.prep_state(PREP).doses))


@pytest.mark.parametrize("fell", [9.50, 10.50])
def test_what_the_display_called_inside_is_not_out_of_tolerance(tmp_path: Path, fell: float) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 2)
        player = up_to(record, clock, "dose 1")
        taken(player.guide, fell)
        lines = result_lines(player.guide.state)
        assert lines[0].startswith(f"R-01: {fell:.3f} mg")
        assert "OUT OF TOLERANCE" not in lines[0]


def test_a_hundredth_of_a_milligram_beyond_the_edge_is_asked_about_and_out_of_tolerance(
    tmp_path: Path,
) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 2)
        player = up_to(record, clock, "dose 1")
        taken(player.guide, 9.49)
        assert "0.01" in player.guide.asks[-1].text[0]
        player.guide.take(keys.Chosen(2))
        player.guide.take(keys.Chosen(1))
        assert result_lines(player.guide.state)[0].endswith("OUT OF TOLERANCE")


def test_what_is_over_the_window_rejects_its_place_with_the_reading_that_stands_there(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 2)
        player = up_to(record, clock, "dose 1")
        taken(player.guide, 11.41)
        choices = player.guide.asks[-1].choices
        assert choices[-1].startswith("reject this place")
        player.guide.take(keys.Chosen(len(choices)))
        player.guide.take(keys.Chosen(1))
        state = player.guide.state
        assert [(round(d.net_mg, 2), d.source, d.state) for d in state.doses] == [
            (11.41, "typed", "discarded")
        ]
        assert state.rejections == {"1": "too much or too little fell, and it is not wanted so"}
        assert state.act is not None
        assert state.act.key == "dose 2"
        assert player.guide.typed_reading == "", "the next vessel does not inherit the reading"


def test_a_note_that_is_owed_stands_in_nobodys_way_while_something_is_open(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 3)
        player = up_to(record, clock, "dose 2")
        player.guide.take(keys.Back())
        player.guide.take(keys.Chosen(1))  # close what is open now; go on later
        player.play(until=at("dose 2"))
        assert player.guide.state.owed
        rejected(player.guide, "1")
        assert player.guide.said.startswith("Place 1 is rejected")


def test_nothing_fell_is_an_answer_too(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 3)
        player = up_to(record, clock, "dose 2")
        guide = player.guide
        rejected(guide)
        guide.take(keys.Chosen(1))
        assert not [d for d in guide.state.doses if d.part == "2"]
        assert guide.state.act is not None
        assert guide.state.act.key == "dose 3"
        finished(record, player)


@pytest.mark.parametrize("key", ["vessel 2", "open", "zeroed 2", "add 3", "label 1"])
def test_a_place_is_rejected_at_every_step_between(tmp_path: Path, key: str) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 3, wet=True)
        player = up_to(record, clock, key)
        guide = player.guide
        rejected(guide, "R-02")
        if guide.asks:  # an exposure note stood before it, or the vessel at hand is asked about
            guide.take(keys.Chosen(1))
        assert portions.places(guide.state)[1].word == portions.REJECTED
        finished(record, player)
        assert [m["part"] for m in record.prep_state(PREP).made] == ["1", "3"]


def test_the_pan_is_looked_at_even_where_the_last_place_is_rejected(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 2)
        player = up_to(record, clock, "dose 2")
        guide = player.guide
        rejected(guide, "2")
        guide.take(keys.Chosen(1))
        finished(record, player)
        state = record.prep_state(PREP)
        assert [r.act for r in state.reads if r.what == "return"] == ["return 2"]


def test_a_rack_whose_every_place_is_rejected_is_given_up(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 2)
        player = up_to(record, clock, "label 1")
        guide = player.guide
        for place in ("1", "2"):
            seen = record.prep_state(PREP).last_entry
            verbs.reject(site.acting(record), PREP, seen=seen, place=place, reason="cracked")
        guide.refresh()
        seen = record.prep_state(PREP).last_entry
        with pytest.raises(Refused, match="rejected already"):
            verbs.reject(site.acting(record), PREP, seen=seen, place="2", reason="cracked")
        player = racks.player(record, PREP, clock)
        player.play(until=lambda g: g.state.current is None)
        player.guide.take(keys.Act())
        assert "holds no solution" in player.guide.said


def test_a_place_is_rejected_with_a_reason_only(tmp_path: Path) -> None:
    with site.begin(tmp_path / "r.tarebook", site.TestClock()) as record:
        racks.planned(record, 2)
        seen = record.prep_state(PREP).last_entry
        with pytest.raises(BadInput, match="reason"):
            verbs.reject(site.acting(record), PREP, seen=seen, place="1", reason=" ")


# ---- tares within the pass ----


def test_a_tare_past_its_lifetime_is_taken_anew_before_the_dose(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 3)
        player = up_to(record, clock, "dose 2")
        guide = player.guide
        tared = guide.state.part("3").last_read("vessel")
        assert tared is not None
        age_s = (record.now() - datetime.fromisoformat(tared.at)).total_seconds()
        for after_s, again in ((1800.0, False), (1801.0, True)):
            last_at = (datetime.fromisoformat(tared.at) + timedelta(seconds=after_s)).isoformat()
            then = replace(guide.state, last_at=last_at, done=guide.state.done | {(3, "dose 2")})
            assert (tare_age.fresh(then) is not None) is again, "half an hour, the setting's default"
        clock.time.pass_(60.0 * 31 - age_s)
        # What is asked of place 2 was decided when its dose was asked.
        player.play(until=lambda g: g.state.part("3").total_mg("solid") > 0)
        state = record.prep_state(PREP)
        tares = [r.act for r in state.reads if r.what == "vessel" and r.part == "3"]
        assert tares == ["vessel 3", "fresh tare 3"]
        finished(record, player)
        third = record.prep_state(PREP).part("3")
        assert third.total_mg("solid") == pytest.approx(10.0, rel=0.06)


def test_no_dose_is_taken_on_a_tare_past_its_lifetime(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 2)
        up_to(record, clock, "dose 1")
        clock.time.pass_(3600.0)
        player = racks.player(record, PREP, clock)  # taken up again after an hour
        player.play(until=at("open"))
        guide = player.guide
        guide.take(keys.Act())
        assert "each is weighed again before its dose" in guide.asks[-1].choices[1]
        guide.take(keys.Chosen(2))
        seen = record.prep_state(PREP).last_entry
        with pytest.raises(Owed, match="past its lifetime"):
            weighing.dose(site.acting(record), PREP, seen=seen, text="11511.00")
        finished(record, player)
        state = record.prep_state(PREP)
        assert [r.act for r in state.reads if r.act.startswith("fresh")] == ["fresh tare 1", "fresh tare 2"]


def test_one_by_one_a_vessel_tared_the_day_before_is_weighed_again(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 2, one_by_one=True)
        player = racks.player(record, PREP, clock)
        player.play(until=lambda g: g.state.act is not None and g.state.act.kind == ActKind.OPEN)
        clock.time.pass_(16 * 3600.0)
        finished(record, player)
        state = record.prep_state(PREP)
        assert [r.act for r in state.reads if r.part == "1" and r.what == "vessel"] == [
            "vessel",
            "fresh tare 1",
        ]
        assert [r.act for r in state.reads if r.part == "2" and r.what == "vessel"] == ["vessel"]


# ---- the empty pan in between ----


@pytest.mark.parametrize(
    ("every", "asked_after"), [("2", ["2", "4", "5"]), ("0", ["5"]), ("5", ["5"]), ("10", ["5"])]
)
def test_the_empty_pan_is_looked_at_after_every_few_places(
    tmp_path: Path, every: str, asked_after: list[str]
) -> None:
    with site.begin(tmp_path / "r.tarebook", site.TestClock()) as record:
        site.put(record, "setting", {"id": "zero_every", "value": every})
        prep = racks.planned(record, 5)
        acts = [a for s in record.prep_state(prep).steps for a in s.acts if a.what == "return"]
        assert [a.part for a in acts] == asked_after


def test_powder_on_the_pan_is_found_within_the_pass(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        site.put(record, "setting", {"id": "zero_every", "value": "2"})
        racks.planned(record, 4)
        player = up_to(record, clock, "return 2")
        guide = player.guide
        guide.take(keys.Typed("0.31"))
        assert "powder lies on the pan: write the incident" in guide.asks[-1].choices
        guide.take(keys.Chosen(1))
        assert guide.state.act is not None
        assert guide.state.act.key == "return 2", "it is read again"
        finished(record, player)
        state = record.prep_state(PREP)
        assert [(r.act, r.within) for r in state.reads if r.what == "return"] == [
            ("return 2", False), ("return 2", True), ("return 4", True),
        ]  # fmt: skip
