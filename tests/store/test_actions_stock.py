"""A revised certificate and all it reaches, stock against doses, sealed containers, lots against others."""

from random import Random

import pytest

from store import events as ev
from store.actions import closing, revise, stock
from store.calc import storage as sums
from store.errors import BadField, MovedOn, NotAllowed, OutOfRange, Refused
from store.model.words import PrepStatus
from store.queries import lots, recalled, registers, revised, spread, storage
from store.record.record import Record
from tests import site
from tui.guide.player import Player


@pytest.fixture
def prep(record: Record, clock: site.TestClock) -> str:
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play()
    return prep


def new_purity(record: Record, assay: str = "99.0") -> None:
    seen = registers.row(record, "lot", "KD-2").entry
    revise.certificate(
        site.acting(record, "ke-1"), "KD-2", {"assay": assay}, reason="certificate revised", seen=seen
    )


def written(record: Record, prep: str) -> tuple[float, float]:
    keeper = site.acting(record, "ke-1")
    seen = record.prep_state(prep).last_entry
    return revise.write_anew(keeper, prep, seen=seen, label=lambda s: f"LABEL {s.basis['lot']['assay']}")


# ---- a revised certificate ----


def test_a_certificate_that_did_not_change_changes_nothing(record: Record, prep: str) -> None:
    (row,) = revised.of(record, "KD-2")
    assert (row.how, row.changed, row.print_again) == ("unchanged", False, False)
    assert row.was == row.now


def test_a_new_purity_gives_each_prep_its_new_value_in_proportion_and_the_old_one_stays(
    record: Record, prep: str
) -> None:
    was = float(record.prep_state(prep).result["value"])
    new_purity(record)
    (row,) = revised.of(record, "KD-2")
    assert row.was == was
    assert row.now == pytest.approx(was * 99.0 / 99.9, rel=1e-12)  # w is linear in the assay, as is
    assert (row.how, row.print_again, row.by) == ("computed", True, "op-1")
    assert [h.container for h in row.holders] == [f"S{prep[1:]}-1"]
    assert float(record.prep_state(prep).result["value"]) == was


def test_what_was_made_of_it_follows_in_proportion(
    record: Record, prep: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = f"S{prep[1:]}"
    child = "P-7F3A-0099"
    told = record.entry(record.query("SELECT entry FROM prep WHERE prep = :p", p=prep)[0]["entry"]).event
    assert isinstance(told, ev.Planned)
    basis = {**told.basis, "lot": registers.body(record, "lot", made),
             "container": registers.body(record, "container", f"{made}-1")}  # fmt: skip
    plan = {**told.plan, "container": f"{made}-1"}
    subject = f"prep:{child}"

    def put(event: ev.Event) -> None:
        record.append(event, person="op-2", subject=subject)

    put(ev.Planned(prep=child, plan=plan, steps=told.steps, basis=basis, aims={}))
    put(ev.Dosed(prep=child, step=0, act="dose", content="aliquot", container=f"{made}-1", vessel="V-17",
                 shown="500 mg", net_mg="500", total_mg="500"))  # fmt: skip
    put(ev.PrepClosed(prep=child, result={"value": "50.0", "unit": "ug/g", "u": "0.2"}, lot={"id": "S-99"},
                      container={}, label=""))  # fmt: skip
    new_purity(record)
    near, far = revised.of(record, "KD-2")
    assert (near.prep, near.used_by, far.prep, far.how) == (prep, ("op-2",), child, "in proportion")
    assert far.now == pytest.approx(50.0 * 99.0 / 99.9, rel=1e-12)
    assert far.now_u == pytest.approx(0.2 * 99.0 / 99.9, rel=1e-12)
    further = revised.of(record, near.made_lot)
    # Of a lot in nearly every prep each is computed alone, what it was made of first; the newest come first.
    monkeypatch.setattr(spread, "few", lambda *_, **__: False)
    assert tuple(revised.each(record, "KD-2")) == (near, far)
    solvent = registers.body(record, "container", basis["solvent_container"]["id"])["lot"]
    assert {r.prep: r.now for r in revised.each(record, solvent)} == {prep: near.now, child: far.now}
    assert revised.newest(record, "KD-2", 1) == (near,)
    assert revised.newest(record, near.made_lot, 5) == further != ()


def test_a_result_written_anew_stands_beside_the_old_one_and_waits_for_review_again(
    record: Record, prep: str
) -> None:
    reviewer = site.acting(record, "re-1")
    seen = record.prep_state(prep).last_entry
    closing.review(reviewer, prep, seen=seen, accept=True, reason="", meaning="checked")
    new_purity(record)
    was, now = written(record, prep)
    state = record.prep_state(prep)
    assert (state.status, state.label, state.result["was"]) == (PrepStatus.CLOSED, "LABEL 99.0", str(was))
    assert float(state.result["value"]) == now == pytest.approx(was * 99.0 / 99.9, rel=1e-12)
    assert [e.event.kind for e in record.entries(subject=f"prep:{prep}")].count("prep_closed") == 2
    lot = registers.body(record, "lot", f"S{prep[1:]}")
    assert lot["status"] == "quarantine"
    assert revised.of(record, "KD-2")[0].how == "unchanged"
    with pytest.raises(Refused):
        written(record, prep)


def test_a_rebuild_after_a_revision_changes_nothing(record: Record, prep: str) -> None:
    new_purity(record)
    written(record, prep)
    before = record.query("SELECT * FROM prep")
    record.rebuild()
    assert record.query("SELECT * FROM prep") == before


def test_an_operator_neither_revises_nor_writes_anew(record: Record, prep: str) -> None:
    op_1 = site.acting(record)
    seen = registers.row(record, "lot", "KD-2").entry
    with pytest.raises(NotAllowed):
        revise.certificate(op_1, "KD-2", {"assay": "99"}, reason="new", seen=seen)
    with pytest.raises(NotAllowed):
        revise.write_anew(op_1, prep, seen=0, label=lambda s: "")


def test_a_certificate_gives_no_status_and_a_lot_that_moved_on_is_looked_at_again(record: Record) -> None:
    keeper = site.acting(record, "ke-1")
    with pytest.raises(BadField):
        revise.certificate(keeper, "KD-2", {"status": "released"}, reason="no", seen=0)
    with pytest.raises(MovedOn):
        revise.certificate(keeper, "KD-2", {"assay": "99"}, reason="new", seen=1)


def test_a_recall_names_every_container_of_the_lot_and_of_what_was_made_of_it(
    record: Record, prep: str
) -> None:
    under_way = site.planned(record)
    rows = recalled.of(record, "KD-2")
    assert [(r.lot, r.container) for r in rows] == [("KD-2", "C-1"), (f"S{prep[1:]}", f"S{prep[1:]}-1")]
    assert rows[0].open_preps == (under_way,)
    assert (rows[0].who, rows[1].who) == (("op-1",), ("op-1",))


# ---- stock ----


def test_a_stocktake_is_held_against_the_doses_and_what_is_left_counts_from_it(
    record: Record, prep: str
) -> None:
    before = lots.stock(record, "C-1")
    assert before.left_mg is not None
    with pytest.raises(BadField, match="write what it comes from"):
        stock.take_stock(site.acting(record), "C-1", left="4.5 g", how="weighed")
    stock.take_stock(site.acting(record), "C-1", left="4.5 g", how="weighed", reason="spilled, see incident")
    after = lots.stock(record, "C-1")
    assert (after.counted_mg, after.left_mg) == (4500.0, 4500.0)
    assert after.difference_mg == pytest.approx(4500.0 - before.left_mg, abs=0.01)
    assert after.used_mg == before.used_mg


@pytest.mark.parametrize(("short_mg", "asks"), [(99.0, False), (101.0, True)])
def test_a_difference_within_two_percent_of_the_content_needs_no_reason(
    record: Record, short_mg: float, asks: bool
) -> None:
    left = f"{5000 - short_mg:.1f} mg"
    if asks:
        with pytest.raises(BadField):
            stock.take_stock(site.acting(record), "C-1", left=left, how="weighed")
    else:
        stock.take_stock(site.acting(record), "C-1", left=left, how="weighed")


# ---- sealed ----


def seal(record: Record, prep: str, when: str, shown: str, **more: str) -> storage.Storage:
    stock.weigh_sealed(site.acting(record), f"S{prep[1:]}-1", when=when, balance="B-1", shown=shown, **more)
    return storage.of(record, f"S{prep[1:]}-1")


def closing_g(record: Record, prep: str) -> float:
    (first,) = storage.weighings(record, f"S{prep[1:]}-1")
    return first.mass_mg / 1000.0


def test_a_loss_counts_from_the_weighing_at_closing_and_concentrates_what_is_left(
    record: Record, prep: str
) -> None:
    gross = closing_g(record, prep)
    content = lots.stock(record, f"S{prep[1:]}-1").content_mg
    assert content is not None
    found = seal(record, prep, "before use", f"{(gross - 0.05) * 1000:.2f} mg")
    text = registers.body(record, "lot", f"S{prep[1:]}")["concentration"]
    was = float(str(text).split()[0])
    assert found.lost_mg == pytest.approx(50.0, abs=0.02)
    assert found.value == pytest.approx(was * content / (content - 50.0), rel=1e-5)
    assert not found.leaks


@pytest.mark.parametrize(("percent", "leaks"), [(0.99, False), (1.02, True)])
def test_a_loss_beyond_the_limit_is_called_a_leak_and_gives_no_corrected_value(
    record: Record, prep: str, percent: float, leaks: bool
) -> None:
    gross, content = closing_g(record, prep), lots.stock(record, f"S{prep[1:]}-1").content_mg
    assert content is not None
    found = seal(record, prep, "before use", f"{gross * 1000 - content * percent / 100:.2f} mg")
    assert found.leaks is leaks
    assert ("value" in found.weighings[-1].computed) is not leaks


def test_a_gain_is_no_loss_and_leaves_the_concentration(record: Record, prep: str) -> None:
    found = seal(record, prep, "before use", f"{closing_g(record, prep) * 1000 + 0.02:.2f} mg")
    written_ = str(registers.body(record, "lot", f"S{prep[1:]}")["concentration"]).split()[0]
    assert found.value == pytest.approx(float(written_), rel=1e-12)


def test_after_a_use_the_loss_counts_from_the_weighing_after_it_and_adds_up(
    record: Record, prep: str
) -> None:
    gross = closing_g(record, prep) * 1000
    first = seal(record, prep, "before use", f"{gross - 20:.2f} mg")
    seal(record, prep, "after use", f"{gross - 1020:.2f} mg")
    found = seal(record, prep, "before use", f"{gross - 1050:.2f} mg")
    assert found.lost_mg == pytest.approx(50.0, abs=0.04)
    assert first.value is not None
    assert found.value is not None
    assert found.value > first.value


def test_after_a_leak_no_later_weighing_gives_a_value_again(record: Record, prep: str) -> None:
    gross = closing_g(record, prep) * 1000
    leaked = seal(record, prep, "before use", f"{gross - 1000:.2f} mg")
    assert leaked.leaks
    for when in ("at closing", "after use"):
        anew = seal(record, prep, when, f"{gross - 1000:.2f} mg")
        assert (anew.leaks, anew.value) == (True, None)
        later = seal(record, prep, "before use", f"{gross - 1001:.2f} mg")
        assert (later.leaks, later.value) == (True, None)
        assert "value" not in later.weighings[-1].computed
        assert later.doubt.startswith("it leaked by the weighing of ")


def test_a_leak_that_was_misread_is_weighed_anew_before_the_same_use(record: Record, prep: str) -> None:
    gross = closing_g(record, prep) * 1000
    seal(record, prep, "before use", f"{gross - 1000:.2f} mg")
    found = seal(record, prep, "before use", f"{gross - 1:.2f} mg")
    assert (found.leaks, found.doubt) == (False, "")
    assert found.value is not None


@pytest.mark.parametrize(("percent", "told"), [(0.99, True), (1.02, False)])
def test_a_gain_beyond_the_limit_gives_no_value(
    record: Record, prep: str, percent: float, told: bool
) -> None:
    gross, content = closing_g(record, prep) * 1000, lots.stock(record, f"S{prep[1:]}-1").content_mg
    assert content is not None
    found = seal(record, prep, "before use", f"{gross + content * percent / 100:.2f} mg")
    assert ((found.value is not None), (found.doubt == "")) == (told, told)
    assert not found.leaks
    again = seal(record, prep, "at closing", f"{gross:.2f} mg")
    assert (again.value is not None) is told, "a new beginning does not say what came in"


def test_losses_are_taken_from_what_a_revised_certificate_makes_of_the_lot(record: Record, prep: str) -> None:
    gross = closing_g(record, prep) * 1000
    before = seal(record, prep, "before use", f"{gross - 50:.2f} mg").value
    seal(record, prep, "after use", f"{gross - 50:.2f} mg")
    own = float(str(registers.body(record, "lot", f"S{prep[1:]}")["concentration"]).split()[0])
    new_purity(record)
    written(record, prep)
    now = float(str(registers.body(record, "lot", f"S{prep[1:]}")["concentration"]).split()[0])
    assert now < own
    assert before is not None
    assert storage.of(record, f"S{prep[1:]}-1").value == pytest.approx(before * now / own, rel=1e-7)


def test_a_container_that_was_never_weighed_sealed_has_no_loss(record: Record) -> None:
    with pytest.raises(Refused):
        stock.weigh_sealed(site.acting(record), "C-1", when="before use", balance="B-1", shown="20.00 mg")


@pytest.mark.parametrize("loss", [0.0, 1.0, 500.0, 9999.0])
def test_the_mass_of_the_solute_stays_whatever_solvent_escapes(loss: float) -> None:
    w, _ = sums.concentrated(value=1.0, u=0.0, content_mg=10_000.0, loss_mg=loss, u_loss_mg=0.0)
    assert w * (10_000.0 - loss) == pytest.approx(10_000.0, rel=1e-12)


@pytest.mark.parametrize("loss", [-0.1, 10_000.0])
def test_more_than_all_or_less_than_nothing_cannot_be_lost(loss: float) -> None:
    with pytest.raises(OutOfRange):
        sums.concentrated(value=1.0, u=0.0, content_mg=10_000.0, loss_mg=loss, u_loss_mg=0.0)


# ---- a lot against another ----


def verified(record: Record, **given: str) -> bool:
    words = {"how": "independent check", "against": "gravimetry", "method": "photometry", "ratio": "0.995"}
    entry = stock.verify_lot(site.acting(record, "re-1"), "KD-2", **{**words, **given})
    assert isinstance(entry.event, ev.LotVerified)
    return entry.event.within


@pytest.mark.parametrize(("limit", "within"), [("0.4", False), ("0.5", True), ("", True)])
def test_a_lot_is_within_its_limit_up_to_its_end(record: Record, limit: str, within: bool) -> None:
    assert verified(record, limit_percent=limit) is within


def test_a_previous_lot_is_another_lot_of_the_same_substance(record: Record) -> None:
    for other in ("KD-2", "W-3"):
        with pytest.raises(Refused):
            verified(record, how="previous lot", against=other)
    site.put(record, "lot", {"id": "KD-1", "substance": "K2CR2O7"})
    assert verified(record, how="previous lot", against="KD-1")


@pytest.mark.parametrize(
    "given", [{"ratio": "0"}, {"ratio": "-1"}, {"ratio": ""}, {"method": " "}, {"how": "x"}]
)
def test_a_check_that_says_nothing_is_not_written(record: Record, given: dict[str, str]) -> None:
    with pytest.raises(BadField):
        verified(record, **given)
    assert record.query("SELECT 1 FROM verification") == []
