"""A ten-thousandth in a pseudo-terminal, killed on the way and taken up again; and by lines of text alone."""

from pathlib import Path
from random import Random

from store.model.words import PrepStatus
from store.record.record import Record
from store.record.verify import verify
from tests import several, site
from tests.tui import audit, plain
from tests.tui.prepared import moments
from tests.tui.pty_hand import Hand, tarebook

KILLED_AT = (9, 24, 38, 51)
"""Turns after which the process is killed with a key half pressed, in both steps and at the end."""


def test_a_ten_thousandth_is_killed_four_times_on_the_way_and_loses_nothing(tmp_path: Path) -> None:
    start = moments(several.dilution(), now=True)["planned"]
    path, chance = start.copy(tmp_path / "r.tarebook"), Random(26)
    accepted: list[str] = []
    turns, kills = 0, list(KILLED_AT)
    closed = False
    while not closed:
        with tarebook(path) as terminal:
            hand = Hand(terminal)
            hand.sign_in("11", site.PINS["op-1"])
            hand.open_prep(start.prep)
            while not (closed := "Closed. Lot" in hand.text):
                if kills and turns >= kills[0]:
                    break
                hand.turn()
                turns += 1
            if not closed:
                kills.pop(0)
                hand.begin_a_turn(chance)
                terminal.kill()
        accepted += hand.doses
        with Record.open(path, now=start.clock(), terminal="7F3A", write=False) as record:
            state = record.prep_state(start.prep)
            found = audit.of_prep(record, start.prep)
        assert found.faults == []
        shown = [d.shown for d in state.doses]
        # The key that was pressed last may have done its work, or not.
        assert shown[: len(accepted)] == accepted
        assert len(shown) <= len(accepted) + 1
        accepted = shown
    assert not kills
    assert state.status == PrepStatus.CLOSED
    assert [(d.part, d.content) for d in state.doses] == [
        ("1", "aliquot"),
        ("1", "solvent"),
        ("2", "aliquot"),
        ("2", "solvent"),
    ], "no accepted dose was asked for again"
    assert abs(float(state.result["value"]) / 0.1 - 1.0) < 0.001
    assert verify(path).ok


def test_a_ten_thousandth_is_walked_by_lines_alone(tmp_path: Path) -> None:
    path = tmp_path / "r.tarebook"
    with site.begin(path, site.TestClock()) as record:
        several.begin(record)
        prep = site.planned(record, several.dilution())
    run = plain.Teletype(
        path, "prep", prep, "--plain", "--as", "op-1", "--pin-stdin", start="2026-03-02T09:01:00+00:00"
    )
    run.type(site.PINS["op-1"])
    plain.walk(run)
    assert run.end() == (0, "")
    assert "Closed. Lot S-7F3A-0001.1, S-7F3A-0001.2, status quarantine." in run.said
    with Record.open(path, now=site.TestClock(), terminal="7F3A", write=False) as record:
        state = record.prep_state(prep)
    assert state.status == PrepStatus.CLOSED
    assert abs(float(state.result["value"]) / 0.1 - 1.0) < 0.05
    assert verify(path).ok
