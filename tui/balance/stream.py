"""Bytes of a link become lines, and lines become readings or a reason for none. Pure; time comes in."""

from collections import deque
from dataclasses import dataclass

from store.errors import BadReading
from store.readings import Reading, read_line
from tui.balance.protocol import Sample
from tui.balance.settings import Manner

LONGEST = 120
CUT_OFF_S = 0.5
"""A line that stops in the middle for so long has lost its end."""
HEADLESS_S = 0.3
"""What arrives so soon after the link opened may have lost its beginning."""
STEADY_S = 1.5


class Splitter:
    """Cuts bytes at CR, LF or both, and gives no line that may have lost a part."""

    def __init__(self, opened_s: float, *, whole_from_start: bool = False, seven_bits: bool = False) -> None:
        self._held = b""
        self._skip = False
        self._fresh = not whole_from_start
        self._seven = seven_bits
        self._last_s = opened_s

    def feed(self, data: bytes, at_s: float) -> list[bytes]:
        """Take what arrived and give the whole lines that it ends."""
        if self._seven:
            data = bytes(b & 0x7F for b in data)
        gap_s, self._last_s = at_s - self._last_s, at_s
        if self._fresh and data:
            self._skip, self._fresh = gap_s < HEADLESS_S, False
        elif self._held and gap_s > CUT_OFF_S:
            self._skip = True  # its tail may still come: no line until the next end of one
        lines: list[bytes] = []
        *ended, rest = (self._held + data).replace(b"\r", b"\n").split(b"\n")
        for line in ended:
            if line and not self._skip and len(line) <= LONGEST:
                lines.append(line)
            self._skip = False
        if len(rest) > LONGEST:
            self._skip, rest = True, rest[-1:]
        self._held = rest
        return lines


@dataclass(frozen=True, slots=True)
class Heard:
    """One raw line, and what was read from it or why not."""

    at_s: float
    raw: bytes
    reading: Reading | None
    why_not: str = ""


def understand(raw: bytes, how: Manner, at_s: float) -> Heard:
    """Read one raw line by general rules; what is doubtful is refused with its reason."""
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
    try:
        reading = read_line(
            text,
            unit=how.unit if how.unit_missing else None,
            stable_mark=how.stable_mark,
            unstable_mark=how.unstable_mark,
            decimal_sign=how.decimal_sign,
        )
        if how.unit is not None and reading.unit != how.unit:
            raise BadReading(f"{text.strip()!r} is not in {how.unit}: set the balance or its register row.")
    except BadReading as refusal:
        return Heard(at_s, raw, None, str(refusal))
    return Heard(at_s, raw, reading)


class Steadiness:
    """Whether readings rest, for a balance that does not say: all of the last seconds within one step."""

    def __init__(self) -> None:
        self._seen: deque[tuple[float, Reading]] = deque(maxlen=4000)

    def take(self, reading: Reading, at_s: float) -> bool:
        """Take a reading, and say whether it is steady."""
        self._seen.append((at_s, reading))
        while len(self._seen) > 2 and self._seen[1][0] <= at_s - STEADY_S:
            self._seen.popleft()
        if reading.stable is not None:
            return reading.stable
        if at_s - self._seen[0][0] < STEADY_S:
            return False
        masses_mg = [r.mass_mg for _, r in self._seen]
        return max(masses_mg) - min(masses_mg) <= 1.01 * reading.readability


def digits(reading: Reading) -> str:
    """Give the digits as shown, sign joined to them, unit and marks left off.

    >>> digits(read_line("-  012.50 mg"))
    '-12.50'
    """
    return f"{reading.number:f}"


def sample(heard: Heard, *, steady: bool) -> Sample:
    """Give the sample of a line."""
    raw = heard.raw.decode("latin-1")
    if heard.reading is None:
        return Sample("", False, heard.at_s, fault=heard.why_not, raw=raw)
    return Sample(digits(heard.reading), steady, heard.at_s, unit=heard.reading.unit, raw=raw)
