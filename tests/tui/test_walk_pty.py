"""The main job in a pseudo-terminal, as one person does it: from sign-in to a closed record, keypad alone."""

from pathlib import Path

import pytest

from store.model.words import PrepStatus
from store.queries import registers
from store.record.record import Record
from store.record.verify import verify
from tests import site
from tests.tui import audit
from tests.tui.prepared import moments
from tests.tui.pty_hand import Hand, tarebook

KEYPAD = set(b"0123456789.,+-*/\r")


@pytest.mark.parametrize(
    "size", [(80, 24), pytest.param((120, 40), marks=pytest.mark.long)], ids=["80x24", "120x40"]
)
def test_a_prep_is_walked_from_sign_in_to_close_on_a_keypad(tmp_path: Path, size: tuple[int, int]) -> None:
    start = moments(now=True)["planned"]
    path = start.copy(tmp_path / "r.tarebook")
    seen: list[str] = []
    with tarebook(path, size=size) as terminal:
        hand = Hand(terminal)
        hand.sign_in("11", site.PINS["op-1"])
        hand.open_prep(start.prep)
        while "Closed. Lot" not in hand.text:
            seen.append(hand.text)
            hand.turn()
        hand.press_and_see(b"\r")
        terminal.wait_for("^ Bench")
        terminal.settle(0.2)
        hand.press(b"l")  # leaving is the desk's, by letters
        terminal.wait_for("Locked by op-1")
        terminal.settle(0.2)
        hand.press(b"/")
        terminal.wait_for("Press / again")
        hand.press(b"/")
        assert terminal.ended() == 0

    assert set(hand.pressed.replace(b"l", b"")) <= KEYPAD
    assert sum("I have read this page" in text for text in seen) >= 10
    acts = [text for text in seen if " step " in text and "It should be" not in text]
    assert not [text for text in acts if "safety data" not in text], "the note stands on every page and act"
    with Record.open(path, now=start.clock(), terminal="7F3A", write=False) as record:
        state = record.prep_state(start.prep)
        found = audit.of_prep(record, start.prep)
        assert state.status == PrepStatus.CLOSED
        assert found.faults == []
        assert [d.shown for d in state.doses] == hand.doses
        assert abs(float(state.result["value"]) - 1.0) < 0.001
        assert registers.body(record, "lot", "S-7F3A-0001")["status"] == "quarantine"
    assert verify(path).ok
