"""The key machine: keys and their times become intents. Pure; time comes in.

A hand and a device that types (a balance, a scanner) share one keyboard. Silence tells them apart:

* A **run** is a row of keys with less than `quiet_gap_s` between them. A key *by itself* is a run of one
  sign, bounces included, ended by silence or Enter.
* `+ - * /` are commands when they stand by themselves on an empty line. Followed at once by other keys
  they belong to what is typed: `-0.02` of a device is a number. By hand the minus comes after the digits:
  `0.02` and then, after silence, `-` turns the sign.
* A page, a choice and the spill card want a digit by itself, the desk a letter. A device's line there
  does nothing; ended by Enter it is `Scanned`.
* Digits of a reading are never held back or thinned out. Enter ends a reading at once.
* When an act is done, what follows without silence was meant for it and is swallowed: the line of a device
  never lands in the next field.
* Enter as an *act* counts once while it bounces or is held: within `act_gap_s` of the Enter before it, it
  does nothing. Within a second of it, it must also be by itself, since a held key repeats after a delay
  that may be longer than the gap.
* CR LF is one Enter, and ctrl+j is Enter.
* The digit that acknowledged or chose, when still held, is not taken for the beginning of a number.
* A key by itself that means nothing, or came too soon after another to be taken, is answered: `Unmeant`,
  `NotTaken`. The rest of a device's line is not.
* F9 is the spill card, whatever stands on the line: no device sends it.
* A line that has changed hands (begun by hand, ended by a device) is `Doubtful`, not a number. So is one
  before which a sign was swallowed: what is left of a number is no number.
* A key that cannot be typed, in the midst of a run, spoils the line visibly: the reader refuses it.

Drivers call `tick` when `due_s` has come, and before `feed` if it has passed. A driver that plays a hand
calls `press`. Whole lines are read by `teletype`.
"""

import math

from tui.guide import meanings
from tui.guide.intents import (
    ANSWERS,
    COMMANDS,
    ENTERS,
    LONGEST,
    NAMES,
    SPOILT,
    Acknowledged,
    Act,
    Back,
    Choose,
    Chosen,
    Doubtful,
    Help,
    Intent,
    Letter,
    Mode,
    Note,
    NotTaken,
    Number,
    Page,
    Pause,
    Pin,
    Scanned,
    Spill,
    Text,
    Typed,
    Unmeant,
)  # fmt: skip
from tui.guide.line_pace import LinePace
from tui.guide.missed import Missed

__all__ = [
    "Acknowledged", "Act", "Back", "Choose", "Chosen", "Doubtful", "Help", "Intent", "KeyMachine",
    "Letter", "Mode", "NotTaken", "Note", "Number", "Page", "Pause", "Pin", "Scanned", "Spill", "Text",
    "Typed", "Unmeant",
]  # fmt: skip

QUIET_GAP_S = 0.15
"""Longer than between two keys of a device (20 ms at 50 a second), shorter than between two of a hand."""
ACT_GAP_S = 0.4
HELD_S = 1.0
"""The delay before a held key repeats is below this on common systems (0.25 to 0.66 s)."""
CRLF_GAP_S = 0.05


class KeyMachine:
    """Turns keys into intents; see the rules of this module."""

    def __init__(self, act_gap_s: float = ACT_GAP_S, quiet_gap_s: float = QUIET_GAP_S) -> None:
        self.act_gap_s = act_gap_s
        self.quiet_gap_s = quiet_gap_s
        self._mode: Mode = Act()
        self._line = ""
        self._run = ""  # signs not yet decided upon
        self._run_held = False
        self._last_s = -math.inf
        self._enter_s = -math.inf
        self._cr_s = -math.inf
        self._waiting_enter = False
        self._deaf = False
        self._held = ""
        self._held_until_s = -math.inf
        self._before = ""  # the key before
        self._missed = Missed()
        self._pace = LinePace()

    @property
    def mode(self) -> Mode:
        """What is expected."""
        return self._mode

    @property
    def line(self) -> str:
        """The text typed so far; what silence must still decide upon is not in it."""
        return self._line

    @property
    def due_s(self) -> float | None:
        """When `tick` has something to decide, or None."""
        return self._last_s + self.quiet_gap_s if self._run or self._waiting_enter or self._missed else None

    def expect(self, mode: Mode) -> None:
        """Say what is expected from here on. The same mode again keeps the line, another one loses it.

        The rest of a run that was meant for what was expected before is swallowed.
        """
        if mode == self._mode:
            return
        self._deaf = self._deaf or bool(self._line or self._run)
        self._mode = mode
        self._waiting_enter = False
        self._clear()

    def begin(self, text: str) -> None:
        """Put text on the line to be edited, as if typed by a hand."""
        self._clear()
        self._line = text

    def hush(self, at_s: float) -> None:
        """Begin on a new screen: what is left of a run, and a bounce of Enter, were not meant for it."""
        self._clear()
        self._missed.clear()
        self._deaf = True
        self._waiting_enter = False
        self._last_s = self._enter_s = max(at_s, self._last_s)

    def moved_on(self) -> None:
        """What was asked is done: the rest of a run was meant for that, and not for what is asked next."""
        self._clear()
        self._deaf = True
        self._waiting_enter = False

    def press(self, key: str, at_s: float) -> tuple[Intent, ...]:
        """Feed one key with silence after it."""
        return (*self.feed(key, at_s), *self.tick(at_s + self.quiet_gap_s))

    def tick(self, at_s: float) -> tuple[Intent, ...]:
        """Decide what silence decides."""
        if not self._silent(at_s):
            return ()
        if self._waiting_enter:
            self._waiting_enter = False
            return (meanings.empty_enter(self._mode),)
        run, self._run = self._run, ""
        missed = self._missed.alone()
        if run:
            return self._alone(run)
        return self._not_taken(missed) if missed else ()

    def feed(self, key: str, at_s: float) -> tuple[Intent, ...]:
        """Take one key: a sign, or a name such as `enter`, `backspace`, `full_stop`."""
        key = NAMES.get(key, key)
        at_s = max(at_s, self._last_s)
        late = self.tick(at_s)
        quiet = self._silent(at_s)
        self._pace.key(at_s - self._last_s, paused=bool(self._line) and quiet)
        self._last_s = at_s
        if key in ENTERS:
            crlf = key == "ctrl+j" and at_s - self._cr_s < CRLF_GAP_S
            self._cr_s = at_s if key == "enter" else -math.inf
            if crlf:
                return late
        else:
            self._cr_s = -math.inf
        before, self._before = self._before, "enter" if key in ENTERS else key
        if any(not isinstance(intent, ANSWERS) for intent in late):
            # The answer to the key before is not on the screen yet: this one was not meant for it.
            self._deaf = True
        elif quiet:
            self._deaf = False
        if self._deaf:
            self._missed.swallow(self._before, bounce=self._before == before)
            if key in ENTERS:
                self._enter_s = at_s
                self._pace.found()
            elif key != self._held:
                self._pace.swallowed(key, at_s)
            return late
        if key in ENTERS:
            return (*late, *self._enter(at_s))
        self._missed.clear()
        self._waiting_enter = False
        if len(key) == 1 and key.isprintable():
            self._sign(key, at_s, quiet)
            return late
        return (*late, *self._edit(key))

    def _silent(self, at_s: float) -> bool:
        return at_s - self._last_s >= self.quiet_gap_s - 1e-9

    def _clear(self) -> None:
        self._line = self._run = ""
        self._pace.clear()

    def _sign(self, key: str, at_s: float, quiet: bool) -> None:
        held = key == self._held and at_s < self._held_until_s
        if not self._line and not self._run:
            self._pace.begins(at_s)
        if not self._run:
            undecided = not self._line and (held or meanings.single(self._mode, key))
            turns = bool(self._line) and key == "-" and quiet and isinstance(self._mode, Number)
            if not meanings.writes(self._mode) or undecided or turns:
                self._run, self._run_held = key, held
            else:
                self._write(key)
        elif not meanings.writes(self._mode) or (key == self._run[0] and not self._line):
            self._run += key
        else:
            run, self._run = self._run, ""
            self._write(run + key)

    def _write(self, text: str) -> None:
        longest = LONGEST[type(self._mode)]
        if len(self._line) + len(text) > longest:
            self._line = self._line[: longest - 1] + SPOILT
        else:
            self._line += text

    def _edit(self, key: str) -> tuple[Intent, ...]:
        if key == "f9":
            self._clear()
            return (Spill(),)
        if key == "backspace":
            if self._run:
                self._run = self._run[:-1]
            else:
                self._line = self._line[:-1]
        elif self._run and not meanings.writes(self._mode):
            self._run += SPOILT
        elif (self._line or self._run) and self._pace.by_device:
            run, self._run = self._run, ""
            self._write(run + SPOILT)
        elif key == "escape":
            empty = not self._line
            self._clear()
            return (Back(),) if empty else ()
        return ()

    def _alone(self, run: str) -> tuple[Intent, ...]:
        """Decide upon a run that silence or Enter has ended."""
        key = run[0]
        if run.strip(key):
            return ()
        if self._line:  # a minus after the digits
            self._line = self._line[1:] if self._line[0] == "-" else f"-{self._line.lstrip('+')}"
            self._pace.turned()
            return ()
        if key in COMMANDS:
            return (COMMANDS[key],)
        if key == "9" and isinstance(self._mode, Act | Choose) and self._mode.spill:
            return (Spill(),)
        # A hand that doses by choices presses quickly: there only repeats tell that a key is held.
        if self._run_held and (
            len(run) > 1 or not isinstance(self._mode, Number) or not meanings.choice(self._mode, key)
        ):
            self._pace.found()
            if len(run) > 1:
                return ()
            self._pace.swallowed(key, self._last_s)
            return self._not_taken(key)
        if isinstance(self._mode, Page) and key == str(self._mode.digit):
            return self._by_digit(key, Acknowledged(self._mode.digit))
        if choice := meanings.choice(self._mode, key):
            return self._by_digit(key, Chosen(choice))
        return (Letter(key) if key.isalpha() else Unmeant(key),)

    def _not_taken(self, key: str) -> tuple[Intent, ...]:
        return (NotTaken("" if isinstance(self._mode, Pin) else key),)

    def _by_digit(self, key: str, intent: Intent) -> tuple[Intent, ...]:
        self._held, self._held_until_s = key, self._last_s + HELD_S
        return (intent,)

    def _enter(self, at_s: float) -> tuple[Intent, ...]:
        since_s, self._enter_s = at_s - self._enter_s, at_s
        run, self._run = self._run, ""
        if run and not meanings.writes(self._mode):
            return (Scanned(run),) if len(run) > 1 else self._alone(run)
        if run == "-" and self._line:
            self._alone(run)
            return self._ended()
        if len(run) == 1 and not self._line and meanings.single(self._mode, run):
            return self._alone(run)
        self._line += run
        if self._line:
            return self._ended()
        if since_s < self.act_gap_s:
            self._waiting_enter = False
            self._missed.swallow("enter", bounce=since_s < self.quiet_gap_s)
            return ()
        if since_s < HELD_S and self.act_gap_s:
            self._waiting_enter = True
            return ()
        return (meanings.empty_enter(self._mode),)

    def _ended(self) -> tuple[Intent, ...]:
        text, doubtful = self._line, self._pace.doubtful
        self._clear()
        self._pace.found()
        return (meanings.line(self._mode, text, doubtful=doubtful),)
