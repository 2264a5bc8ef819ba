"""How a balance is reached, as one line of its register row: place, then what differs from the usual.

    /dev/ttyUSB0 9600 7E1 xonxoff
    /dev/ttyUSB0 2400 8N1 poll="P\\r\\n" every=0.25
    192.0.2.7:4001 poll="?\\n"

What is sent is what the site typed: no maker's words are built in. Without `poll` the program only listens.
"""

import re
import shlex
from dataclasses import dataclass

from store.errors import BadField
from store.model.registers import Balance as Registered
from store.readings import DecimalSign

_FRAME = re.compile(r"([78])([NEO])([12])")
_HOST = re.compile(r"([A-Za-z0-9.-]+|\[[0-9A-Fa-f:]+\]):([0-9]{1,5})")
_HANDSHAKES = ("xonxoff", "rtscts", "dsrdtr")
_SPEEDS = (300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)
_ESCAPES = {"\\r": "\r", "\\n": "\n", "\\t": "\t", "\\\\": "\\"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """Where the line ends and how it is spoken to."""

    place: str
    """A serial port, or `host:port`."""
    speed: int = 9600
    bits: int = 8
    parity: str = "N"
    stop: int = 1
    handshake: str = ""
    poll: bytes = b""
    """Sent to ask for a reading; empty to listen only."""
    every_s: float = 0.2
    """Seconds between two askings."""

    @property
    def tcp(self) -> tuple[str, int] | None:
        """Host and port where it is reached over the network."""
        found = _HOST.fullmatch(self.place)
        return (found[1].strip("[]"), int(found[2])) if found else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How the lines of a balance are read."""

    unit: str | None = None
    """Unit of its display; a line in another unit of mass is refused."""
    unit_missing: bool = False
    """Whether its lines carry no unit."""
    stable_mark: str | None = None
    unstable_mark: str | None = None
    decimal_sign: DecimalSign = "either"


def manner(row: Registered) -> Manner:
    """Give how the lines of a balance of the register are read."""
    _, options = _words(row.port)
    return Manner(
        unit=row.unit,
        unit_missing="nounit" in options,
        stable_mark=row.stable_mark or None,
        unstable_mark=row.unstable_mark or None,
    )


def wire(text: str) -> Wire:
    """Read the line of settings.

    >>> found = wire('/dev/ttyS0 2400 7E1 poll="P\\\\r\\\\n" every=0.5')
    >>> found.place, found.speed, found.bits, found.parity, found.poll, found.every_s
    ('/dev/ttyS0', 2400, 7, 'E', b'P\\r\\n', 0.5)

    Raises
    ------
    BadField
        A word that is none of these settings.
    """
    place, options = _words(text)
    speed, bits, parity, stop, handshake, poll, every_s = 9600, 8, "N", 1, "", b"", 0.2
    for word in options:
        if word.isdecimal() and int(word) in _SPEEDS:
            speed = int(word)
        elif frame := _FRAME.fullmatch(word.upper()):
            bits, parity, stop = int(frame[1]), frame[2], int(frame[3])
        elif word in _HANDSHAKES:
            handshake = word
        elif word.startswith("poll="):
            poll = _sent(word.removeprefix("poll="))
        elif word.startswith("every="):
            every_s = _every(word.removeprefix("every="))
        elif word != "nounit":
            raise BadField(
                "port",
                f"{word!r} is no setting: write a speed such as 9600, a frame such as 8N1, xonxoff, rtscts, "
                'dsrdtr, poll="text", every=seconds, or nounit.',
            )
    return Wire(
        place=place,
        speed=speed,
        bits=bits,
        parity=parity,
        stop=stop,
        handshake=handshake,
        poll=poll,
        every_s=every_s,
    )


def framed(text: str, *, frame: str, nounit: bool) -> str:
    """Give the line of settings with another frame (empty: it stays), and with or without `nounit`.

    >>> framed("/dev/ttyS0 2400 8N1 xonxoff", frame="7E1", nounit=True)
    '/dev/ttyS0 2400 xonxoff 7E1 nounit'
    """
    words = re.findall(r"""(?:[^\s"']|"[^"]*"|'[^']*')+""", text)
    kept = [w for w in words[1:] if w != "nounit" and not (frame and _FRAME.fullmatch(w.upper()))]
    return " ".join([*words[:1], *kept, *([frame] if frame else []), *(["nounit"] if nounit else [])])


def _words(text: str) -> tuple[str, list[str]]:
    lexer = shlex.shlex(text, posix=True)
    lexer.whitespace_split, lexer.commenters, lexer.escape = True, "", ""
    try:
        place, *options = list(lexer) or [""]
    except ValueError as error:
        raise BadField("port", 'a quotation mark is not closed: write poll="text".') from error
    if not place:
        raise BadField("port", "write a serial port such as /dev/ttyUSB0, or host:port, then its settings.")
    return place, options


def _sent(text: str) -> bytes:
    for written, meant in _ESCAPES.items():
        text = text.replace(written, meant)
    if not text.isascii() or len(text) > 40:
        raise BadField("port", "what is sent to ask for a reading is up to 40 plain signs, \\r and \\n.")
    return text.encode("ascii")


def _every(text: str) -> float:
    if not re.fullmatch(r"[0-9]{1,2}([.][0-9]{1,3})?", text) or not 0.02 <= float(text) <= 60:
        raise BadField("port", "every= takes seconds from 0.02 to 60, such as every=0.2.")
    return float(text)
