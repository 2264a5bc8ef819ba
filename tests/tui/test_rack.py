"""A rack of portions through the guide: one opening or thirty, killed half-way, resumed, a place rejected."""

from collections import Counter
from datetime import datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from store.actions import racks as verbs
from store.actions import registers as register_verbs
from store.errors import BadField, BadInput, Refused
from store.model.words import ActKind, PrepStatus, StepName
from store.procedure import portions
from store.queries import exposures, lots, registers
from store.queries.asked import asked
from store.queries.page import page as prep_page_of
from store.record.record import Record
from store.record.verify import verify
from tests import racks, site
from tests.tui import desks, snap
from tui.__main__ import main
from tui.cli import prep_page
from tui.guide import keys
from tui.guide.guide import Guide
from tui.guide.labels import data_of
from tui.paper.label import label_text
from tui.screens import prep_lines
from tui.screens.bench import BenchScreen
from tui.screens.portions import PortionsScreen
from tui.screens.step import StepScreen

PREP = "P-7F3A-0001"


KEYS = 124
"""Keys of a rack of thirty, as DEVELOPERS says; one more for each tare that was taken anew."""


def half(g: Guide) -> bool:
    return len(g.state.doses) == 15 and not g.on_page


def counted(record: Record, prep: str, clock: site.TestClock) -> Counter[str]:
    """Play a prep to its end and count keys, readings and portions apart, and acknowledgements."""
    player = racks.player(record, prep, clock)
    pressed: Counter[str] = Counter()
    take = player.guide.take

    def counting(intent: keys.Intent) -> None:
        act = player.guide.state.act
        pressed[
            "portion" if isinstance(intent, keys.Chosen) and act and act.kind == ActKind.DOSE else "key"
        ] += 1
        take(intent)

    player.guide.take = counting  # type: ignore[method-assign]
    player.play()
    state = record.prep_state(prep)
    pressed["acknowledged"] = len(state.acks)
    pressed["pages"] = sum(a.how == "page" for a in state.acks)
    pressed["opened"] = sum(1 for h in state.handlings if h.what == "container")
    return pressed


def test_a_rack_of_thirty_is_one_opening_and_one_acknowledgement_of_its_pass(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record)
        found = counted(record, prep, clock)
        state = record.prep_state(prep)
        assert state.status == PrepStatus.CLOSED
        assert found["opened"] == 1
        passes = [a for a in state.acks if a.step_name == StepName.WEIGH_SOLID]
        assert len(passes) == 1
        assert found["acknowledged"] == len(state.steps)
        # One key a tare, one a dose, one a label, two looks at the pan; the rest is what any prep asks.
        fresh = sum(r.act.startswith("fresh tare") for r in state.reads)
        assert found["key"] - fresh == KEYS
        log = exposures.rows(record, asked(record, lot="KD-2"), limit=-1)
        assert [r.what for r in log if r.prep == prep].count("container") == 1
        assert len(state.made) == 30
        assert lots.stock(record, "C-1").used_mg == pytest.approx(sum(d.net_mg for d in state.doses))
        equal = portions.equal(state)
        assert equal is not None
        assert equal.acceptance is not None
        assert equal.acceptance.passes
        assert equal.mass is not None
        assert equal.mass.passes
    assert verify(tmp_path / "r.tarebook").ok


def test_one_by_one_every_vessel_is_an_opening_of_its_own(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record, 5, one_by_one=True)
        found = counted(record, prep, clock)
        assert found["opened"] == 5
        assert record.prep_state(prep).status == PrepStatus.CLOSED


def test_every_portion_may_get_its_own_solvent_to_one_target(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record, 4, wet=True)
        racks.player(record, prep, clock).play()
        state = record.prep_state(prep)
        assert len(state.made) == 4
        for made in state.made:
            assert float(made["result"]["value"]) == pytest.approx(1.0, rel=0.01)
            assert made["result"]["unit"] == "mg/g"
            assert registers.body(record, "lot", made["lot"]["id"])["solvent"] == "WATER"
        nets = [portions.places(state)[n].net_mg for n in range(4)]
        solvents = [portions.places(state)[n].solvent_mg for n in range(4)]
        ratios = [s / n for s, n in zip(solvents, nets, strict=True) if s and n]
        assert max(ratios) / min(ratios) == pytest.approx(1.0, abs=0.01)


def test_killed_half_way_it_goes_on_at_the_same_place_with_every_dose(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record)
        racks.player(record, prep, clock).play(until=half)
    with Record.open(tmp_path / "r.tarebook", now=clock, terminal="7F3A") as record:
        before = [d.entry for d in record.prep_state(prep).doses]
        player = racks.player(record, prep, clock)
        assert player.guide.asks, "whether the container is open is asked first"
        assert player.guide.state.part_of(player.guide.state.step, player.guide.state.act) == "16"
        player.play()
        state = record.prep_state(prep)
        assert state.status == PrepStatus.CLOSED
        assert [d.entry for d in state.doses][: len(before)] == before
        assert sorted(d.part for d in state.doses) == sorted({d.part for d in state.doses})
        assert len(state.made) == 30


def test_after_a_night_fresh_tares_are_asked_for_and_only_of_what_was_not_dosed(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record, 6)
        player = racks.player(record, prep, clock)
        player.play(until=lambda g: len(g.state.doses) == 2 and not g.on_page)
        guide = player.guide
        guide.take(keys.Back())
        guide.take(keys.Chosen(1))  # close what is open now; go on later
        assert not guide.something_open
        clock.time.pass_(16 * 3600.0)
        assert verbs.stale_tares(record.prep_state(prep), now=record.due_now()) == ("3", "4", "5", "6")
        again = racks.player(record, prep, clock)
        again.play(until=lambda g: bool(g.asks) and "past its lifetime" in " ".join(g.asks[-1].text))
        again.play()
        state = record.prep_state(prep)
        assert state.status == PrepStatus.CLOSED
        tares = Counter(r.part for r in state.reads if r.what == "vessel")
        assert tares == {"1": 1, "2": 1, "3": 2, "4": 2, "5": 2, "6": 2}
        assert sum(1 for h in state.handlings if h.what == "container") == 2


def test_a_rejected_place_stays_on_record_and_the_others_go_on(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record, 5, wet=True)
        player = racks.player(record, prep, clock)
        player.play(
            until=lambda g: (
                len(g.state.doses) == 5 and not g.something_open and not g.state.owed and g.state.step == 4
            )
        )
        seen = record.prep_state(prep).last_entry
        with pytest.raises(Refused, match="no place 9"):
            verbs.reject(site.acting(record), prep, seen=seen, place="9", reason="spilled over")
        verbs.reject(site.acting(record), prep, seen=seen, place="3", reason="powder on the rim")
        racks.player(record, prep, clock).play()
        state = record.prep_state(prep)
        assert state.status == PrepStatus.CLOSED
        assert [m["part"] for m in state.made] == ["1", "2", "4", "5"]
        third = portions.places(state)[2]
        assert third.word == portions.REJECTED
        assert not [d for d in state.doses if d.part == "3" and d.content == "solvent"]
        equal = portions.equal(state)
        assert equal is not None
        assert (equal.count, equal.rejected) == (4, 1)
        assert portions.in_words(state) == ("Rack: rejected 3; filled 1 to 2, 4 to 5.",)
        page = prep_page_of(record, prep)
        shown = "\n".join(dict(prep_lines.sections(page, 100, datetime.fromisoformat))["Portions"])
        assert "powder on the rim" in shown
        assert "4 portions" in shown
        text = "\n".join(prep_page.lines(page, budget=False, cautions=False, journal=False))
        assert "rejected" in text
        assert prep_page.as_data(page)["portions"][2]["word"] == "rejected"


def test_a_place_is_rejected_by_the_keys_of_the_step_screen(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record, 3)
        player = racks.player(record, prep, clock)
        player.play(until=lambda g: g.state.step == 4 and not g.on_page and not g.asks)
        guide = player.guide
        guide.take(keys.Back())
        at = next(n for n, c in enumerate(guide.asks[-1].choices, 1) if c.startswith("reject one place"))
        guide.take(keys.Chosen(at))
        guide.take(keys.Typed("2"))
        guide.take(keys.Chosen(1))
        assert "Place 2 is rejected" in guide.said
        player.play()
        assert [m["part"] for m in record.prep_state(prep).made] == ["1", "3"]


def test_powder_portions_are_of_the_lot_they_came_from(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        prep = racks.planned(record, 2)
        racks.player(record, prep, clock).play()
        state = record.prep_state(prep)
        made = state.made[0]
        lot = registers.body(record, "lot", made["lot"]["id"])
        assert (lot["assay"], lot["expiry"]) == ("99.9", "2027-12-31")
        assert not lot.get("concentration")
        label = label_text(data_of(record, state.part("1"), "final"))
        assert "PORTION\n" in label
        assert "  as powder\n" in label


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("R-01", "from 2 to"), ("R-01 to R-99", "no vessel"), ("R-03 to R-01", "backwards"),
        ("R-01, R-01", "twice"), ("R-01, X-1", "no vessel"),
    ],
)  # fmt: skip
def test_vessels_that_make_no_rack_are_refused(tmp_path: Path, text: str, why: str) -> None:
    with site.begin(tmp_path / "r.tarebook", site.TestClock()) as record:
        racks.vials(record, 5)
        assert verbs.vessels(record, "R-02 to R-04, R-01") == ("R-02", "R-03", "R-04", "R-01")
        with pytest.raises(BadField, match=why):
            verbs.vessels(record, text)


def test_a_tare_set_names_the_vessels_in_it_that_are_in_use(tmp_path: Path) -> None:
    with site.begin(tmp_path / "r.tarebook", site.TestClock()) as record:
        racks.vials(record, 4)
        register_verbs.retire(site.acting(record, "ke-1"), "vessel", "R-03", reason="cracked")
        assert verbs.vessels(record, "T-1") == ("R-01", "R-02", "R-04")
        site.put(record, "vessel", {"id": "R-09", "name": "vial", "capacity": "20 mL"})
        assert verbs.vessels(record, "R-09, T-1")[0] == "R-09"
        with pytest.raises(BadField, match="T-8 is no vessel"):
            verbs.vessels(record, "T-8")


def test_a_target_without_a_solvent_is_refused(tmp_path: Path) -> None:
    with site.begin(tmp_path / "r.tarebook", site.TestClock()) as record:
        racks.vials(record, 5)
        with pytest.raises(BadInput, match="A target needs a solvent"):
            verbs.plan(
                record, container="C-1", amount="10 g", vessels_text="R-01 to R-05", balance="B-1",
                enclosure="E-1", target="1 mg/g",
            )  # fmt: skip


def rack_of_vials(record: Record, clock: site.TestClock) -> None:
    """Story: thirty vials are in the register."""
    racks.vials(record)


def in_the_midst(record: Record, clock: site.TestClock) -> None:
    """Story: eight of thirty places are dosed, the container is open."""
    racks.player(record, racks.planned(record), clock).play(
        until=lambda g: len(g.state.doses) == 8 and not g.on_page
    )


async def typed(pilot: desks.Pilot[None], *lines: str | list[str]) -> None:
    for line in lines:
        await snap.send(pilot, line)
        await pilot.pause(0.1)


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_rack_is_planned_on_a_screen_and_begun(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=rack_of_vials)
    app = desks.DeskApp(BenchScreen(desk), PortionsScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "dichromate\r", "R-01 to R-30\r", "10 mg\r", ["down"] * 6)
        snap.check(app, "rack_plan")
        await snap.press(pilot, "1")
        await desks.settle(pilot)
        assert isinstance(app.screen, StepScreen)
    assert len(desk.record.prep_state(PREP).plan.parts) == 30


async def test_vessels_may_be_scanned_one_after_the_other(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=rack_of_vials)
    app = desks.DeskApp(PortionsScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await typed(pilot, "dichromate\r")
        for id in ("R-07", "R-03", "R-03", "R-12"):
            await pilot.pause(0.2)
            await typed(pilot, f"{id}\r")
        screen = app.screen
        assert isinstance(screen, PortionsScreen)
        assert screen.form.values["vessels"] == "R-07, R-03, R-12"
        assert screen.form.current.key == "vessels"


@pytest.mark.parametrize("size", desks.SIZES)
async def test_the_step_screen_of_a_rack_says_where_every_place_is(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, story=in_the_midst)
    guide = desk.guide(PREP)
    guide.asks.clear()
    app = desks.DeskApp(StepScreen(desk, guide))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "rack_page")
        while guide.on_page:
            guide.take(keys.Acknowledged(guide.digit))
        await pilot.pause(1.0)
        assert "Rack: here 9; filled 1 to 8; tared 10 to 30." in snap.text_of(app)
        snap.check(app, "rack_step")


def test_an_acceptance_value_needs_ten_or_thirty(tmp_path: Path) -> None:
    with site.begin(tmp_path / "r.tarebook", site.TestClock()) as record:
        racks.vials(record)
        for many, said in ((9, True), (10, False), (11, True), (30, False)):
            plan = racks.plan(record, many)
            found = list(portions.findings(plan, {"all_mg": "1"}, None))
            assert bool(found) is said, many
        assert racks.plan(record, 10).parts[9].vessel == "R-10"


def test_a_rack_is_planned_from_the_shell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    path = tmp_path / "r.tarebook"
    with site.begin(path, site.TestClock()) as record:
        racks.vials(record, 10)
    words = [
        "--record", str(path), "rack", "--from", "C-1", "--vessels", "R-01 to R-10", "--amount", "10 mg",
        "--balance", "B-1", "--enclosure", "E-1", "--as", "op-1", "--pin-stdin",
    ]  # fmt: skip
    checked = CliRunner().invoke(main, [*words, "--check"], input=f"{site.PINS['op-1']}\n")
    assert checked.exit_code == 0, checked.output
    assert "10 portions, R-01 to R-10" in checked.output
    assert "100.00 mg in all" in checked.output
    assert PREP not in checked.output
    written = CliRunner().invoke(main, words, input=f"{site.PINS['op-1']}\n")
    assert PREP in written.output, written.output
