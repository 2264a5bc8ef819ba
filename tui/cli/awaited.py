"""A line awaited at a terminal while the display goes on.

The bell rings as on the screens, a display that has come to rest anew is printed, and what the site allows is
taken by itself after a count-down that any key stops. Once something is typed nothing comes in between.
"""

import os
import re
import select
import sys
from codecs import getincrementaldecoder
from collections.abc import Iterable
from typing import TYPE_CHECKING

import click

from store.queries import decimals, registers
from store.units import convert, number
from tui.cli.ahead import attended, key_by_key, read_away
from tui.cli.printing import live_lines
from tui.guide import bells

if TYPE_CHECKING:
    from tui.guide.guide import Guide
    from tui.guide.view import StepView

BEAT_S = 0.05
LONGEST = 500
ERASE, END, WIPE = "\x7f\b", "\x04", "\x15"
_FUNCTION = re.compile(r"\x1b(?:\[[0-9;]*[@-~]|O.|.)?")
"""What a key without a sign sends."""


class Awaited:
    """The prompts of one plain prep at a terminal; elsewhere nothing rings and nothing is taken by itself."""

    def __init__(self, guide: "Guide") -> None:
        self._guide = guide
        self._bell = bells.Bell()
        self._due_s: list[float] = []
        self._seen: StepView | None = None
        self._printed_mg: float | None = None
        self._told: set[str] = set()
        self._line = ""
        self.ran_ahead = False
        """Something was typed after the last line: it was not meant for the next question, and is dropped."""

    # ---- the bell ----

    def look(self, view: "StepView") -> str:
        """Take a view, and ring for what is new in it; gives what that is."""
        what = bells.pattern(self._seen, view, wanted=bells.PATTERNS)
        self._seen = view
        if what:
            self.ring(what)
        return what

    def ring(self, what: str) -> None:
        """Ring a pattern that the site wants to hear, where somebody can hear it."""
        if not (attended() and sys.stdout.isatty()):
            return
        if what not in bells.wanted(registers.settings(self._guide.acting.record)):
            return
        now_s = self._guide.monotonic()
        if after := self._bell.rings(what, now_s):
            self._due_s = [now_s + s for s in after]
            self.sound()

    def sound(self) -> None:
        """Let the bell sound as often as is due."""
        now_s = self._guide.monotonic()
        while self._due_s and self._due_s[0] <= now_s:
            del self._due_s[0]
            click.echo("\a", nl=False)

    # ---- the line ----

    def line(self, prompt: str) -> str | None:
        """Give the line that is typed; None where the guide moved on without one.

        Raises
        ------
        EOFError
            The terminal is closed.
        """
        fd = sys.stdin.fileno()
        self._line, self._told = "", {_timeless(self._guide.view().said)}
        self._printed_mg = self._mass_mg()
        decode = getincrementaldecoder("utf-8")(errors="replace").decode
        click.echo(f"{prompt} ", nl=False)
        with key_by_key(fd):
            while True:
                if select.select([fd], [], [], BEAT_S)[0]:
                    data = os.read(fd, 4096)
                    if self._guide.by_itself.running:
                        self._guide.stop_counting()
                        break
                    if not data:
                        raise EOFError
                    if self._typed(decode(data)):
                        return self._line
                elif self._beat(prompt):
                    break
        click.echo()
        read_away()
        return None

    def _typed(self, text: str) -> bool:
        """Take signs, and say whether the line is ended."""
        text = _FUNCTION.sub("", text)
        for n, sign in enumerate(text, 1):
            if sign in "\r\n":
                click.echo()
                self.ran_ahead = bool(text[n:].strip())
                return True
            if sign == END and not self._line:
                raise EOFError
            if sign in ERASE and self._line:
                self._line = self._line[:-1]
                click.echo("\b \b", nl=False)
            elif sign == WIPE:
                click.echo("\b \b" * len(self._line), nl=False)
                self._line = ""
            elif sign.isprintable() and len(self._line) < LONGEST:
                self._line += sign
                click.echo(sign, nl=False)
        return False

    def _beat(self, prompt: str) -> bool:
        """Look at the balance once; say whether what is asked is another thing now."""
        guide = self._guide
        at = (guide.state.last_entry, guide.place)
        counted = guide.by_itself.running
        guide.poll()
        shown = self._shown()
        guide.by_itself.beat(guide, typing=bool(self._line))
        if (guide.state.last_entry, guide.place) != at:
            click.echo(decimals.shown(f"\n   taken by itself: {shown}"), nl=False)
            return True
        view = guide.view()
        what = self.look(view)
        self.sound()
        if self._line:
            return False
        new = list(self._news(view, what))
        if guide.by_itself.running and not counted:
            new.append(f"   {guide.by_itself.words()}")
        if new:
            _between(new, prompt)
        return False

    def _news(self, view: "StepView", what: str) -> Iterable[str]:
        """Give what came of itself meanwhile: a display at rest anew, a link lost, a time over."""
        said = _timeless(view.said)
        if said and said not in self._told:
            self._told.add(said)
            yield f"!! {view.said}"
        elif what == "time":
            yield f"!! {view.alarm}"
        if view.live is not None and view.live.steady is True and self._far():
            self._printed_mg = self._mass_mg()
            yield from live_lines(view)

    def _far(self) -> bool:
        """Whether the display shows something else than what is printed: one at rest strays a little."""
        now, printed = self._mass_mg(), self._printed_mg
        if now is None or printed is None:
            return now is not printed
        return abs(now - printed) > 2.0 * self._guide.stream.spread_mg

    def _mass_mg(self) -> float | None:
        sample = self._guide.fresh_sample
        if sample is None or sample.fault or not sample.shown:
            return None
        return convert(number(sample.shown), sample.unit, "mg")

    def _shown(self) -> str:
        sample = self._guide.fresh_sample
        return f"{sample.shown} {sample.unit}" if sample is not None else ""


def _between(lines: Iterable[str], prompt: str) -> None:
    """Print lines that nobody asked for, and the prompt again below them."""
    click.echo()
    for line in lines:
        click.echo(decimals.shown(line))
    click.echo(f"{prompt} ", nl=False)


def _timeless(said: str) -> str:
    """A sentence without its numbers: that of a lost link counts the seconds, and is said once."""
    return re.sub(r"\d+", "", said)
