"""A framed screen around one form: what it is about above, then the form, which takes the keys."""

from collections.abc import Iterable

from textual.screen import ScreenResultType
from textual.widget import Widget

from tui.screens.frame import Framed
from tui.widgets.entry_form import EntryForm
from tui.widgets.lines import Lines

AGAIN_S = 0.6
"""A glove that presses twice at once does not mean it twice; our own choice."""
DROPS = "Not written yet: - once more drops what was typed, any other key keeps it."


class FormFrame(Framed[ScreenResultType]):
    """A screen whose form has every key; the screen makes the form before it is shown."""

    form: EntryForm
    _asked = (-1, 0.0)
    """Which key asked to leave last, and when it was pressed."""

    def inside(self) -> Iterable[Widget]:
        """Give what it is about, and the form."""
        yield Lines(id="lines")
        yield self.form

    def on_mount(self) -> None:
        """Take keys; the frame's own handler is called beside this one."""
        self.form.focus()

    @property
    def unwritten(self) -> bool:
        """Whether something stands in it that leaving would lose."""
        return self.form.touched

    def leave(self) -> None:
        """Go back; what is not written is dropped only by the same key again, and not by a bounce of it."""
        pressed, pressed_s = self.form.pressed, self.form.pressed_s
        at, at_s = self._asked
        if not self.form.touched or (pressed == at + 1 and pressed_s - at_s >= AGAIN_S):
            super().leave()
            return
        self._asked = (pressed, pressed_s)
        self.say(DROPS)
        self.form.noticed = lambda: self.say("")
