"""What a whole line means, where silence tells nothing. Pure."""

from tui.guide.intents import Intent, Mode
from tui.guide.keys import KeyMachine


def whole_line(mode: Mode, text: str) -> tuple[Intent, ...]:
    """Say what a whole line means, for a teletype where silence tells nothing.

    >>> from tui.guide.intents import Number, Page
    >>> whole_line(Number(), "-0.02"), whole_line(Number(), "-"), whole_line(Page(7), "7")
    ((Typed(text='-0.02'),), (Back(),), (Acknowledged(digit=7),))
    """
    machine = KeyMachine(act_gap_s=0.0)
    machine.expect(mode)
    found: tuple[Intent, ...] = ()
    for key in (*text, "enter"):
        found += machine.feed(key, 0.0)
    return found
