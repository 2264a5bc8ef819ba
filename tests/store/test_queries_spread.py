"""What many preps took from is answered from sums and pages, with the same rows as the usual lot's."""

from collections.abc import Iterator
from itertools import product
from typing import Any

import pytest

from store import events as ev
from store.queries import asked, exposures, incidents, lots, of_lot, recalled, spread, taken, trace
from store.record.record import Record
from store.record.taken_shape import LARGE_MG
from store.record.verify import verify
from tests.store.asked_story import Story, begin

LOTS = ("KD-2", "W-1", "S-7F3A-0001", "S-7F3A-0002", "S-7F3A-0004", "S-7F3A-0007")


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Story]:
    """Dilutions of dilutions, one of two solutions, and everything that may become of a dose."""
    story = begin(tmp_path_factory.mktemp("told"))
    _, one = story.whole(mg="10.01", by="op-1")
    _, two = story.whole(lot=one, content="aliquot", mg="500.03", by="op-2", present=("op-1",))
    story.whole(lot=two, content="aliquot", mg="250.20")
    story.whole(lot=one, content="aliquot", mg="120.10")
    story.whole(rehearsal=True, by="so-1")
    _stocktake(story, "KD-2-1", "950")
    prep = story.plan()
    spilt, dose = story.weigh(prep, "12.50")
    story.put(ev.Discarded(prep=prep, entry=dose, reason="spilt"))
    _, twice = story.weigh(prep, "7.00")
    story.put(ev.NeverHappened(prep=prep, entry=twice, second="op-2", reason="typed twice"))
    _, misread = story.weigh(prep, "3.30", by="op-2")
    corrected = ev.Corrected(
        prep=prep, entry=misread, shown="3.80 mg", net_mg="3.80", total_mg="3.80", reason="misread"
    )
    story.put(corrected)
    story.note(prep, spilt, unusual="a grain beside the pan")
    _stocktake(story, "KD-2-1", "930")
    mixed = story.plan(lot=one, content="aliquot")
    story.weigh(mixed, "40.00", content="aliquot", container=f"{one}-1")
    opening, _ = story.weigh(mixed, "60.00", content="aliquot", container=f"{two}-1", by="op-2")
    spill = ev.IncidentNoted(prep=mixed, what="spill", note="a drop", handling=opening)
    story.put(spill)
    story.weigh(mixed, "9000", step=2, content="solvent", container="W-1-1", substances=("K2CR2O7", "WATER"))
    story.close(mixed)
    only_twice = story.plan()
    opened, dose = story.weigh(only_twice, "1.00")
    for entry in (dose, opened):
        story.put(ev.NeverHappened(prep=only_twice, entry=entry, second="op-2", reason="another vessel"))
    large = story.plan()
    story.weigh(large, f"{LARGE_MG:.0f}", step=2, content="solvent", container="W-1-1")
    last, _ = story.whole(lot=two, content="aliquot", mg="33.00")
    assert last == "P-7F3A-0010"
    yield story
    story.record.close()


def _stocktake(story: Story, container: str, left: str) -> None:
    story.put(ev.StockTaken(container=container, how="weighed", shown=f"{left} mg", left_mg=left))


@pytest.fixture
def many(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take every lot for one that many preps rest on, and read three preps at once."""
    monkeypatch.setattr(spread, "few", lambda *_, **__: False)
    monkeypatch.setattr(spread, "CHUNK", 3)


# ---- sums ----


COUNTS = "d.state <> 'never happened' AND NOT p.rehearsal"
OF_DOSES = f"""
    SELECT count(*) AS doses, count(DISTINCT d.prep) AS preps, coalesce(sum(d.net_mg), 0.0) AS used,
           coalesce(sum(CASE WHEN d.state = 'discarded' OR NOT d.usable THEN d.net_mg END), 0.0) AS wasted,
           coalesce(sum(CASE WHEN d.state = 'discarded' THEN d.net_mg END), 0.0) AS discarded
    FROM dose AS d JOIN prep AS p ON p.prep = d.prep WHERE {COUNTS} AND d.entry > :since
"""


def test_what_is_kept_of_a_container_is_what_its_doses_add_up_to(told: Story) -> None:
    record = told.record
    containers = [r["container"] for r in record.query("SELECT DISTINCT container FROM dose")]
    assert len(containers) > 3
    takes = [r["entry"] for r in record.query("SELECT entry FROM stocktake WHERE container = 'KD-2-1'")]
    assert len(takes) == 2
    asked_for = [(id, 0) for id in containers] + [("KD-2-1", entry) for entry in takes]
    for container, since in asked_for:
        kept = taken.of_container(record, container, since=since)
        (doses,) = record.query(f"{OF_DOSES} AND d.container = :of", of=container, since=since)
        assert kept.doses == doses["doses"], container
        assert (kept.used_mg, kept.wasted_mg) == pytest.approx((doses["used"], doses["wasted"]))
        (opened,) = record.query(
            "SELECT count(*) AS n FROM handling AS d JOIN prep AS p ON p.prep = d.prep "
            f"WHERE {COUNTS} AND d.container = :of AND d.entry > :since",
            of=container,
            since=since,
        )
        assert kept.openings == opened["n"]
    assert taken.of_container(record, "KD-2-1").wasted_mg == 12.5
    assert taken.of_container(record, "KD-2-1", since=takes[0]).used_mg == 16.3
    assert taken.of_container(record, "W-1-1").used_mg > LARGE_MG
    assert lots.stock(record, "KD-2-1").left_mg == lots.left_mg(record, "KD-2-1") == 930.0


@pytest.mark.parametrize("lot", LOTS)
def test_what_is_kept_of_a_lot_is_what_its_doses_add_up_to(told: Story, lot: str) -> None:
    kept = taken.of_lot(told.record, lot)
    (doses,) = told.record.query(f"{OF_DOSES} AND d.lot = :of", of=lot, since=0)
    assert (kept.preps, kept.doses) == (doses["preps"], doses["doses"])
    masses = doses["used"] - doses["discarded"], doses["discarded"]
    assert (kept.net_mg, kept.discarded_mg) == pytest.approx(masses)
    people = told.record.query(
        "SELECT DISTINCT person FROM dose WHERE lot = :lot AND state <> 'never happened' ORDER BY person",
        lot=lot,
    )
    assert taken.people(told.record, lot) == tuple(r["person"] for r in people)


def test_a_dose_counts_before_its_opening_is_closed_and_after_whatever_becomes_of_it(tmp_path: Any) -> None:
    story = begin(tmp_path)
    record = story.record
    story.whole(by="op-2")
    prep, practice = story.plan(), story.plan(rehearsal=True)

    def told_now() -> tuple[Any, ...]:
        (doses,) = record.query(f"{OF_DOSES} AND d.container = 'KD-2-1'", since=0)
        kept, lot = taken.of_container(record, "KD-2-1"), taken.of_lot(record, "KD-2")
        assert (kept.doses, lot.doses, lot.preps) == (doses["doses"], doses["doses"], doses["preps"])
        masses = doses["used"], doses["wasted"], doses["used"] - doses["discarded"]
        assert (kept.used_mg, kept.wasted_mg, lot.net_mg) == pytest.approx(masses)
        people = record.query("SELECT DISTINCT person FROM dose WHERE lot = 'KD-2' ORDER BY person")
        assert taken.people(record, "KD-2") == tuple(r["person"] for r in people)
        return (
            kept.used_mg,
            lot.preps,
            record.query("SELECT * FROM taken"),
            record.query("SELECT * FROM taken_upto"),
        )

    def dosed(prep: str, mg: str, *, by: str = "op-1", **more: Any) -> int:
        event = ev.Dosed(
            prep=prep, step=1, act="dose", content="solid", container="KD-2-1", vessel="V-17",
            shown=f"{mg} mg", net_mg=mg, total_mg=mg, **more,
        )  # fmt: skip
        return story.put(event, by=by)

    seen = [told_now()]
    first = dosed(prep, "1.10", usable=False)
    seen.append(told_now())
    last = dosed(prep, "2.20")
    seen.append(told_now())
    dosed(practice, "7.70", by="so-1")
    seen.append(told_now())
    assert [(used, preps) for used, preps, *_ in seen] == [(10.0, 1), (11.1, 2), (13.3, 2), (13.3, 2)]
    assert seen[0][2:] == seen[-1][2:], "a dose alone writes no sum"
    corrected = ev.Corrected(
        prep=prep, entry=last, shown="2.50 mg", net_mg="2.50", total_mg="2.50", reason="misread"
    )
    for change in (
        corrected,
        ev.Discarded(prep=prep, entry=first, reason="spilt"),
        ev.NeverHappened(prep=prep, entry=last, second="op-2", reason="twice"),
    ):
        story.put(change)
        told_now()
    dosed(prep, "0.40")
    after = told_now()
    assert after[:2] == (11.5, 2)
    record.rebuild()
    assert told_now() == after
    assert verify(record.path).ok
    record.close()


def test_a_prep_all_of_whose_doses_never_happened_took_nothing(told: Story) -> None:
    assert taken.of_lot(told.record, "KD-2").preps == 2
    assert taken.people(told.record, "KD-2") == ("op-1", "op-2", "so-1")


def test_such_a_record_verifies_and_folds_anew_to_the_same_sums(told: Story) -> None:
    def kept() -> list[Any]:
        return [told.record.query(f"SELECT * FROM {table}") for table in ("taken", "lot_handling")]

    before = kept()
    assert all(before)
    told.record.rebuild()
    assert kept() == before
    assert verify(told.record.path).ok


# ---- everything, and the newest ----


def _without_order(rows: Any) -> list[str]:
    return sorted(map(str, rows))


@pytest.mark.parametrize("lot", LOTS)
def test_every_link_and_container_comes_once_however_it_is_read(
    told: Story, lot: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = told.record
    links, containers = trace.trace(record, lot).down, recalled.of(record, lot)
    with monkeypatch.context() as patched:
        patched.setattr(spread, "few", lambda *_, **__: False)
        patched.setattr(spread, "CHUNK", 2)
        read, found = list(trace.each(record, lot)), list(recalled.each(record, lot))
    assert _without_order(read) == _without_order(links)
    assert [x.depth for x in read] == sorted(x.depth for x in links)
    assert _without_order(found) == _without_order(containers)


def test_what_a_vessel_holds_of_two_generations_counts_at_the_nearer(told: Story) -> None:
    rows = [r for r in spread.each(told.record, "KD-2") if r["child"] == "S-7F3A-0007"]
    assert [(r["parent"], r["depth"]) for r in rows] == [("S-7F3A-0001", 2), ("S-7F3A-0002", 3)]
    assert [spread.first_in(told.record, "KD-2", r) for r in rows] == [True, False]
    assert spread.depth(told.record, "S-7F3A-0007", "KD-2") == 2
    assert spread.depth(told.record, "KD-2", "S-7F3A-0007") is None


@pytest.mark.usefixtures("many")
def test_a_page_holds_the_nearest_and_of_these_the_newest(told: Story) -> None:
    record = told.record
    page = trace.trace(record, "W-1", newest=3)
    assert not page.whole
    assert [x.prep for x in page.down] == ["P-7F3A-0010", "P-7F3A-0009", "P-7F3A-0007"]
    assert (page.taken.preps, page.taken.doses) == (7, 7)
    further = trace.trace(record, "KD-2", newest=4).down
    assert [(x.depth, x.parent) for x in further] == [
        (1, "KD-2"), (1, "KD-2"), (2, "S-7F3A-0001"), (2, "S-7F3A-0001"),
    ]  # fmt: skip
    assert [r.lot for r in recalled.newest(record, "W-1", 2)] == ["W-1", "S-7F3A-0010"]


def test_how_many_rest_on_a_lot_is_known_without_following_more(told: Story) -> None:
    rest_on = {x.prep for x in trace.trace(told.record, "W-1").down}
    assert not spread.few(told.record, "W-1", most=3)
    assert spread.few(told.record, "W-1", most=3 * len(rest_on))
    assert trace.trace(told.record, "W-1", newest=100).whole


def test_a_stale_parent_of_another_line_is_named_on_a_page_too(
    told: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(spread, "few", lambda *_, **__: False)
    whole = {x.child: x.stale for x in trace.trace(told.record, "W-1").down if x.depth == 1}
    page = {x.child: x.stale for x in trace.trace(told.record, "W-1", newest=50).down if x.depth == 1}
    assert page == whole


# ---- the exposure log of a lot ----

NARROWED: tuple[dict[str, Any], ...] = (
    {}, {"person": "op-2"}, {"substance": "WATER"}, {"family": "CMR_1"}, {"since": "2026-03-02"},
    {"what": "waste"}, {"enclosure": "E-1"}, {"incidents": True},
    {"person": "op-1", "substance": "K2CR2O7", "until": "2026-03-02"},
)  # fmt: skip


@pytest.mark.parametrize("wide", [0, 10**6])
def test_handlings_and_incidents_of_a_lot_are_those_of_its_preps(
    told: Story, wide: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(of_lot, "WIDE", wide)
    found = 0
    for lot, more in product((*LOTS, "nowhere"), NARROWED):
        which = asked.asked(told.record, lot=lot, **more)
        quick = exposures.rows(told.record, which, limit=-1)
        entries = told.record.query(f"{which.entries} ORDER BY entry DESC", **which.params)
        assert [h.entry for h in quick] == [r["entry"] for r in entries], (lot, more)
        assert list(exposures.each(told.record, which, chunk=4)) == list(quick)
        found += len(quick)
    assert found > 100
    wrong = {lot: len(incidents.of(told.record, asked.asked(told.record, lot=lot))) for lot in LOTS[:3]}
    assert wrong == {"KD-2": 2, "W-1": 2, "S-7F3A-0001": 1}


def test_a_handling_comes_under_a_lot_that_was_made_only_after_it(tmp_path: Any) -> None:
    """A record that contradicts itself: what a prep weighs is closed, and so made, after it."""
    story = begin(tmp_path)
    first = story.plan()
    story.weigh(first, "10.00")
    lot = first.replace("P-", "S-")
    story.row("lot", {"id": lot, "substance": "K2CR2O7"})
    story.row("container", {"id": f"{lot}-1", "lot": lot})
    second = story.plan(lot=lot, content="aliquot")
    opening, _ = story.weigh(second, "5.00", content="aliquot", container=f"{lot}-1")
    assert opening not in _handlings(story.record, "KD-2")
    story.close(first)
    assert opening in _handlings(story.record, "KD-2")
    before = story.record.query("SELECT * FROM lot_handling")
    story.record.rebuild()
    assert story.record.query("SELECT * FROM lot_handling") == before
    story.record.close()


def _handlings(record: Record, lot: str) -> list[int]:
    return [h.entry for h in exposures.of(record, lot=lot, limit=-1)]


@pytest.mark.usefixtures("many")
def test_a_prep_that_takes_again_while_it_is_read_is_not_left_out(tmp_path: Any) -> None:
    story = begin(tmp_path)
    under_way = story.plan()
    story.weigh(under_way, "1.00")
    closed = [story.whole()[0] for _ in range(5)]
    reading = trace.each(story.record, "KD-2")
    first = next(reading)
    story.weigh(under_way, "2.00")
    assert [first.prep, *(x.prep for x in reading)] == [*reversed(closed), under_way]
    story.record.close()
