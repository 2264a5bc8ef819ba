"""A prep says what was revised since in what it rests on, at any depth, until it is written anew."""

import csv
from random import Random

import pytest
from click.testing import CliRunner

from store import events as ev
from store.actions import revise
from store.queries import preps, registers
from store.queries.page import page
from store.record.record import Record
from tests import site
from tui.__main__ import main
from tui.guide.player import Player
from tui.screens.past_preps import known


@pytest.fixture
def made(record: Record, clock: site.TestClock) -> str:
    prep = site.planned(record)
    guide = site.guide(record, prep, clock)
    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play()
    return prep


def diluted(record: Record, prep: str, child: str, made: str) -> str:
    """What a dilution of the lot that `prep` made leaves in the journal, as far as it is asked here."""
    parent = f"S{prep[1:]}"
    told = record.entry(record.query("SELECT entry FROM prep WHERE prep = :p", p=prep)[0]["entry"]).event
    assert isinstance(told, ev.Planned)
    row = {**registers.body(record, "lot", parent), "id": parent}
    basis = {**told.basis, "lot": row, "container": registers.body(record, "container", f"{parent}-1")}
    plan = {**told.plan, "container": f"{parent}-1"}
    for event in (
        ev.Planned(prep=child, plan=plan, steps=told.steps, basis=basis, aims={}),
        ev.Dosed(prep=child, step=0, act="dose", content="aliquot", container=f"{parent}-1", vessel="V-17",
                 shown="500 mg", net_mg="500", total_mg="500"),
        ev.PrepClosed(prep=child, result={"value": "50.0", "unit": "ug/g", "u": "0.2"}, lot={"id": made},
                      container={}, label=""),
    ):  # fmt: skip
        record.append(event, person="op-2", subject=f"prep:{child}")
    return child


def purity(record: Record, assay: str) -> None:
    seen = registers.row(record, "lot", "KD-2").entry
    revise.certificate(site.acting(record, "ke-1"), "KD-2", {"assay": assay}, reason="revised", seen=seen)


def test_a_prep_says_what_was_revised_since_and_no_more_once_it_is_written_anew(
    record: Record, made: str
) -> None:
    assert page(record, made).revised == ()
    purity(record, "99.0")
    assert page(record, made).revised == ("lot KD-2 was revised since: assay 99.9, now 99.0",)
    seen = record.prep_state(made).last_entry
    revise.write_anew(site.acting(record, "ke-1"), made, seen=seen, label=lambda s: "label")
    assert page(record, made).revised == ()


def test_what_was_diluted_from_it_says_through_which_prep(record: Record, made: str) -> None:
    child = diluted(record, made, "P-7F3A-0099", "S-99")
    assert page(record, child).revised == ()
    purity(record, "99.0")
    (line,) = page(record, child).revised
    assert line == f"lot KD-2 was revised since: assay 99.9, now 99.0, through {made}"


def test_a_status_is_no_certificate(record: Record, made: str) -> None:
    row = {**registers.body(record, "lot", "KD-2"), "status": "blocked", "status_reason": "recalled"}
    record.append(ev.Registered(register="lot", id="KD-2", row=row), person="ke-1", subject="lot:KD-2")
    assert page(record, made).revised == ()


def test_the_command_says_it_above_the_result(record: Record, made: str) -> None:
    purity(record, "99.0")
    text = CliRunner().invoke(main, ["--record", str(record.path), "show", made]).stdout
    assert "REVISED: lot KD-2 was revised since: assay 99.9, now 99.0" in text.splitlines()[1]


def test_the_list_of_preps_marks_what_the_pages_say(record: Record, made: str) -> None:
    child = diluted(record, made, "P-7F3A-0099", "S-99")
    lot = f"S{made[1:]}"
    row = {**registers.body(record, "lot", "KD-2"), "status": "blocked", "status_reason": "recalled"}
    record.append(ev.Registered(register="lot", id="KD-2", row=row), person="ke-1", subject="lot:KD-2")
    assert marks(record) == {child: "", made: ""}
    purity(record, "99.0")
    assert marks(record) == {child: f"lot KD-2, through {made}", made: "lot KD-2"}
    purity(record, "99.9")
    assert marks(record) == {child: "", made: ""}, "as it was when they were planned"
    purity(record, "99.0")
    seen = record.prep_state(made).last_entry
    revise.write_anew(site.acting(record, "ke-1"), made, seen=seen, label=lambda s: "label")
    assert marks(record) == {child: f"lot {lot}", made: ""}
    purity(record, "98.0")
    assert marks(record) == {child: f"lot {lot}; lot KD-2, through {made}", made: "lot KD-2"}


def marks(record: Record) -> dict[str, str]:
    """What the list says, which every page has to say too."""
    rows = preps.past(record)
    for row in rows:
        assert bool(row.revised) == bool(page(record, row.prep).revised)
    return {row.prep: row.revised for row in rows}


def test_the_list_and_its_file_mark_it(record: Record, made: str) -> None:
    def said(*words: str) -> str:
        return CliRunner().invoke(main, ["--record", str(record.path), *words]).stdout

    assert "REVISED" not in said("preps")
    purity(record, "99.0")
    assert "REVISED: lot KD-2" in said("preps")
    (line,) = csv.DictReader(said("export", "preps").splitlines()[-2:])
    assert line["revised"] == "lot KD-2"
    (row,) = preps.past(record)
    assert known(row)[0] == "REVISED"
