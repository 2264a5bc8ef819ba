"""Contents of a rack's portions entered afterwards: acceptance value by content uniformity, both stages."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from store import events as ev
from store.actions import assays
from store.errors import BadField, MovedOn, NotAllowed, Refused
from store.model.words import PrepStatus
from store.procedure import portions
from store.procedure.portions import Equal
from store.queries import log
from store.queries.page import page as prep_page_of
from store.record.record import Record
from store.record.verify import verify
from tests import racks, site
from tests.published.checks import every_check
from tests.tui import desks, snap
from tui.__main__ import main
from tui.screens.past_preps import PastPrepsScreen
from tui.screens.prep_page import PrepPageScreen

PREP = "P-7F3A-0001"
TEN = "99.2 101.1 98.7 100.4 99.9 100.8 97.9 101.5 100.0 99.5"
"""Check value UDU-01: USP <905> and Ph. Eur. 2.9.40, Table 2, acceptance value 2.673."""
SCATTERED = "92.0 108.5 97.1 112.3 88.9 101.0 95.4 109.9 104.2 90.6"
"""Check value UDU-04: 20.323, over L1."""


def entered(record: Record, places: str, contents: str, *, by: str = "op-1", **given: str) -> ev.Assayed:
    state = record.prep_state(PREP)
    units = assays.units(state.plan, places, contents)
    more = {"method": "photometry"} | given
    entry = assays.enter(site.acting(record, by), PREP, seen=state.last_entry, units=units, **more)
    assert isinstance(entry.event, ev.Assayed)
    return entry.event


def equal(record: Record) -> Equal:
    found = portions.equal(record.prep_state(PREP))
    assert found is not None
    return found


def test_ten_assayed_portions_are_judged_by_content_uniformity_at_stage_1(tmp_path: Path) -> None:
    check = every_check()["UDU-01"]
    with desks.desk(tmp_path, story=racks.of_ten).record as record:
        before = equal(record)
        assert before.by == "weight variation, not assayed"
        event = entered(record, "1 to 10", TEN, report="R-17")
        found = equal(record)
        assert found.acceptance is not None
        assert found.by == "content uniformity, 10 assayed"
        assert found.acceptance.acceptance_value == pytest.approx(check.expected, abs=check.tolerance)
        assert float(event.computed["acceptance_value"]) == found.acceptance.acceptance_value
        assert (event.computed["passes"], event.computed["by"]) == ("yes", found.by)
        assert "passes stage 1, limit L1 15" in "\n".join(found.lines())
        assert record.prep_state(PREP).status == PrepStatus.CLOSED
        page = prep_page_of(record, PREP)
        assert [p.assay for p in page.portions] == TEN.split()
        assert log.says(event).startswith("assayed, % of the label: 1: 99.2, 2: 101.1")
        assert "acceptance value 2.67" in log.says(event)
    assert verify(tmp_path / "r.tarebook").ok


def test_what_fails_stage_1_is_judged_again_with_twenty_more(tmp_path: Path) -> None:
    """M is the mean where it lies in 98.5 to 101.5; k is 2.4 for ten and 2.0 for thirty (USP <905>)."""
    with desks.desk(tmp_path, story=racks.of_thirty).record as record:
        entered(record, "1 to 10", SCATTERED)
        first = equal(record)
        assert first.acceptance is not None
        assert first.acceptance.acceptance_value == pytest.approx(20.323, abs=0.002)
        assert "DOES NOT PASS stage 1, limit L1 15: 20 more are judged" in "\n".join(first.lines())
        entered(record, "11 to 15", "99 101 99 101 100")
        between = equal(record)
        assert between.acceptance is None
        assert between.why_not.startswith("15 portions are assayed")
        entered(record, "16 to 30", " ".join(["99", "101", "100"] * 5))
        second = equal(record)
        assert second.acceptance is not None
        assert (second.acceptance.stage, second.acceptance.passes, second.acceptance.outside) == (2, True, 0)
        # By hand: thirty of mean 99.997, s = 4.787; AV = 0 + 2.0 s.
        assert second.acceptance.acceptance_value == pytest.approx(2 * second.acceptance.s)
        assert "passes stage 2" in "\n".join(second.lines())


@pytest.mark.parametrize(("lowest", "passes"), [("74.4", True), ("74.3", False)])
def test_one_of_thirty_outside_a_quarter_does_not_pass_stage_2(
    tmp_path: Path, lowest: str, passes: bool
) -> None:
    """(1 - 0.25) M with M the mean of all thirty, 99.14: the limit lies at 74.36 (USP <905>, L2 = 25)."""
    with desks.desk(tmp_path, story=racks.of_thirty).record as record:
        entered(record, "1 to 30", " ".join(["100"] * 29 + [lowest]))
        found = equal(record)
        assert found.acceptance is not None
        assert found.acceptance.acceptance_value < 15
        assert found.acceptance.passes is passes
        assert ("1 outside ±25 % (L2)" in "\n".join(found.lines())) is not passes


def test_the_mean_of_an_assay_moves_the_acceptance_value_by_weight_variation(tmp_path: Path) -> None:
    """x_i = w_i A / W: with A = 97 % the mean is 97, M is 98.5, and 1.5 is added to k s (USP <905>)."""
    with desks.desk(tmp_path, story=racks.of_ten).record as record:
        entered(record, "", "", mean="97.0")
        found = equal(record)
        masses = [p.net_mg for p in portions.places(record.prep_state(PREP)) if p.net_mg is not None]
        assert found.acceptance is not None
        assert found.by == "weight variation, assay 97.0 %"
        assert found.acceptance.mean == pytest.approx(97.0)
        assert found.acceptance.reference == 98.5
        rsd = found.rsd_percent
        assert rsd is not None
        assert found.acceptance.acceptance_value == pytest.approx(1.5 + 2.4 * rsd * 97.0 / 100.0)
        assert len(masses) == 10


def test_a_report_is_replaced_with_a_reason_and_taken_back(tmp_path: Path) -> None:
    with desks.desk(tmp_path, story=racks.of_ten).record as record:
        entered(record, "1 to 10", TEN)
        with pytest.raises(BadField, match="write why"):
            entered(record, "R-03", "98.9")
        entered(record, "R-03", "98,9", note="a slip of the report")
        assert portions.assayed(record.prep_state(PREP)).units["3"] == "98.9"
        entered(record, "3", "-", note="the sample was mixed up")
        assert "3" not in portions.assayed(record.prep_state(PREP)).units
        assert equal(record).acceptance is None
        entered(record, "", "", mean="99.0")
        entered(record, "", "", mean="-", note="of another lot")
        assert portions.assayed(record.prep_state(PREP)).mean == ""
        lines = [e for e in record.entries(subject=f"prep:{PREP}") if isinstance(e.event, ev.Assayed)]
        assert len(lines) == 5, "each report stays in the journal"


@pytest.mark.parametrize(
    ("places", "contents", "why"),
    [
        ("1 to 10", "99 100", "2 contents for 10 places"), ("1, 99", "99 100", "no place 99"),
        ("1, R-01", "99 100", "twice"), ("3 to 1", "99 99 99", "backwards"), ("1", "301", "from 0 to 300"),
        ("1", "ninety", "ninety"), ("1 2", "99.2,101.1", "99.2,101.1"),
    ],
)  # fmt: skip
def test_what_is_no_list_of_contents_is_refused(tmp_path: Path, places: str, contents: str, why: str) -> None:
    with site.begin(tmp_path / "r.tarebook", site.TestClock()) as record:
        racks.vials(record, 10)
        plan = racks.plan(record, 10)
        assert assays.units(plan, "1", "300") == {"1": "300"}
        if "," not in contents:
            with pytest.raises(BadField, match=why):
                assays.units(plan, places, contents)
        else:
            with pytest.raises(BadField):
                assays.units(plan, places, contents)


def test_contents_are_entered_of_portions_that_stand_in_a_closed_rack_only(tmp_path: Path) -> None:
    clock = site.TestClock()
    with site.begin(tmp_path / "r.tarebook", clock) as record:
        racks.planned(record, 3)
        with pytest.raises(Refused, match="is open"):
            entered(record, "1", "99")
        player = racks.player(record, PREP, clock)
        player.play(until=lambda g: g.state.step == 4 and not g.on_page and not g.asks)
        from store.actions import racks as verbs

        seen = record.prep_state(PREP).last_entry
        verbs.reject(site.acting(record), PREP, seen=seen, place="2", reason="powder on the rim")
        racks.player(record, PREP, clock).play()
        with pytest.raises(Refused, match="no portion in place 2"):
            entered(record, "1, 2", "99 99")
        with pytest.raises(BadField, match="method"):
            entered(record, "1", "99", method=" ")
        with pytest.raises(BadField, match="write the content"):
            entered(record, "", "")
        with pytest.raises(NotAllowed):
            entered(record, "1", "99", by="ke-1")
        with pytest.raises(MovedOn):
            assays.enter(site.acting(record), PREP, seen=1, units={"1": "99"}, method="photometry")
        entered(record, "1", "99")


def test_an_assay_is_entered_from_the_shell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    desks.desk(tmp_path, story=racks.of_ten).record.close()
    path = tmp_path / "r.tarebook"
    words = [
        "--record", str(path), "enter", "assay", PREP, "--places", "1 to 10", "--contents", TEN,
        "--method", "photometry", "--as", "op-1", "--pin-stdin",
    ]  # fmt: skip
    done = CliRunner().invoke(main, words, input=f"{site.PINS['op-1']}\n")
    assert done.exit_code == 0, done.output
    assert "USP <905> acceptance value 2.67 (content uniformity, 10 assayed): passes stage 1" in done.output
    shown = CliRunner().invoke(main, ["--record", str(path), "show", PREP])
    assert "content uniformity, 10 assayed" in shown.output
    again = CliRunner().invoke(main, words, input=f"{site.PINS['op-1']}\n")
    assert again.exit_code == 2
    assert "write why" in again.output


@pytest.mark.parametrize("size", desks.SIZES)
async def test_an_assay_is_entered_on_the_page_of_the_rack(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=racks.of_ten)
    app = desks.DeskApp(PastPrepsScreen(desk), PrepPageScreen(desk, PREP))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "s")
        await desks.settle(pilot)
        lines: tuple[str | list[str], ...] = (
            "1 to 10\r", f"{TEN}\r", ["down"] * 2, "photometry\r", ["down"], "R-17\r",
        )  # fmt: skip
        for line in lines:
            await snap.send(pilot, line)
            await pilot.pause(0.1)
        snap.check(app, "rack_assay")
        await pilot.pause(0.5)
        await snap.send(pilot, "\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, PrepPageScreen)
        assert "acceptance value 2.67 (content uniformity, 10 assayed)" in "\n".join(app.screen.text(200))
