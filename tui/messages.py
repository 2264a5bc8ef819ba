"""Messages that travel from widgets to screens; a widget's own message is nested in it."""

from dataclasses import dataclass

from textual.message import Message

from tui.guide.keys import Intent


@dataclass
class Meant(Message):
    """A keypad command reached a widget that has no use for it: help, note, pause, back, a scan."""

    intent: Intent
