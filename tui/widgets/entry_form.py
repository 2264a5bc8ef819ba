"""A form: one widget owns every key, its fields are views; so no key lands in the wrong field."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from rich.text import Text
from textual import events
from textual.message import Message
from textual.widget import Widget

from store.errors import StoreError
from tui.guide.keys import Back, Chosen, Doubtful, Intent, Typed
from tui.messages import Meant
from tui.widgets.field import Field, checked, suggested
from tui.widgets.form_lines import below, itself, shown_in
from tui.widgets.key_pad import LONGEST_PASTE, Keys, Silence

__all__ = ["EntryForm", "Field"]

_NARROWEST = 36
"""Columns; half of a terminal of 80, less its border and padding, is more than that."""
_AFTER_CHOICE_S = 0.6
"""Who closes a choice with Enter, out of habit, does not mean the field after it."""


class EntryForm(Widget, can_focus=True):
    """Fields in a column; Enter takes one and goes on, after the last the form is submitted."""

    DEFAULT_CSS = "EntryForm { height: auto; width: 1fr; }"

    @dataclass
    class Taken(Message):
        """A field was taken; the screen may explain what it means."""

        key: str
        value: str

    @dataclass
    class Submitted(Message):
        """Every field is good."""

        values: Mapping[str, str]

    def __init__(
        self,
        fields: Sequence[Field],
        *,
        again: bool = False,
        scrolls: bool = False,
        long: bool = False,
        id: str | None = None,
    ) -> None:
        super().__init__(id=id)
        self.fields = tuple(fields)
        self.again = again
        """After submitting, begin anew with empty fields; else nothing is taken until `open`."""
        self.scrolls = scrolls or long
        """Its height is given, and the fields around the current one are shown."""
        self.long = long
        """Of many fields: what is needed says so, and ctrl+s ends it from any field."""
        self.look: Callable[[str], str] | None = None
        """Says what stands against a field that was just typed, beside the others; it stays there then."""
        self._top = 0
        self.keys = Keys(self)
        self.at = 0
        self.pressed, self.pressed_s = 0, 0.0
        """How many keys came, and when the last one was pressed."""
        self._began = self.values
        self.noticed: Callable[[], object] | None = None
        """Called once, by the next key."""
        self._picked = -1
        self._chosen_s = -_AFTER_CHOICE_S
        self._shut = False
        self._expect()

    @property
    def current(self) -> Field:
        """The field that the keys go to."""
        return self.fields[self.at]

    @property
    def values(self) -> dict[str, str]:
        """What stands in the fields."""
        return {f.key: f.value for f in self.fields}

    @property
    def touched(self) -> bool:
        """Whether anything was typed that would be lost: what stood there at the beginning is not."""
        return bool(self.keys.machine.line) or self.values != self._began

    def on_mount(self) -> None:
        """What stands in the fields now is what it begins with."""
        self._began = self.values

    def open(self, at: int = 0) -> None:
        """Take keys again, from a field on; not those that were pressed before."""
        self._shut = False
        self.keys.machine.hush(events.Event().time)
        self.go(at)

    def refuse(self, key: str, sentence: str) -> None:
        """Say beside a field why the whole was not taken, and go there."""
        at = next(n for n, f in enumerate(self.fields) if f.key == key)
        self.fields[at].error = sentence
        self.open(at)

    def go(self, at: int) -> None:
        """Go to a field; text typed but not taken is lost, and what was wrong with it is said no more."""
        left = self.current
        if left.value and at != self.at:
            left.error = ""
        self.at = max(0, min(len(self.fields) - 1, at))
        self.keys.machine.begin("")
        self._expect()

    def changed(self) -> None:
        """Look at the current field anew: its choices may be others now."""
        self.keys.machine.expect(self.current.mode())
        self.refresh(layout=True)

    def _expect(self) -> None:
        self._picked = -1
        self.keys.machine.expect(self.current.mode())
        self.refresh(layout=True)

    # ---- keys ----

    def on_focus(self) -> None:
        """Begin: keys meant for something before are not taken."""
        self.keys.machine.hush(events.Event().time)

    def on_key(self, event: events.Key) -> None:
        """Own every key."""
        event.stop()
        event.prevent_default()
        self.pressed, self.pressed_s = self.pressed + 1, event.time
        if (noticed := self.noticed) is not None:
            self.noticed = None
            noticed()
        if self._shut:
            return
        ends = event.key in ("enter", "ctrl+j", "tab") and not self.keys.machine.line
        if self.long and ends and event.time - self._chosen_s < _AFTER_CHOICE_S:
            return
        self._chosen_s = -_AFTER_CHOICE_S
        if self._arrow(event.key):
            return
        if event.key == "ctrl+s" and self.long:
            self._end()
            return
        if event.key == "tab":
            event = _at(events.Key("enter", None), event.time)
        self._means(self.keys.key(event))

    def on_paste(self, event: events.Paste) -> None:
        """Take what is pasted as if a device typed it."""
        event.stop()
        event.prevent_default()
        for sign in event.text[:LONGEST_PASTE]:
            if not self._shut:
                self._means(self.keys.sign(sign, event.time))

    def on_silence(self, event: Silence) -> None:
        """Decide what silence decides."""
        event.stop()
        if not self._shut:
            self._means(self.keys.silence(event.at_s))

    def _arrow(self, key: str) -> bool:
        line = self.keys.machine.line
        offered = suggested(self.current, line)
        if key in ("up", "down") and offered and line:
            self._picked = max(-1, min(len(offered) - 1, self._picked + (1 if key == "down" else -1)))
        elif key in ("up", "shift+tab"):
            self.go(self.at - 1)
        elif key == "down":
            self.go(self.at + 1)
        elif key == "backspace" and not line and self.current.value:
            self.current.value = ""
        elif key in ("right", "end"):
            picked = offered[max(0, self._picked)] if line and offered else ""
            if self.current.kind != "pin":
                self.keys.machine.begin(picked or line or self.current.refused or self.current.value)
            self._picked = -1
        else:
            return False
        self.refresh(layout=True)
        return True

    def _means(self, intents: tuple[Intent, ...]) -> None:
        for intent in intents:
            self._mean(intent)
        self.refresh(layout=True)

    def _mean(self, intent: Intent) -> None:
        match intent:
            case Typed(text):
                offered = suggested(self.current, text)
                self._take(offered[self._picked] if 0 <= self._picked < len(offered) else text)
            case Chosen(n):
                self._take(self.current.choices[n - 1])
                self._chosen_s = events.Event().time
            case Doubtful():
                self.current.error = "Begun by hand and ended by a device: type or scan it again."
            case Back() if self.at > 0:
                self.go(self.at - 1)
            case _:
                self.post_message(Meant(intent))

    def _take(self, typed: str) -> None:
        if not self._taken(typed.strip()):
            return
        if typed.strip() and self.look is not None and (said := self.look(self.current.key)):
            self.current.error = said
            self.go(self.at)
        elif self.at + 1 < len(self.fields):
            self.go(self.at + 1)
        else:
            self._submit()

    def _taken(self, typed: str) -> bool:
        """Take what was typed, or what stands there; say whether it can be taken."""
        of = self.current
        try:
            of.value, of.error, of.refused = checked(of, typed or of.value), "", ""
        except StoreError as refusal:
            of.error, of.refused = str(refusal), typed
            return False
        self.post_message(self.Taken(of.key, of.value))
        return True

    def _end(self) -> None:
        """Submit from any field, with what is typed there."""
        if self._taken(self.keys.machine.line.strip()):
            self._submit()
        else:
            self.go(self.at)

    def _submit(self) -> None:
        for n, of in enumerate(self.fields):
            try:
                of.value, of.error = checked(of, of.value), ""
            except StoreError as refusal:
                of.error = str(refusal)
                self.go(n)
                return
        self.post_message(self.Submitted(self.values))
        if self.again:
            for of in self.fields:
                of.value = ""
        # What still comes was not meant for the first field of a form that is gone.
        self._shut = not self.again
        self.go(0)

    # ---- drawing ----

    def render(self) -> Text:
        """Draw the fields, what is typed, what may be meant, and what is wrong."""
        width = max(_NARROWEST, self.size.width)
        lines: list[Text] = []
        span = (0, 0)
        for n, of in enumerate(self.fields):
            here = n == self.at and not self._shut
            begin = len(lines)
            line = self.keys.machine.line if here else ""
            shown = shown_in(of, line, here=here, long=self.long)
            lines += itself(of.label, shown, width, here=here, typing=bool(line), whole=here or not self.long)
            lines += below(of, line, width, here=here, long=self.long, picked=self._picked)
            if n == self.at:
                span = (begin, len(lines))
        seen = self._in_sight(lines, *span) if self.scrolls else lines
        text = Text("\n", no_wrap=True).join(seen)
        text.no_wrap = True
        return text

    def _in_sight(self, lines: list[Text], first: int, end: int) -> list[Text]:
        room = max(2, self.size.height)
        if len(lines) <= room:
            return lines
        room -= 1
        top = max(end - room, min(self._top, first))
        self._top = max(0, min(top, first, len(lines) - room))
        return [
            *lines[self._top : self._top + room],
            Text(f"  field {self.at + 1} of {len(self.fields)}", style="bold"),
        ]


def _at(event: events.Key, at_s: float) -> events.Key:
    event.time = at_s
    return event
