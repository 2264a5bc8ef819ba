"""The derived tables say what the journal says, in the same transaction, and a rebuild changes nothing."""

import hashlib
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from store import events as ev
from store.model.registers import REGISTERS, columns
from store.record import derived, projection
from store.record.record import Record
from store.record.tables import names
from tests.store.record_story import PLAN, Clock, dosed, new_record, planned, prep_events, prep_story, story

PREP = "P-7F3A-0001"
SUBJECT = f"prep:{PREP}"


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def record(tmp_path: Path, clock: Clock) -> Iterator[Record]:
    with new_record(tmp_path / "site.tarebook", clock) as made:
        story(made, clock)
        yield made


def _tables(record: Record) -> dict[str, list[Any]]:
    return {name: record.query(f"SELECT * FROM {name}") for name in (*names(), *REGISTERS)}


def _dose(record: Record, shown: str) -> Any:
    (row,) = record.query("SELECT * FROM dose WHERE first_shown = :shown", shown=shown)
    return row


# ---- rebuild ----


def test_every_kind_of_event_and_every_table_is_in_the_story(record: Record) -> None:
    assert {entry.event.kind for entry in record.entries()} == set(ev.KINDS)
    empty = {name for name, rows in _tables(record).items() if not rows}
    assert empty == {"balance", "enclosure", "glove", "rule", "procedure", "mixture", "stream"}


def test_rebuilding_changes_nothing(record: Record) -> None:
    before = _tables(record)
    record.rebuild()
    assert _tables(record) == before


def test_rebuilding_brings_back_what_was_lost(record: Record) -> None:
    before = _tables(record)
    with record.transaction():
        for table in names():
            record._conn.execute(f"DELETE FROM {table}")
    record.rebuild()
    assert _tables(record) == before


def test_rebuilding_with_little_memory_changes_nothing(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = _tables(record)
    monkeypatch.setattr(projection, "KEEP", 0)
    record.rebuild()
    assert _tables(record) == before


def test_rebuilding_changes_nothing_however_often_it_writes(
    record: Record, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = _tables(record)
    for after in (1, 2, 3, 7):
        monkeypatch.setattr(projection, "SETTLE", after)
        record.rebuild()
        assert _tables(record) == before


def _later_events() -> tuple[ev.Event, ...]:
    made = tuple(event for event in prep_events(PREP) if isinstance(event, ev.Event))[1:]
    return (
        *made,
        ev.Closed(prep=PREP, step=1, act="close", opened=7, open_s="12.5"),
        ev.ExposureNoted(
            prep=PREP, step=1, act="note", handlings=(3, 5, 7), enclosure="E-1", gloves="nitrile",
            present=("op-2", "op-1"),
        ),
        ev.Corrected(prep=PREP, entry=5, shown="3.00 mg", net_mg="3.00", total_mg="3.00", reason="misread"),
        ev.Discarded(prep=PREP, entry=6, reason="waste"),
        ev.NeverHappened(prep=PREP, entry=4, second="op-2", reason="no"),
        ev.Handled(prep=PREP, step=2, act="waste", what="waste", substances=("K2CR2O7",)),
        ev.IncidentNoted(prep=PREP, what="spill", note="a grain", handling=4),
        ev.WentBack(prep=PREP, step=0, act="vessel", reason="again"),
        ev.PrepClosed(prep=PREP, result={"value": "1"}, lot={"id": "S-1"}, container={}, label="label"),
        ev.Reviewed(prep=PREP, verdict="returned", reason="why", meaning="seen", head="1:a"),
    )  # fmt: skip


@given(st.lists(st.tuples(st.sampled_from(_later_events()), st.sampled_from(["op-1", "op-2"]))))
@settings(derandomize=True, deadline=None, max_examples=40)
def test_whatever_happens_in_whatever_order_a_rebuild_changes_nothing(
    happened: list[tuple[ev.Event, str]],
) -> None:
    with TemporaryDirectory() as folder, new_record(Path(folder) / "r", Clock()) as record:
        record.append(planned(PREP), person="op-1", subject=SUBJECT)
        for event, person in happened:
            record.append(event, person=person, subject=SUBJECT)
        before, state = _tables(record), record.prep_state(PREP)
        record.rebuild()
        assert _tables(record) == before
        assert record.prep_state(PREP) == state


def test_a_change_of_the_derived_tables_raises_their_version() -> None:
    shape = hashlib.sha256("\n".join(derived.statements()).encode()).hexdigest()[:16]
    assert (derived.VERSION, shape) == (19, "291c3a4bac12a945"), (
        "the derived tables changed: raise derived.VERSION, so that older files are made anew, "
        "then write both here"
    )


# ---- registers ----


def test_a_register_row_stands_as_it_was_entered_last_and_its_history_stays(record: Record) -> None:
    (row,) = record.query("SELECT roles, retired FROM person WHERE id = 'op-2'")
    assert row["roles"] == '["operator","reviewer"]'
    history = record.query(
        """
        SELECT reason, retired FROM register_history
        WHERE register = 'person' AND id = 'op-2' ORDER BY entry
        """
    )
    assert [dict(h) for h in history] == [
        {"reason": "", "retired": 0},
        {"reason": "may review", "retired": 0},
    ]


def test_a_retired_row_keeps_its_content(record: Record) -> None:
    (row,) = record.query("SELECT substance, retired, entered_by FROM lot WHERE id = 'KD-3'")
    assert dict(row) == {"substance": "K2CR2O7", "retired": 1, "entered_by": "k-1"}


@pytest.mark.parametrize("register", list(REGISTERS))
def test_a_register_is_read_as_a_table_with_its_declared_fields(record: Record, register: str) -> None:
    found = [row["name"] for row in record.query(f"SELECT name FROM pragma_table_info('{register}')")]
    assert found == [*(f.name for f in columns(register)), "entry", "entered_at", "entered_by", "retired"]


def test_a_field_left_empty_has_its_default_in_the_view(record: Record) -> None:
    (row,) = record.query("SELECT form, skin_notation, peroxide_former, tags, cas FROM substance")
    assert dict(row) == {"form": "powder", "skin_notation": 1, "peroxide_former": 0, "tags": "[]", "cas": ""}


# ---- doses ----


def test_a_corrected_dose_keeps_what_was_first_shown_and_which_entry_corrected_it(record: Record) -> None:
    row = _dose(record, "6.10 mg")
    assert (row["shown"], row["net_mg"], row["total_mg"], row["state"]) == (
        "6.02 mg",
        6.02,
        6.02,
        "corrected",
    )
    assert record.entry(row["by_entry"]).event.kind == "corrected"


@pytest.mark.parametrize(("shown", "state"), [("10.13 mg", "discarded"), ("2.00 mg", "never happened")])
def test_a_withdrawn_dose_stays_in_its_row(record: Record, shown: str, state: str) -> None:
    row = _dose(record, shown)
    assert row["state"] == state
    assert record.entry(row["by_entry"]).event.kind == state.replace(" ", "_")


@pytest.mark.parametrize(
    ("shown", "lot", "substance"),
    [("6.10 mg", "KD-2", "K2CR2O7"), ("2.00 mg", "KD-3", "K2CR2O7"), ("1.00 mg", "", "")],
)
def test_a_dose_names_the_lot_of_the_plan_or_else_of_the_register(
    record: Record, shown: str, lot: str, substance: str
) -> None:
    row = _dose(record, shown)
    assert (row["lot"], row["substance"]) == (lot, substance)


def test_a_dose_points_to_the_hazards_as_classified_then(record: Record) -> None:
    (row,) = record.query(
        "SELECT s.* FROM dose d JOIN hazard_snapshot s ON s.id = d.snapshot WHERE d.first_shown = '6.10 mg'"
    )
    assert (row["signal_word"], row["statements"], row["families"], row["edition"]) == (
        "DANGER", '["H350","H334"]', '["CMR1","RESP_SENS"]', "2025-09-01",
    )  # fmt: skip


def test_a_substance_classified_as_before_shares_its_snapshot_and_else_gets_its_own(record: Record) -> None:
    assert len(record.query("SELECT 1 FROM hazard_snapshot")) == 2
    changed = planned("P-7F3A-0003")
    basis = {**changed.basis, "hazards": {"K2CR2O7": {"edition": "2027-01-01", "statements": ["H350"]}}}
    later = ev.Planned(prep=changed.prep, plan=changed.plan, steps=changed.steps, basis=basis, aims={})
    record.append(later, person="op-1", subject="prep:P-7F3A-0003")
    found = record.query("SELECT edition, signal_word FROM hazard_snapshot WHERE substance = 'K2CR2O7'")
    assert [dict(row) for row in found] == [
        {"edition": "2025-09-01", "signal_word": "DANGER"},
        {"edition": "2027-01-01", "signal_word": ""},
    ]


# ---- exposures ----


def _opening(record: Record) -> Any:
    (row,) = record.query("SELECT * FROM handling WHERE what = 'container'")
    return row


def test_a_handling_carries_its_time_open_its_mass_and_its_note(record: Record) -> None:
    row = _opening(record)
    assert (row["open_s"], row["estimated"], row["gloves"], row["unusual"], row["day"]) == (
        95.5, 1, "neoprene", 1, "2026-03-02",
    )  # fmt: skip
    assert record.entry(row["closed_entry"]).event.kind == "closed"
    assert record.entry(row["noted_entry"]).event.kind == "exposure_noted"


def test_a_correction_changes_the_mass_of_a_handling_and_leaves_the_handling(record: Record) -> None:
    doses = record.query("SELECT net_mg FROM dose WHERE state <> 'never happened'")
    assert _opening(record)["net_mg"] == pytest.approx(sum(row["net_mg"] for row in doses))
    assert _opening(record)["state"] == "stands"


def test_everyone_present_is_in_the_exposure_log(record: Record) -> None:
    rows = record.query(
        "SELECT person FROM handling_family WHERE handling = :h AND family = 'CMR1'",
        h=_opening(record)["entry"],
    )
    assert [row["person"] for row in rows] == ["op-1", "op-2"]


def test_a_handling_that_never_happened_leaves_the_sums_and_stays_in_the_log(record: Record) -> None:
    (row,) = record.query("SELECT * FROM handling WHERE what = 'waste'")
    assert row["state"] == "never happened"
    assert record.entry(row["by_entry"]).event.kind == "never_happened"
    counted = record.query("SELECT counts FROM handling_substance WHERE handling = :h", h=row["entry"])
    assert [r["counts"] for r in counted] == [0]


@pytest.mark.parametrize("by", ["substance", "family"])
def test_the_sums_of_a_day_are_the_sums_of_its_handlings(record: Record, clock: Clock, by: str) -> None:
    prep_story(record, "P-7F3A-0004")
    clock.at += timedelta(days=1)
    prep_story(record, "P-7F3A-0005")
    summed = record.query(
        f"""
        SELECT person, day, {by}, count(*) AS handlings, sum(net_mg) AS net_mg, sum(open_s) AS open_s,
            sum(estimated) AS estimated, sum(iif(estimated, open_s, 0.0)) AS estimated_s,
            max(open_s) AS longest_s
        FROM handling_{by} WHERE counts GROUP BY person, day, {by} ORDER BY person, day, {by}
        """
    )
    sums = "handlings, net_mg, open_s, estimated, estimated_s, longest_s"
    of_persons = (
        f"SELECT person, day, {by}, {sums} FROM daily_{by} WHERE person <> '' ORDER BY person, day, {by}"
    )
    assert record.query(of_persons) == summed
    assert len({row["day"] for row in summed}) == 3


def test_everybody_is_added_up_with_each_handling_once(record: Record, clock: Clock) -> None:
    prep_story(record, "P-7F3A-0004")
    clock.at += timedelta(days=1)
    prep_story(record, "P-7F3A-0005")
    for by in ("substance", "family"):
        once = record.query(
            f"""
            SELECT day, {by}, count(*) AS handlings, sum(open_s) AS open_s, sum(estimated) AS estimated
            FROM (SELECT DISTINCT day, {by}, handling, open_s, estimated FROM handling_{by} WHERE counts)
            GROUP BY day, {by} ORDER BY day, {by}
            """
        )
        assert len(once) > 2
        columns = f"day, {by}, handlings, open_s, estimated"
        assert record.query(f"SELECT {columns} FROM daily_{by} WHERE person = '' ORDER BY day, {by}") == once
    every = record.query(
        """
        SELECT day, count(*) AS handlings, sum(net_mg) AS net_mg, sum(open_s) AS open_s
        FROM handling WHERE state <> 'never happened' GROUP BY day ORDER BY day
        """
    )
    columns = "day, handlings, net_mg, open_s"
    assert record.query(f"SELECT {columns} FROM daily_all WHERE person = '' ORDER BY day") == every
    spans = record.query("SELECT day, min(entry) AS first, max(entry) AS last FROM handling GROUP BY day")
    assert record.query("SELECT day, first, last FROM handling_day ORDER BY day") == spans


def test_a_rehearsal_is_in_the_log_and_in_no_sum(record: Record) -> None:
    before = record.query("SELECT * FROM daily_family")
    plan = {f: getattr(PLAN, f) for f in PLAN.__dataclass_fields__} | {"rehearsal": True}
    real = planned("P-7F3A-0006")
    record.append(
        ev.Planned(prep=real.prep, plan=plan, steps=real.steps, basis=real.basis, aims={}),
        person="op-1", subject="prep:P-7F3A-0006",
    )  # fmt: skip
    opened = ev.Opened(
        prep=real.prep, step=1, act="open", what="container", container="KD-2-1", substances=("K2CR2O7",)
    )
    record.append(opened, person="op-1", subject="prep:P-7F3A-0006")
    assert record.query("SELECT * FROM daily_family") == before
    assert len(record.query("SELECT 1 FROM handling WHERE prep = 'P-7F3A-0006'")) == 1


def test_an_incident_without_a_prep_is_kept(record: Record) -> None:
    rows = record.query("SELECT what, present FROM incident ORDER BY entry")
    assert [(r["what"], r["present"]) for r in rows] == [
        ("spill", '["op-1","op-2"]'),
        ("alarm", '["op-2"]'),
        ("contact", '["op-1","op-2"]'),
    ]


# ---- preps ----


def test_a_prep_row_says_where_it_stands_and_what_came_out(record: Record) -> None:
    done, given_up = record.query("SELECT * FROM prep ORDER BY entry")
    assert (done["status"], done["reviewed_by"], done["verdict"], done["made_lot"]) == (
        "accepted", "op-2", "accepted", "S-7F3A-0001",
    )  # fmt: skip
    assert (done["value"], done["unit"], done["u"], done["k"], done["complete"]) == (
        0.998,
        "mg/g",
        0.003,
        2.0,
        1,
    )
    assert done["solid_mg"] == 6.02
    assert done["stale"].endswith("was corrected")
    assert (given_up["status"], given_up["closed_day"], given_up["step_name"]) == (
        "abandoned", "2026-03-02", "tare",
    )  # fmt: skip


def test_a_prep_row_follows_its_state_entry_by_entry(tmp_path: Path, clock: Clock) -> None:
    with new_record(tmp_path / "r", clock) as record:
        record.append(planned(PREP), person="op-1", subject=SUBJECT)
        for event in (ev.StepDone(prep=PREP, step=0), dosed(PREP, "1.00 mg", "1.00", "1.00")):
            record.append(event, person="op-2", subject=SUBJECT)
            state = record.prep_state(PREP)
            (row,) = record.query("SELECT * FROM prep")
            assert (row["step"], row["last_entry"], row["last_person"]) == (
                state.step, state.last_entry, "op-2",
            )  # fmt: skip
            assert row["solid_mg"] == state.total_mg("solid")
            assert row["step_name"] == "weigh_solid"
