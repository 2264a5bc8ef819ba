"""What was typed before a question stood was not meant for it: on a terminal it is read away.

A device that types several lines, or a hand that runs ahead, would else answer the next question with the
number of the one before. A pipe is another matter: who writes one has ordered its lines.
"""

import os
import select
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec

from tui.guide.keys import QUIET_GAP_S


def attended() -> bool:
    """Whether somebody sits at a terminal whose keys can be read one by one."""
    return sys.stdin.isatty() and find_spec("termios") is not None


@contextmanager
def key_by_key(fd: int) -> Iterator[None]:
    """Let the terminal give each key at once, and echo none."""
    import termios

    kept = termios.tcgetattr(fd)
    signs = [*kept]
    signs[3] &= ~(termios.ICANON | termios.ECHO)
    termios.tcsetattr(fd, termios.TCSANOW, signs)
    try:
        yield
    finally:
        termios.tcsetattr(fd, termios.TCSANOW, kept)


def read_away() -> bool:
    """Read away what waits at the terminal until there is silence, and say whether there was anything.

    One end of a line is nothing: a device that ends its lines with CR and LF sends it after the first.
    """
    if not attended():
        return False
    fd, found = sys.stdin.fileno(), b""
    # Out of lines: half a line must go with its rest, or the rest would be read as a whole one.
    with key_by_key(fd):
        while select.select([fd], [], [], QUIET_GAP_S)[0] and (data := os.read(fd, 4096)):
            found += data
    return found not in (b"", b"\n", b"\r")
