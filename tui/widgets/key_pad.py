"""Keys of a screen or a form go through one key machine, with the time at which they were pressed."""

from textual import events
from textual.message_pump import MessagePump
from textual.screen import Screen, ScreenResultType

from tui.guide.keys import Act, Intent, KeyMachine, Mode
from tui.widgets.near import NearCompositor

_PASTED_KEYS = {"\r": "enter", "\n": "ctrl+j", "\t": "tab", "\x7f": "backspace", "\x1b": "escape"}
LONGEST_PASTE = 2000


def machine_key(event: events.Key) -> str:
    """Give a key as the machine wants it: a sign, or a name where it types nothing."""
    typed = event.character
    if typed is not None and len(typed) == 1 and typed.isprintable() and not event.key.startswith("alt+"):
        return typed
    return event.key


class Keys:
    """Feeds a machine from events and lets it know when silence has decided.

    The time of a key is when the terminal sent it, not when the screen came round to it: a slow moment of
    the program must not look like a pause of the hand.
    """

    def __init__(self, owner: MessagePump, machine: KeyMachine | None = None) -> None:
        self.machine = machine or KeyMachine()
        self._owner = owner
        self._waiting = False

    def key(self, event: events.Key) -> tuple[Intent, ...]:
        """Take a key of the terminal."""
        found = self.machine.feed(machine_key(event), event.time)
        self._wait(event.time)
        return found

    def sign(self, sign: str, at_s: float) -> tuple[Intent, ...]:
        """Take one sign of what was pasted: like the line of a device."""
        found = self.machine.feed(_PASTED_KEYS.get(sign, sign), at_s)
        self._wait(at_s)
        return found

    def silence(self, now_s: float) -> tuple[Intent, ...]:
        """Decide what silence decides."""
        return self.machine.tick(now_s)

    def _wait(self, now_s: float) -> None:
        due_s = self.machine.due_s
        if due_s is None or self._waiting:
            return
        self._waiting = True
        self._owner.set_timer(max(0.01, due_s - now_s + 0.005), self._due)

    def _due(self) -> None:
        # Keys that wait in the queue were pressed before this moment: they come first.
        self._owner.call_later(self._decide)

    def _decide(self) -> None:
        self._waiting = False
        now_s = events.Event().time
        if self.machine.due_s is not None and now_s < self.machine.due_s - 1e-9:
            self._wait(now_s)
            return
        self._owner.post_message(Silence(now_s))


class Silence(events.Event, bubble=False):
    """There was silence long enough to decide by."""

    def __init__(self, at_s: float) -> None:
        super().__init__()
        self.at_s = at_s


class KeyPad(Screen[ScreenResultType]):
    """A screen that owns every key. What is on it are views, none of them takes the focus."""

    AUTO_FOCUS = ""

    def __init__(self, *, machine: KeyMachine | None = None, id: str | None = None) -> None:
        super().__init__(id=id)
        self._compositor = NearCompositor()
        self.keys = Keys(self, machine)
        self.pressed_s = 0.0
        """When the last key was pressed: the idle lock counts from it."""

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        return Act()

    def on_intent(self, intent: Intent) -> None:
        """Do what the keys asked for."""

    def typed(self, line: str) -> None:
        """Show what is typed so far."""

    def on_screen_resume(self) -> None:
        """Begin: keys meant for the screen before are not taken."""
        self.keys.machine.hush(events.Event().time)
        self.keys.machine.expect(self.expecting())
        self.typed("")

    def on_key(self, event: events.Key) -> None:
        """Own every key."""
        event.stop()
        event.prevent_default()
        self.pressed_s = event.time
        if self.app.screen is self:
            self._mean(self.keys.key(event))

    def on_paste(self, event: events.Paste) -> None:
        """Own what is pasted."""
        event.stop()
        event.prevent_default()
        self.pressed_s = event.time
        for sign in event.text[:LONGEST_PASTE]:
            if self.app.screen is self:
                self._mean(self.keys.sign(sign, event.time))

    def on_silence(self, event: Silence) -> None:
        """Decide what silence decides."""
        event.stop()
        if self.app.screen is self:
            self._mean(self.keys.silence(event.at_s))

    def _mean(self, intents: tuple[Intent, ...]) -> None:
        for intent in intents:
            self.on_intent(intent)
        self.keys.machine.expect(self.expecting())
        self.typed(self.keys.machine.line)
