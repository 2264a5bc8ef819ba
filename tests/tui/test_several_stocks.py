"""A series from two stocks: each is compared, opened once, and correlated with what was made of it alone."""

import csv
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from store.actions import planning, revise
from store.actions.registers import faults_of
from store.errors import Refused
from store.model.words import PrepStatus
from store.procedure import diluted, layout
from store.queries import exposures, lots, recalled, registers, revised
from store.record.record import Record
from tests import several, site
from tests.tui import desks
from tui.__main__ import main
from tui.guide import keys

WISH = layout.Wish(
    kind="series", order="aliquot first", sources="CS-1, CS-2", targets="1, 2, 5, 10 ug/g", amount="20 g",
    vessels="V-1, V-2, V-3, V-4", solvent_container="WB-1", balance="B-1", enclosure="E-1",
)  # fmt: skip


@pytest.fixture
def record(tmp_path: Path, clock: site.TestClock) -> Iterator[Record]:
    with site.begin(tmp_path / "r.tarebook", clock) as made:
        several.begin(made)
        other = {**dict(several.ROWS[0][1]), "id": "KS-2", "concentration": "0.9987 mg/g"}
        site.put(made, "lot", other)
        site.put(made, "container", {"id": "CS-2", "lot": "KS-2", "content": "100 g"})
        yield made


def test_levels_take_turns_between_two_stocks(record: Record, clock: site.TestClock) -> None:
    guide = site.guide(record, site.planned(record, layout.plan(WISH)), clock)
    desks.play_on(guide, clock)
    state = guide.state
    assert state.status == PrepStatus.CLOSED
    assert [p.container for p in state.plan.parts] == ["CS-1", "CS-2", "CS-1", "CS-2"]
    assert sorted(h.container for h in state.handlings if h.what == "container") == ["CS-1", "CS-2"]
    found, _ = diluted.covariance(state)
    of_one, of_two = found.correlation[0][2], found.correlation[0][1]
    assert of_one > 0.3, "one stock is shared"
    assert abs(of_two) < 0.01, "two stocks are not"


def test_each_stock_is_compared_by_its_own_label(record: Record, clock: site.TestClock) -> None:
    guide = site.guide(record, site.planned(record, layout.plan(WISH)), clock)
    desks.play_on(guide, clock, until=lambda g: g.state.act is not None and not g.on_page)
    assert guide.state.act is not None
    assert guide.state.act.key == "compare"
    guide.take(keys.Scanned("CS-1"))
    assert guide.state.act.key == "compare:2"
    guide.take(keys.Scanned("CS-1"))
    assert "The plan names CS-2" in guide.said
    guide.take(keys.Scanned("CS-2"))
    assert guide.state.act.key == "pressure"


def test_handlings_are_found_by_either_stock(record: Record, clock: site.TestClock) -> None:
    desks.play_on(site.guide(record, site.planned(record, layout.plan(WISH)), clock), clock)
    for lot in ("KS-1", "KS-2"):
        assert exposures.of(record, lot=lot), lot


def test_whoever_asks_with_sql_gets_each_level_with_its_own_stock(
    record: Record, clock: site.TestClock
) -> None:
    desks.play_on(site.guide(record, site.planned(record, layout.plan(WISH)), clock), clock)
    found = record.query("SELECT part, lot FROM result_list ORDER BY part")
    assert [(r["part"], r["lot"]) for r in found] == [
        ("1", "KS-1"),
        ("2", "KS-2"),
        ("3", "KS-1"),
        ("4", "KS-2"),
    ]


def test_targets_are_spaced_equally_or_by_a_factor() -> None:
    assert layout.targets("2 to 10 ng/g, 5 equal") == ("2 ng/g", "4 ng/g", "6 ng/g", "8 ng/g", "10 ng/g")
    assert layout.targets("1 to 100 mg/L, 3 geometric") == ("1 mg/L", "10 mg/L", "100 mg/L")


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"vessels": "V-1, V-2, V-3"}, "vessels"),
        ({"blanks": "10"}, "blanks"),
        ({"kind": "dilution"}, "sources"),
        ({"amount": "20 g, 10 g"}, "amount"),
        ({"targets": "1 to 5 ug/g, 31 equal"}, "targets"),
        ({"targets": "1 %"}, "targets"),
    ],
)
def test_what_does_not_fit_is_refused_with_its_field(changed: dict[str, str], field: str) -> None:
    from dataclasses import replace

    from store.errors import BadField

    with pytest.raises(BadField) as caught:
        layout.plan(replace(WISH, **changed))  # type: ignore[arg-type]
    assert caught.value.field == field


def test_the_levels_are_exported_with_their_covariance_once_they_are_closed(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record, layout.plan(WISH)), clock)
    words = ["--record", str(record.path), "show", guide.prep, "--covariance", "--format"]
    refused = CliRunner().invoke(main, [*words, "json"])
    assert (refused.exit_code, "closed dilution or series" in refused.output) == (2, True)
    desks.play_on(guide, clock)
    found = json.loads(CliRunner().invoke(main, [*words, "json"]).output)
    expected, unit = diluted.covariance(guide.state)
    assert found["unit"] == unit == "ug/g"
    assert [level["value"] for level in found["levels"]] == pytest.approx(expected.values)
    for row, wanted in zip(found["covariance"], expected.covariance, strict=True):
        assert row == pytest.approx(wanted)
    rows = list(csv.DictReader(CliRunner().invoke(main, [*words, "csv"]).output.splitlines()))
    assert [row["vessel"] for row in rows] == ["V-1", "V-2", "V-3", "V-4"]
    assert float(rows[0]["cov V-3, (ug/g)^2"]) == pytest.approx(expected.covariance[0][2])


def test_a_revised_certificate_of_the_second_stock_writes_its_levels_anew_and_leaves_the_others(
    record: Record, clock: site.TestClock
) -> None:
    guide = site.guide(record, site.planned(record, layout.plan(WISH)), clock)
    desks.play_on(guide, clock)
    before = [float(m["result"]["value"]) for m in guide.state.made]
    site.put(record, "lot", {**registers.body(record, "lot", "KS-2"), "concentration": "1.0087 mg/g"})
    changed = {row.made_lot: row for row in revised.of(record, "KS-2")}
    assert {row.how for row in changed.values()} == {"computed"}
    assert all(row.changed for row in changed.values())
    keeper = site.acting(record, "ke-1")
    seen = record.prep_state(guide.prep).last_entry
    revise.write_anew(keeper, guide.prep, seen=seen, label=lambda part: f"NEW {part.key}")
    after = record.prep_state(guide.prep)
    values = [float(m["result"]["value"]) for m in after.made]
    more = 1.0087 / 0.9987
    assert values == pytest.approx([v * (1, more, 1, more)[n] for n, v in enumerate(before)])
    assert after.part("2").basis["lot"]["concentration"] == "1.0087 mg/g"
    assert after.part("1").basis["lot"]["concentration"] == "1.0003 mg/g"
    assert not any(row.changed for row in revised.of(record, "KS-2"))
    with pytest.raises(Refused):
        revise.write_anew(keeper, guide.prep, seen=after.last_entry, label=lambda part: "")
    record.rebuild()
    assert record.prep_state(guide.prep) == after


@pytest.mark.parametrize(
    ("register", "id", "field", "value"),
    [("lot", "KS-2", "substance", "WATER"), ("container", "CS-2", "lot", "KS-1")],
)
def test_a_stock_of_some_levels_alone_keeps_what_it_is(
    record: Record, clock: site.TestClock, register: str, id: str, field: str, value: str
) -> None:
    row = {k: registers.text_of(v) for k, v in registers.body(record, register, id).items()}
    changed = {**row, field: value}
    before = [f.field for f in faults_of(record, register, changed)]
    desks.play_on(site.guide(record, site.planned(record, layout.plan(WISH)), clock), clock)
    assert field not in before
    assert field in [f.field for f in faults_of(record, register, changed)]


def test_a_second_stock_that_is_recalled_names_the_prep_it_is_in(record: Record) -> None:
    prep = site.planned(record, layout.plan(WISH))
    found = {r.container: r.open_preps for r in recalled.of(record, "KS-2")}
    assert found["CS-2"] == (prep,)


def test_the_thaws_of_a_second_stock_count_and_stop_a_plan(record: Record, clock: site.TestClock) -> None:
    row = registers.body(record, "container", "CS-2")
    site.put(record, "container", {**row, "thaws_most": "1"})
    assert not any("thawed" in s for s in planning.explain(site.acting(record), layout.plan(WISH)).stops)
    desks.play_on(site.guide(record, site.planned(record, layout.plan(WISH)), clock), clock)
    assert lots.thawed(record, "CS-2") == 1
    stops = planning.explain(site.acting(record), layout.plan(WISH)).stops
    assert any("container CS-2 was thawed 1 times" in s for s in stops)
