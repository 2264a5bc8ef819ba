"""Balances on real pseudo-terminal ports and sockets: read right, refused with a reason, never guessed."""

import os
import pty
import socket
import threading
import time
import tty
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from store.errors import BadField, StoreError
from store.model.registers import Balance as Registered
from tui.balance.connect import source
from tui.balance.protocol import RAW_LINES, Balance
from tui.balance.settings import Manner, wire
from tui.balance.stream import LONGEST, Splitter, Steadiness, understand
from tui.cli.balance import balance as command

LAW = settings(derandomize=True, deadline=None, max_examples=300)
MG = Manner(unit="mg")


class Cable:
    """A pseudo-terminal under a name of its own, so that it can be pulled out and put back."""

    def __init__(self, folder: Path) -> None:
        self.name = folder / "port"
        self.end = -1
        self.plug()

    def plug(self) -> None:
        self.end, far = pty.openpty()
        tty.setraw(far)
        self.name.unlink(missing_ok=True)
        self.name.symlink_to(os.ttyname(far))
        self._far = far

    def send(self, data: bytes) -> None:
        os.write(self.end, data)

    def pull(self) -> None:
        os.close(self.end)
        os.close(self._far)
        self.end = -1


@pytest.fixture
def cable(tmp_path: Path) -> Iterator[Cable]:
    made = Cable(tmp_path)
    yield made
    if made.end >= 0:
        made.pull()


def row(port: str, kind: str = "serial", **more: str) -> Registered:
    body = {"id": "B-1", "name": "x", "source": kind, "port": port, "unit": "mg"}
    return Registered.from_body({**body, "readability": "0.01 mg", "capacity": "20 g", **more})


def until(holds: Callable[[], bool], seconds: float = 10.0) -> None:
    end_s = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end_s, "it did not come to be so in time"
        time.sleep(0.01)


def shown(of: Balance) -> str:
    sample = of.poll(time.monotonic())
    return sample.shown if sample is not None else ""


def open_link(of: Balance) -> None:
    """Wait until the port is open and a line's beginning cannot be lost any more."""
    until(lambda: "not reached" not in of.state())
    time.sleep(0.4)


def test_a_line_on_the_port_is_what_the_display_shows_now_and_for_a_second(cable: Cable) -> None:
    of = source(row(f"{cable.name} 9600 8N1", stable_mark="S", unstable_mark="D"))
    try:
        open_link(of)
        cable.send(b"S +   12.50 mg\r\n")
        until(lambda: shown(of) == "12.50")
        sample = of.poll(time.monotonic())
        assert sample is not None
        assert sample.steady
        assert of.lines() == ("S +   12.50 mg",)
        assert of.poll(sample.at_s + 1.0) is not None
        assert of.poll(sample.at_s + 1.01) is None
        until(lambda: "silent" in of.state())
    finally:
        of.close()


def test_a_cable_pulled_out_is_said_and_comes_back_by_itself(cable: Cable) -> None:
    of = source(row(str(cable.name)))
    try:
        open_link(of)
        cable.send(b"1.25 mg\r\n")
        until(lambda: shown(of) == "1.25")
        cable.pull()
        until(lambda: "not reached" in of.state())
        assert "type the readings" in of.state()
        until(lambda: of.poll(time.monotonic()) is None)
        cable.plug()
        open_link(of)
        cable.send(b"2.50 mg\r\n")
        until(lambda: shown(of) == "2.50")
    finally:
        of.close()


def test_a_thousand_lines_a_second_are_read_and_only_the_last_ones_kept(cable: Cable) -> None:
    of = source(row(str(cable.name)))
    try:
        open_link(of)
        for n in range(40):
            cable.send(b"".join(b"%d.%02d mg\r\n" % (n, k) for k in range(25)))
            time.sleep(0.025)
        until(lambda: shown(of) == "39.24")
        assert len(of.lines()) == RAW_LINES
    finally:
        of.close()


def test_a_balance_that_must_be_asked_is_asked_in_the_site_s_own_words(cable: Cable) -> None:
    of = source(row(rf'{cable.name} poll="ask\r\n" every=0.05'))
    try:
        asked = b""
        while b"ask\r\n" not in asked:
            asked += os.read(cable.end, 100)
        time.sleep(0.4)
        cable.send(b"3.75 mg\r\n")
        until(lambda: shown(of) == "3.75")
    finally:
        of.close()


def test_a_port_that_is_not_there_is_said_and_waited_for(tmp_path: Path) -> None:
    of = source(row(str(tmp_path / "none")))
    try:
        until(lambda: "not reached" in of.state())
        assert of.poll(time.monotonic()) is None
    finally:
        of.close()


def test_a_balance_over_tcp_is_read_and_reconnected() -> None:
    server = socket.create_server(("127.0.0.1", 0))
    server.settimeout(10.0)
    of = source(row(f"127.0.0.1:{server.getsockname()[1]}", "tcp"))
    try:
        for reading in ("5.25", "6.25"):
            link, _ = server.accept()
            with link:
                open_link(of)
                link.sendall(f"{reading} mg\n".encode())
                until(lambda wanted=reading: shown(of) == wanted)  # type: ignore[misc]
    finally:
        of.close()
        server.close()
    assert not [t for t in threading.enumerate() if t.name == "balance B-1"]


LINES = [b"10.02 mg", b"-  0.13 mg", b"12345.67 mg", b"+ 9,87 mg"]


@given(st.lists(st.sampled_from(LINES), max_size=20), st.lists(st.integers(1, 9), max_size=60))
@LAW
def test_lines_come_whole_however_the_bytes_are_cut(lines: list[bytes], cuts: list[int]) -> None:
    stream, at, found = b"".join(x + b"\r\n" for x in lines), 0, []
    of = Splitter(0.0, whole_from_start=True)
    for cut in (*cuts, len(stream) + 1):
        found += of.feed(stream[at : at + cut], 0.01)
        at += cut
    assert found == lines


@given(st.integers(0, 40))
@LAW
def test_a_link_opened_in_the_midst_of_a_line_never_reads_its_tail(start: int) -> None:
    stream = b"".join(x + b"\r\n" for x in LINES)[start:]
    found = Splitter(0.0).feed(stream, 0.05)
    assert all(line in LINES for line in found)
    assert len(found) >= stream.count(b"\n") - 1


def test_a_line_that_stops_in_the_middle_is_dropped_with_its_tail() -> None:
    of = Splitter(0.0, whole_from_start=True)
    assert of.feed(b"12", 1.0) == []
    assert of.feed(b".50 mg\r\n", 1.6) == []
    assert of.feed(b"12", 2.0) + of.feed(b".50 mg\r\n", 2.4) == [b"12.50 mg"]


@pytest.mark.parametrize(("length", "lines"), [(LONGEST, 1), (LONGEST + 1, 0)])
def test_a_line_beyond_the_longest_is_dropped_whole(length: int, lines: int) -> None:
    assert len(Splitter(0.0, whole_from_start=True).feed(b"1" * length + b"\n", 1.0)) == lines


def test_parity_bits_are_taken_off_where_seven_bits_are_set_and_refused_where_not() -> None:
    odd = bytes(b | 0x80 for b in b"12.50 mg")
    assert Splitter(0.0, whole_from_start=True, seven_bits=True).feed(odd + b"\r\n", 1.0) == [b"12.50 mg"]
    assert understand(odd, MG, 1.0).reading is None


@pytest.mark.parametrize(
    "raw",
    [
        b"10.02 mg12.30 mg",
        b"10.02 g",
        b"10.02",
        b"OVERLOAD",
        b"ERR 3",
        b"1O.02 mg",
        b"10.0.2 mg",
        b"- - 10.02 mg",
        b"10.02 Mg",
        b"\x00\x00",
    ],
)
def test_a_doubtful_line_is_refused_with_a_reason(raw: bytes) -> None:
    heard = understand(raw, MG, 1.0)
    assert heard.reading is None
    assert heard.why_not


@given(st.binary(max_size=60) | st.from_regex(rb"[-+ 0-9.,mgS*\x80-\xff]{1,20}", fullmatch=True))
@LAW
def test_no_line_is_read_as_a_number_that_does_not_stand_in_it(raw: bytes) -> None:
    heard = understand(raw, Manner(unit="mg", unit_missing=True), 1.0)
    if heard.reading is not None:
        digits = f"{abs(heard.reading.number):f}".lstrip("0").replace(".", "")
        assert digits in raw.decode("latin-1").replace(".", "").replace(",", "")
        assert (heard.reading.number.is_signed()) == (b"-" in raw)


def test_a_balance_that_does_not_say_is_steady_after_a_second_and_a_half_within_a_step() -> None:
    of = Steadiness()

    def at(text: str, at_s: float) -> bool:
        reading = understand(text.encode(), MG, at_s).reading
        assert reading is not None
        return of.take(reading, at_s)

    assert [at("1.00 mg", s) for s in (0.0, 0.5, 1.0, 1.4)] == [False] * 4
    assert at("1.01 mg", 1.5)
    assert not at("1.02 mg", 1.6)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "   ",
        '/dev/x poll="abc',
        "/dev/x 9601",
        "/dev/x 9N1",
        "/dev/x every=0",
        "/dev/x every=nan",
        "/dev/x every=61",
    ],
)
def test_settings_that_are_none_are_refused_with_what_to_write(text: str) -> None:
    with pytest.raises(BadField):
        wire(text)


def test_a_typed_balance_is_not_waited_for() -> None:
    kinds = [source(row("", kind)).kind for kind in ("typed", "wedge", "simulated")]
    assert kinds == ["typed", "wedge", "simulated"]


def test_listening_shows_each_line_and_what_was_read_or_why_not(cable: Cable) -> None:
    ended = threading.Event()

    def send() -> None:
        while not ended.wait(0.05):
            cable.send(b"12.50 mg\r\nOVERLOAD\r\n")

    sender = threading.Thread(target=send)
    sender.start()
    found = CliRunner().invoke(command, ["listen", "--port", str(cable.name), "--lines", "4"])
    ended.set()
    sender.join()
    assert found.exit_code == 0, found.output
    assert "b'12.50 mg'" in found.output
    assert "read: 12.50 mg, it does not say whether stable" in found.output
    assert "refused: 'OVERLOAD' is not a reading" in found.output


def test_listening_to_nothing_ends_with_a_sentence(tmp_path: Path) -> None:
    found = CliRunner().invoke(command, ["listen", "--port", str(tmp_path / "none"), "--seconds", "0.3"])
    assert isinstance(found.exception, StoreError)
    assert "not reached" in str(found.exception)


def test_ports_can_be_listed_for_a_program() -> None:
    found = CliRunner().invoke(command, ["ports", "--format", "json"])
    assert found.exit_code == 0
    assert found.output.startswith("[")
