"""Teaching: recorded lines of an unknown balance give settings that read them, or a reason for none."""

import json
import threading
from collections.abc import Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from store.errors import StoreError
from tests.tui.pty_port import Sender
from tui.balance.teach import FEWEST, propose
from tui.cli.balance import balance as command

NUMBERS = [f"{n * 1.37:.2f}" for n in range(12)]


def told(form: str, *, moving: str, resting: str, unit: str = "mg") -> list[bytes]:
    """Lines in a form of our own: a display that moves through numbers and then rests."""
    lines = [form.format(mark=moving, number=n, unit=unit) for n in NUMBERS]
    lines += [form.format(mark=resting, number="16.44", unit=unit)] * 12
    return [line.encode("latin-1") for line in lines]


@pytest.mark.parametrize(
    "form",
    ["{mark} {number:>10} {unit}", "{number} {unit} {mark}", "{number}{unit}{mark}", "{mark}{number} {unit}"],
)
@pytest.mark.parametrize(("moving", "resting"), [("~", "="), ("", "*"), ("?", "")])
def test_marks_before_or_behind_are_told_apart_by_what_the_numbers_do(
    form: str, moving: str, resting: str
) -> None:
    lines = told(form, moving=moving, resting=resting)
    found = propose(lines)
    assert (found.stable_mark, found.unstable_mark) == (resting, moving)
    assert (found.unit, found.readability, found.nounit) == ("mg", "0.01 mg", False)
    assert (found.read, found.of) == (len(lines), len(lines))


def test_words_as_marks_and_decimal_commas_are_read_too() -> None:
    lines = [
        line.replace(b".", b",") for line in told("{mark} {number} {unit}", moving="moves", resting="rests")
    ]
    found = propose(lines)
    assert (found.stable_mark, found.unstable_mark, found.read) == ("rests", "moves", len(lines))


@pytest.mark.parametrize(("frame", "odd"), [("7E1", 0), ("7O1", 1)])
def test_a_parity_bit_on_every_sign_is_seen_as_a_frame_of_seven_bits(frame: str, odd: int) -> None:
    lines = [
        bytes(b | (0x80 if b.bit_count() % 2 != odd else 0) for b in line)
        for line in told("{number} {unit}", moving="", resting="")
    ]
    found = propose(lines)
    assert (found.frame, found.unit) == (frame, "mg")


def test_lines_without_a_unit_need_one_that_is_named() -> None:
    lines = told("{number}{unit}", moving="", resting="", unit="")
    with pytest.raises(StoreError, match="--unit"):
        propose(lines)
    found = propose(lines, unit="g")
    assert (found.unit, found.nounit, found.read) == ("g", True, len(lines))


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (told("{mark} {number} {unit}", moving="N", resting="N"), "every line bears 'N'"),
        (told("a {number} {unit} b", moving="", resting=""), "before and behind"),
        (told("{number} {unit} {mark}", moving="x", resting="y")[:14], "cannot be told"),
        (
            [*told("{mark}{number} {unit}", moving="~", resting="="), *[b"!1.00 mg"] * 3],
            "more than two kinds",
        ),
    ],
)
def test_what_the_lines_do_not_tell_is_said_and_not_guessed(lines: Sequence[bytes], says: str) -> None:
    found = propose(lines)
    assert (found.stable_mark, found.unstable_mark) == ("", "")
    assert any(says in remark for remark in found.remarks)


@pytest.mark.parametrize(("many", "fits"), [(FEWEST, True), (FEWEST - 1, False)])
def test_too_few_lines_give_no_proposal(many: int, fits: bool) -> None:
    lines = [*[b"1.00 mg"] * many, *[b"HELLO"] * 5]
    if fits:
        assert propose(lines).read == many
    else:
        with pytest.raises(StoreError, match="hold one number"):
            propose(lines)


def run(*words: str) -> Result:
    return CliRunner().invoke(command, ["teach", *words])


def test_recorded_lines_give_the_fields_of_the_register_row(tmp_path: Path) -> None:
    file = tmp_path / "lines"
    file.write_bytes(b"\r\n".join(told("{mark} {number} {unit}", moving="~", resting="=")))
    table = run("--from", str(file))
    assert table.exit_code == 0, table.output
    assert "With it 24 of 24 lines are read." in table.output
    found = json.loads(run("--from", str(file), "--format", "json").output)
    assert (found["unit"], found["stable_mark"], found["unstable_mark"]) == ("mg", "=", "~")


def test_a_balance_on_a_port_is_recorded_and_its_settings_proposed(tmp_path: Path) -> None:
    with Sender(tmp_path / "port") as port:
        ended = threading.Event()

        def send() -> None:
            n = 0
            while not ended.wait(0.02):
                n = (n + 1) % 40
                port.line(f"~ {n * 1.13:.2f} mg" if n < 20 else "= 22.60 mg")

        sender = threading.Thread(target=send)
        sender.start()
        done = run("--port", str(port.name), "--seconds", "3", "--format", "json")
        ended.set()
        sender.join()
    assert done.exit_code == 0, done.output
    found = json.loads(done.output)
    assert (found["stable_mark"], found["unstable_mark"]) == ("=", "~")
    assert found["port"] == str(port.name)
    assert found["read"] == found["of"] > 20


def test_teaching_needs_a_port_or_a_file_and_not_both(tmp_path: Path) -> None:
    for words in ((), ("--port", "/dev/x", "--from", __file__)):
        assert isinstance(run(*words).exception, StoreError)
