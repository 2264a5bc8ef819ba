"""What was typed before a question stood was not meant for it: on a terminal it is read away.

A device that types several lines, or a hand that runs ahead, would else answer the next question with the
number of the one before. A pipe is another matter: who writes one has ordered its lines.
"""

import os
import select
import sys

from tui.guide.keys import QUIET_GAP_S


def read_away() -> bool:
    """Read away what waits at the terminal until there is silence, and say whether there was anything."""
    if not sys.stdin.isatty():
        return False
    try:
        import termios
    except ImportError:  # no such terminals on this system: nothing can be read away
        return False
    fd = sys.stdin.fileno()
    kept = termios.tcgetattr(fd)
    # Out of lines: half a line must go with its rest, or the rest would be read as a whole one.
    signs = [*kept]
    signs[3] &= ~(termios.ICANON | termios.ECHO)
    termios.tcsetattr(fd, termios.TCSANOW, signs)
    found = False
    try:
        while select.select([fd], [], [], QUIET_GAP_S)[0] and os.read(fd, 4096):
            found = True
    finally:
        termios.tcsetattr(fd, termios.TCSANOW, kept)
    return found
